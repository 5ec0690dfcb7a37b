"""The wavefront of a pupil and the spot it makes, against closed forms and general libraries."""

from __future__ import annotations

import math

import galsim
import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from prysm.polynomials import noll_to_nm, zernike_nm

from nightglass.optics.extent import encircled, extent, span
from nightglass.optics.wavefront import (
    Pupil,
    blurred,
    defocus_um,
    mixed_spot,
    noll_indices,
    opening,
    samples_needed,
    seidel,
    spot,
    steepest_um,
    strehl,
    wavefront_um,
    zernike,
)

GREEN_UM = 0.55


def disc_grid(across: int) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    axis = (np.arange(across) + 0.5) * 2 / across - 1
    x, y = np.meshgrid(axis, axis)
    return x, y, np.hypot(x, y) <= 1


# Order of Noll 1976, J. Opt. Soc. Am. 66, 207, as the public documentation of a Zernike crate
# prints it.
@pytest.mark.parametrize(
    ("j", "nm"),
    [
        (4, (2, 0)),
        (5, (2, -2)),
        (6, (2, 2)),
        (7, (3, -1)),
        (8, (3, 1)),
        (9, (3, -3)),
        (10, (3, 3)),
        (11, (4, 0)),
    ],
)
def test_the_order_is_nolls(j: int, nm: tuple[int, int]) -> None:
    assert noll_indices(j) == nm


@pytest.mark.parametrize("j", range(1, 37))
def test_order_and_polynomials_agree_with_prysm(j: int) -> None:
    n, m = noll_indices(j)
    assert (n, m) == tuple(int(v) for v in noll_to_nm(j))
    x, y, inside = disc_grid(64)
    theirs = zernike_nm(n, m, np.hypot(x, y), np.arctan2(y, x), norm=True)
    assert np.max(np.abs(zernike(j, x, y) - theirs)[inside]) < 1e-9


@pytest.mark.parametrize("j", range(2, 16))
def test_each_polynomial_has_an_rms_of_one(j: int) -> None:
    x, y, inside = disc_grid(600)
    assert np.sqrt(np.mean(zernike(j, x, y)[inside] ** 2)) == pytest.approx(1, abs=0.003)


def test_normalisers_are_the_published_ones() -> None:
    # Noll 1976: 2 r cos t, sqrt 3 (2r^2 - 1), sqrt 6 r^2 cos 2t, sqrt 8 (3r^3 - 2r) cos t,
    # sqrt 5 (6r^4 - 6r^2 + 1); all are the normaliser at r = 1, t = 0.
    x, y = np.array([1.0]), np.array([0.0])
    found = [float(zernike(j, x, y)[0]) for j in (2, 4, 6, 8, 11)]
    assert found == pytest.approx([2, math.sqrt(3), math.sqrt(6), math.sqrt(8), math.sqrt(5)])


def test_a_noll_number_below_one_is_refused() -> None:
    with pytest.raises(ValueError, match="Noll number 0 does not exist; numbers start at 1"):
        noll_indices(0)


def smallest_rms(power: np.ndarray, *balancing: np.ndarray) -> float:
    """Rms over the disc of what least squares with piston and the balancing terms leaves."""
    terms = np.column_stack([np.ones(power.size), *balancing])
    weights = np.sqrt(DISC_WEIGHTS)
    fit, *_ = np.linalg.lstsq(terms * weights[:, None], power * weights)
    return float(np.sqrt(DISC_WEIGHTS @ (power - terms @ fit) ** 2))


# Exact for these powers: Gauss's nodes in r^2, even steps in t.
NODES, NODE_WEIGHTS = np.polynomial.legendre.leggauss(8)
DISC_R = np.repeat(np.sqrt((NODES + 1) / 2), 16)
DISC_T = np.tile(np.arange(16) * math.pi / 8, 8)
DISC_WEIGHTS = np.repeat(NODE_WEIGHTS / 32, 16)


