"""Spots drawn along trails by products of waves, against fast transforms of whole pictures."""

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from nightglass.verdict.view import kept
from nightglass.verdict.view.drawn import log_peaks, tops_and_squares, waves_in_view


def a_spot(rows: int, columns: int, seed: int) -> np.ndarray:
    """Two blobs and noise: lopsided, off the middle, partly below 0."""
    rng = np.random.default_rng(seed)
    y, x = np.mgrid[:rows, :columns].astype(float)
    spot = rng.normal(0, 0.01, (rows, columns))
    for weight in (1.0, rng.uniform(0.1, 0.9)):
        cx, cy = rng.uniform(0.3, 0.7) * columns, rng.uniform(0.3, 0.7) * rows
        sx, sy = rng.uniform(0.8, 3.0, 2)
        spot += weight * np.exp(-0.5 * (((x - cx) / sx) ** 2 + ((y - cy) / sy) ** 2))
    return spot


def folded(spot: np.ndarray, period: int) -> np.ndarray:
    """One period of the spot repeated for ever, sample by sample."""
    whole = np.zeros((period, period))
    for (y, x), light in np.ndenumerate(spot / spot.sum()):
        whole[y % period, x % period] += light
    return whole


def picture(spot, sigma, period, samples, reach, trail, angle) -> np.ndarray:
    """The whole picture, by numpy's fast transforms."""
    light = np.fft.fft2(folded(spot, period))
    spectrum = np.zeros((samples, samples), dtype=complex)
    for k in range(-reach, reach + 1):
        for m in range(-reach, reach + 1):
            fy, fx = k / period, m / period
            eye = math.exp(-2 * (math.pi * sigma) ** 2 * (fx * fx + fy * fy))
            line = np.sinc(trail * (fx * math.cos(angle) + fy * math.sin(angle)))
            spectrum[k % samples, m % samples] = light[k % period, m % period] * eye * line
    return np.fft.ifft2(spectrum).real * (samples / period) ** 2