# Worked out over the disc, alone and balanced by defocus or tilt; the closed forms are 2 / (3 root
# 5), 1 / (2 root 2), 1/4 and 1 over the roots of 180, 72 and 24.
@pytest.mark.parametrize(
    ("term", "power", "balanced_by", "balance", "alone", "balanced"),
    [
        ("w040_um", DISC_R**4, (4,), (DISC_R**2,), 2 / (3 * math.sqrt(5)), 180),
        (
            "w131_um",
            DISC_R**3 * np.cos(DISC_T),
            (2, 3),
            (DISC_R * np.cos(DISC_T), DISC_R * np.sin(DISC_T)),
            1 / (2 * math.sqrt(2)),
            72,
        ),
        ("w222_um", (DISC_R * np.cos(DISC_T)) ** 2, (4,), (DISC_R**2,), 1 / 4, 24),
    ],
)
def test_seidel_terms_have_the_rms_of_their_powers(
    term: str,
    power: np.ndarray,
    balanced_by: tuple[int, ...],
    balance: tuple[np.ndarray, ...],
    alone: float,
    balanced: int,
) -> None:
    def rms(leave_out: tuple[int, ...]) -> float:
        found = seidel(**{term: 1.0})
        return math.sqrt(sum(c * c for j, c in found.items() if j not in leave_out))

    assert rms(()) == pytest.approx(smallest_rms(power)) == pytest.approx(alone)
    assert rms(balanced_by) == pytest.approx(smallest_rms(power, *balance))
    assert rms(balanced_by) == pytest.approx(1 / math.sqrt(balanced))


def test_seidel_terms_are_the_powers_they_stand_for() -> None:
    x, y = np.array([0.3, -0.5, 0.1]), np.array([0.4, 0.2, -0.7])
    azimuth = 30.0
    r, t = np.hypot(x, y), np.arctan2(y, x) - math.radians(azimuth)
    wanted = 0.7 * r**2 + 1.1 * r**4 - 0.6 * r**3 * np.cos(t) + 0.9 * (r * np.cos(t)) ** 2
    found = wavefront_um(seidel(0.7, 1.1, -0.6, 0.9, azimuth), x, y)
    assert np.ptp(found - wanted) < 1e-12  # equal up to piston


# Exact Strehl ratios: pupil integral of Zernike modes, computed with GalSim on 512 x 512.
@pytest.mark.parametrize(("j", "expected"), [(4, 0.8142), (11, 0.8154), (8, 0.8164), (6, 0.8168)])
def test_strehl_at_a_fourteenth_of_a_wave(j: int, expected: float) -> None:
    assert strehl(Pupil(2.0, {j: GREEN_UM / 14}), GREEN_UM) == pytest.approx(expected, abs=5e-4)


def test_strehl_of_defocus() -> None:
    # rms 0.05 wave: 0.9052 (GalSim); a quarter wave (Rayleigh criterion): sinc^2(1/4).
    assert strehl(Pupil(2.0, {4: 0.05 * GREEN_UM}), GREEN_UM) == pytest.approx(0.9052, abs=5e-4)
    quarter = seidel(w020_um=GREEN_UM / 4)
    assert quarter[4] / GREEN_UM == pytest.approx(0.072169, abs=1e-6)
    assert strehl(Pupil(2.0, quarter), GREEN_UM) == pytest.approx(0.810569, abs=2e-4)
    # The same focus error on the sensor: 2 lambda N^2 = 4.4 um at f/2.
    assert defocus_um(4.4, 2.0) == pytest.approx(quarter[4])


# Airy disc: width from the documentation of photutils (AiryDiskPSF), first dark ring from that of
# astropy (AiryDisk2D).
@pytest.mark.parametrize("f_number", [1.4, 2.8, 8.0])
def test_a_perfect_lens_makes_an_airy_disc(f_number: float) -> None:
    unit = GREEN_UM * f_number
    step, samples = unit / 16, 4096
    light = spot(Pupil(f_number), GREEN_UM, step, samples).astype(float)
    middle = samples // 2
    row = light[middle, middle:] / light[middle, middle]
    half = np.interp(-0.5, -row[:20], np.arange(20)) * step
    assert 2 * half == pytest.approx(1.028994 * unit, rel=2e-3)
    dark = np.argmin(row[10:26]) + 10
    assert dark * step == pytest.approx(1.219670 * unit, abs=step)
    centre = (middle * step, middle * step)
    # Energy inside the first dark ring 0.837785; EE50 and EE80 diameters 1.06966, 1.79388.
    ee50, ee80 = encircled(light, step, centre, 100 * unit, (0.5, 0.8))
    # The circle of 100 units holds all but 0.2 / 100 of the light.
    assert ee50 == pytest.approx(1.06966 * unit, rel=0.012, abs=0.02)
    assert ee80 == pytest.approx(1.79388 * unit, rel=0.012, abs=0.02)
    y, x = np.indices(light.shape) - middle
    inside = np.hypot(x, y) * step <= 1.219670 * unit
    assert light[inside].sum() == pytest.approx(0.837785, abs=0.002)


def test_a_defocused_lens_makes_an_even_disc_in_the_geometric_limit() -> None:
    # dz = 20 um at f/1.8: diameter dz/N = 11.111 um (thin-lens geometry); rms D/sqrt 8 = 3.928 um
    # across both axes, sigma of one axis D/4; 5-95 % of one axis 0.805384 D (semicircle law).
    for focus_um, f_number, tolerance in ((200.0, 1.8, 0.01), (496.0, 1.4, 0.003)):
        pupil = Pupil(f_number, {4: defocus_um(focus_um, f_number)})
        step = 0.5 * GREEN_UM * f_number
        samples = samples_needed(pupil, step, 40.0)
        light = spot(pupil, GREEN_UM, step, samples).astype(float)
        diameter = focus_um / f_number
        centre = (samples // 2 * step, samples // 2 * step)
        length = span(light, step, centre, diameter * 0.7, 0.3)
        assert length == pytest.approx(0.805384 * diameter, rel=tolerance)


def test_rays_take_over_where_light_and_rays_agree(monkeypatch: pytest.MonkeyPatch) -> None:
    pupil = Pupil(2.0, {4: 4.0, 8: 1.5, 10: 1.0})
    samples = samples_needed(pupil, 0.5, 25.0)
    waves = blurred(spot(pupil, GREEN_UM, 0.5, samples, (1.3, -2.2)), 0.5, 6.0)
    monkeypatch.setattr("nightglass.optics.wavefront.STEEPEST_COHERENT_WAVES", 0.0)
    rays = blurred(spot(pupil, GREEN_UM, 0.5, samples, (1.3, -2.2)), 0.5, 6.0)
    assert rays.sum() == pytest.approx(waves.sum(), rel=5e-3)
    a, b = extent(waves, 0.5 / 6), extent(rays, 0.5 / 6)
    assert (a.x_px, a.y_px) == pytest.approx((b.x_px, b.y_px), abs=0.1)
    assert a.length_px == pytest.approx(b.length_px, rel=0.01)
    assert a.width_px == pytest.approx(b.width_px, rel=0.01)
    turn = (a.angle_degrees - b.angle_degrees + 90) % 180 - 90
    assert abs(turn) < 1.0


def test_the_spot_of_mixed_aberrations_agrees_with_galsim() -> None:
    # GalSim's OpticalPSF: Noll coefficients in waves; its pupil plane is turned by 180 degrees
    # against ours, so that its image is ours mirrored in both axes or not at all.
    waves = {4: 0.4, 5: -0.3, 7: 0.25, 8: 0.35, 10: 0.2, 11: -0.15}
    f_number, step, samples = 2.0, 0.25, 192
    ours = spot(
        Pupil(f_number, {j: w * GREEN_UM for j, w in waves.items()}), GREEN_UM, step, samples
    )
    coefficients = [waves.get(j, 0.0) for j in range(16)]
    profile = galsim.OpticalPSF(
        lam_over_diam=GREEN_UM * f_number,
        aberrations=coefficients,
        oversampling=2,
        pad_factor=4,
    )
    theirs = profile.drawImage(nx=samples - 1, ny=samples - 1, scale=step, method="sb").array
    theirs = theirs * step**2
    mine = ours[1:, 1:]
    errors = [np.abs(mine - t).max() / mine.max() for t in (theirs, theirs[::-1, ::-1])]
    assert min(errors) < 0.02


@settings(max_examples=20, deadline=None)
@given(
    st.floats(-3, 3),
    st.floats(-3, 3),
    st.dictionaries(st.integers(4, 15), st.floats(-0.4, 0.4), max_size=4),
)
def test_the_centre_of_light_moves_by_the_shift(
    dx_um: float, dy_um: float, terms: dict[int, float]
) -> None:
    pupil = Pupil(2.2, terms)
    samples = samples_needed(pupil, 0.5, 60.0)
    index = np.arange(samples)

    def centre(shift_um: tuple[float, float]) -> tuple[float, float]:
        light = spot(pupil, GREEN_UM, 0.5, samples, shift_um).astype(float)
        assert light.sum() == pytest.approx(1, abs=0.01)
        box = np.abs(index - samples // 2) < samples // 3
        light = light[box][:, box]
        return (
            float(light.sum(0) @ index[box] / light.sum()) * 0.5,
            float(light.sum(1) @ index[box] / light.sum()) * 0.5,
        )

    still, moved = centre((0.0, 0.0)), centre((dx_um, dy_um))
    assert moved[0] - still[0] == pytest.approx(dx_um, abs=0.1)
    assert moved[1] - still[1] == pytest.approx(dy_um, abs=0.1)


def test_a_tilt_moves_the_light_where_the_docstring_says() -> None:
    # x = 2 N dW/dx: W = a x with a = 3 um at f/2 is 12 um to the right.
    light = spot(Pupil(2.0, {2: 1.5}), GREEN_UM, 0.5, 128)
    assert np.unravel_index(light.argmax(), light.shape) == (64, 64 + 24)


def test_a_cats_eye_lets_the_overlap_of_two_discs_pass() -> None:
    d = 0.7  # overlap of two unit discs: 2 acos(d/2) - d/2 sqrt(4 - d^2), textbook geometry
    pupil = Pupil(2.0, cut_shift=(0.0, d))
    overlap = 2 * math.acos(d / 2) - d / 2 * math.sqrt(4 - d * d)
    light = spot(pupil, GREEN_UM, 0.5, 256)
    assert light.sum() == pytest.approx(overlap / math.pi, rel=0.01)
    x, y, _ = disc_grid(400)
    assert opening(pupil, x, y, 1 / 200).mean() * 4 == pytest.approx(overlap, rel=2e-3)
    with pytest.raises(ValueError, match="leaves no opening; keep its length under"):
        Pupil(2.0, cut_shift=(2.0, 0.5))


def test_blur_by_pixel_and_source_adds_their_variances() -> None:
    # Square of side p: p^2/12 an axis; even disc of diameter d: d^2/16.
    light = np.zeros((96, 96), dtype=np.float32)
    axis = np.arange(96) - 48
    light[:] = np.exp(-(axis[:, None] ** 2 + axis[None, :] ** 2) / (2 * 4.0**2))
    seen = blurred(light, 0.5, 6.0, 8.0)
    assert seen.sum() == pytest.approx(light.sum(), rel=1e-5)
    variance = float(seen.sum(0) @ (axis * 0.5) ** 2 / seen.sum())
    assert variance == pytest.approx(2.0**2 + 6.0**2 / 12 + 8.0**2 / 16, rel=1e-3)
    assert light.max() == 1  # the input stays unchanged


def test_wavelengths_add_as_light() -> None:
    pupil = Pupil(2.0, {8: 0.3})
    one, other = (spot(pupil, w, 0.4, 128) for w in (0.5, 0.6))
    assert np.allclose(mixed_spot(pupil, (0.5, 0.6), 0.4, 128), (one + other) / 2)
    with pytest.raises(ValueError, match="wavelengths_um is empty; give at least one"):
        mixed_spot(pupil, (), 0.4, 128)


def test_a_step_that_aliases_is_refused() -> None:
    with pytest.raises(ValueError, match=r"must be 0\.385 or less, or the light aliases"):
        spot(Pupil(1.4), GREEN_UM, 0.5, 64)
    with pytest.raises(ValueError, match="f_number is 0; it must be above 0"):
        Pupil(0)


def test_the_steepest_slope_of_a_defocus() -> None:
    # W = w r^2 has the slope 2 w at the rim.
    assert steepest_um(Pupil(2.0, seidel(w020_um=3.0))) == pytest.approx(6.0, rel=0.05)