@given(
    rows=st.integers(7, 25),
    columns=st.integers(7, 25),
    seed=st.integers(0, 10_000),
    sigma=st.floats(0.8, 3.0),
    period=st.integers(15, 40),
    trail=st.floats(0.0, 12.0),
    degrees=st.floats(-200.0, 400.0),
)
@settings(max_examples=40, deadline=None)
def test_tops_and_squares_are_those_of_the_whole_picture(
    rows, columns, seed, sigma, period, trail, degrees
):
    spot = a_spot(rows, columns, seed)
    samples = 2 * math.ceil(period / max(0.8 * sigma, 0.9) / 2)
    reach = min(samples // 2 - 1, (period - 1) // 2)
    waves = waves_in_view(spot, sigma, period, reach)
    trails, angles = np.array([trail, 0.0]), np.array([degrees, 90.0])
    tops, squares = tops_and_squares(waves, samples, trails, angles)
    for n in range(2):
        angle = math.radians(angles[n])
        whole = picture(spot, sigma, period, samples, reach, trails[n], angle)
        y, x = np.unravel_index(whole.argmax(), whole.shape)
        around = np.roll(whole, (1 - y, 1 - x), axis=(0, 1))[:3, :3]
        assert tops[n] == pytest.approx(around, rel=1e-9, abs=1e-12)
        assert squares[n] == pytest.approx((whole**2).sum(), rel=1e-9)


def test_many_trails_at_once_are_each_drawn_as_alone():
    """More trails than are drawn in one go."""
    rng = np.random.default_rng(4)
    waves = waves_in_view(a_spot(31, 27, 8), 1.1, 48, 23)
    trails, angles = rng.uniform(0, 9, 70), rng.uniform(0, 180, 70)
    tops, squares = tops_and_squares(waves, 54, trails, angles)
    for n in range(70):
        alone = tops_and_squares(waves, 54, trails[n : n + 1], angles[n : n + 1])
        assert tops[n] == pytest.approx(alone[0][0], rel=1e-12)
        assert squares[n] == pytest.approx(alone[1][0], rel=1e-12)


def test_the_waves_of_a_point_are_those_of_the_eye():
    point = np.zeros((5, 7))
    point[0, 0] = 3.0
    waves = waves_in_view(point, 1.5, 20, 6)
    f = np.arange(7) / 20
    eye = np.exp(-2 * (math.pi * 1.5 * f) ** 2)
    twice = np.where(f > 0, 2.0, 1.0)
    assert waves.above[0] == pytest.approx(eye[:, None] * eye * twice / 400, rel=1e-12)
    assert waves.above[1] == pytest.approx(0.0, abs=1e-15)
    assert waves.below[0][0] == pytest.approx(0.0)
    assert waves.below[0][1:] == pytest.approx(waves.above[0][1:], rel=1e-12)


@given(
    x=st.floats(-0.5, 0.5),
    y=st.floats(-0.5, 0.5),
    wide=st.floats(0.9, 2.0),
    narrow=st.floats(0.9, 2.0),
    turn=st.floats(-0.5, 0.5),
)
def test_the_peak_of_a_gaussian_is_found_between_samples(x, y, wide, narrow, turn):
    """Its logarithm is a parabola: the answer is exact wherever the peak lies near the middle."""
    dy, dx = np.mgrid[-1:2, -1:2]
    u, v = (dx - x) / wide, (dy - y) / narrow
    tops = 0.7 * np.exp(-0.5 * (u * u + v * v + 2 * turn * u * v))
    assert log_peaks(tops[None])[0] == pytest.approx(math.log(0.7), abs=1e-12)


def test_on_a_saddle_the_peak_lies_within_half_a_step():
    """ln rises by x^2 / 2 along x and falls along y: highest at the box's sides, 1/8 above."""
    dy, dx = np.mgrid[-1:2, -1:2].astype(float)
    tops = np.exp((dx**2 - dy**2) / 2)
    assert log_peaks(tops[None])[0] == pytest.approx(0.125, abs=1e-12)
    assert log_peaks(np.full((1, 3, 3), 0.3))[0] == pytest.approx(math.log(0.3), abs=1e-12)


@given(seed=st.integers(0, 10_000), shortest=st.floats(0, 8), spread=st.floats(0, 6))
@settings(max_examples=20, deadline=None)
def test_between_the_drawn_trails_both_polynomials_are_those_of_numpy(seed, shortest, spread):
    """Through 4 lengths the cubic, through 8 angles the waves up to the fourth: fitted plainly."""
    rng = np.random.default_rng(seed)
    spot = a_spot(19, 21, seed)
    trails = np.concatenate(
        [[shortest, shortest + spread], rng.uniform(shortest, shortest + spread, 5)]
    )
    angles = rng.uniform(-180, 360, trails.size)
    found = kept.peaks_kept(spot, 1.2, trails, angles)
    longest = float(trails.max())
    turns = np.cos(math.pi * (np.arange(4) + 0.5) / 4)
    nodes = shortest + max(longest - shortest, 1e-3) * (1 - turns) / 2
    at = np.arange(8) * 22.5
    drawn = kept._drawn(spot, 1.2, longest, np.repeat(nodes, 8), np.tile(at, 4))
    for k, (trail, angle) in enumerate(zip(trails, angles, strict=True)):
        share = [math.prod((trail - o) / (node - o) for o in nodes if o != node) for node in nodes]
        over_angles = [
            (1 + math.cos(8 * a) + 2 * sum(math.cos(2 * m * a) for m in (1, 2, 3))) / 8
            for a in np.radians(angle - at)
        ]
        plain = np.outer(share, over_angles).ravel() @ drawn.log_peak
        assert found.log_peak[k] == pytest.approx(plain, rel=1e-9, abs=1e-9)
