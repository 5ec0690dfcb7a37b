"""Known faults of general-purpose libraries around finding and measuring: see LIMITS.md."""

import ast
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from conftest_spot import Star
from drawn_spots import MOSAICS

import nightglass
from nightglass.frame.record import Frame
from nightglass.optics import compiled as compiled_module
from nightglass.spot.measure import measure_frame


def grey(measured):
    """Return the only record of a grey frame."""
    return measured.spots[0]


@pytest.mark.parametrize("sigma", [0.8, 1.2, 2.0, 4.0])
def test_small_spots_do_not_read_too_large(make_frame, sigma):
    # M05: shapes taken from a smoothed image make every sharp lens look soft.
    star = Star(sigma_x=sigma, sigma_y=sigma)
    spot = grey(measure_frame(make_frame(star, mosaic="grey")))
    assert spot.length_px == pytest.approx(star.lengths[0], rel=0.05)


def test_broad_glow_hides_no_star(make_frame):
    # M01, M02: a background above the threshold fills another library's pixel stack.
    def glow(counts):
        rows, columns = np.indices(counts.shape)
        counts += 3000 * np.exp(-((rows - 100) ** 2 + (columns - 60) ** 2) / (2 * 120**2))

    spot = measure_frame(make_frame(Star(), spoil=glow)).spots[1]
    assert (spot.x_px, spot.y_px) == pytest.approx((121.37, 88.61), abs=0.3)


def test_layout_of_the_samples_does_not_matter(make_frame):
    # M03: strided and column-major arrays.
    frame = make_frame(Star())
    wide = np.zeros((210, 480), dtype=np.uint16)
    wide[:, ::2] = frame.samples
    plain = measure_frame(frame).spots[1]
    for samples in (np.asfortranarray(frame.samples), wide[:, ::2]):
        assert measure_frame(replace(frame, samples=samples)).spots[1] == plain


@pytest.mark.parametrize("seed", range(12))
def test_noise_alone_gives_no_place(make_frame, seed):
    # M09, M11: nothing found is a record with a reason; never a place outside the frame.
    for spot in measure_frame(make_frame(seed=seed)).spots:
        assert spot.x_px is None
        assert spot.flags == ("lost",)


def test_a_brighter_neighbour_does_not_take_a_stated_star_silently(make_frame):
    # M04: a centre that walks to a neighbour 40 times as bright.
    faint, bright = Star(x=60.3, peak=200.0), Star(x=150.6, peak=8000.0)
    spot = measure_frame(make_frame(faint, bright), near=(60.0, 88.0)).spots[1]
    assert (spot.x_px, spot.y_px) == pytest.approx((faint.x, faint.y), abs=0.5)


def test_start_without_a_place_for_the_compilers_cache(monkeypatch):
    # M18: a cache that can't be written must not stop the start.
    asked = []

    def stubborn(cache):
        asked.append(cache)
        if cache:
            raise RuntimeError("cannot cache function: no locator available")
        return lambda loop: loop

    monkeypatch.setattr(compiled_module, "njit", lambda cache, **rest: stubborn(cache))
    assert compiled_module.compiled(len)([1, 2]) == 2
    assert asked == [True, False]


def test_no_loop_is_parallel():
    # M19: parallel loops called from two threads abort the process.
    for path in Path(nightglass.__file__).parent.rglob("*.py"):
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            if isinstance(node, ast.keyword) and node.arg == "parallel":
                pytest.fail(f"{path.name}:{node.value.lineno} compiles a parallel loop")


@pytest.mark.filterwarnings("error")
def test_a_plane_without_light_gives_no_warning():
    """Linear raw whose red lies in noise: the centre of that noise may fall outside its circle."""
    y, x = np.mgrid[:120, :150]
    light = 3000 * np.exp(-((x - 70.3) ** 2 + (y - 60.6) ** 2) / (2 * 1.5**2))
    for seed in range(6):
        noise = np.random.default_rng(seed).normal(1000, 20, (120, 150, 3))
        samples = noise + light[..., None] * np.array([0.0, 1.0, 1.0])
        frame = Frame(
            samples=samples.round().astype(np.uint16),
            pattern=np.zeros((1, 1), dtype=np.uint8),
            black=np.zeros((1, 3)),
            clipping=np.full((1, 3), 16383.0),
            kind="demosaiced",
        )
        red, green, _ = measure_frame(frame).spots
        assert "faint" in red.flags
        assert red.length_px is None
        assert green.length_px is not None


@pytest.mark.parametrize("sigma", [0.25, 0.35])
@pytest.mark.parametrize("colour", [0, 1, 2])
def test_a_sharp_pixel_of_a_six_by_six_mosaic_is_at_limit_where_it_stands(
    make_frame, sigma, colour
):
    """Its colours are seen where their next samples stand: no offset of the lens's."""
    for phase in ((0, 0), (1, 3), (4, 2), (3, 5), (2, 1)):
        pattern = np.roll(MOSAICS["6x6"], phase, (0, 1))
        row, column = np.argwhere(pattern == colour)[0]
        star = Star(x=120.0 + column, y=90.0 + row, sigma_x=sigma, sigma_y=sigma)
        share = 0.58 * 15871 / (star.peak * star.levels[colour])
        bright = replace(star, peak=star.peak * share)
        spot = measure_frame(make_frame(bright, mosaic="6x6", phase=phase)).spots[1]
        assert "at limit" in spot.flags
        assert "faint" not in spot.flags
        assert spot.length_at_most_px is not None
        assert (spot.x_px, spot.y_px) == pytest.approx((star.x, star.y), abs=0.7)


def test_a_colour_too_weak_to_hold_its_place_is_faint(make_frame):
    # A point that lies wholly on red leaves green nothing but noise to follow.
    for seed in range(6):
        star = Star(x=120.0, y=88.0, sigma_x=0.2, sigma_y=0.2, levels=(1.0, 0.0, 0.0))
        measured = measure_frame(make_frame(star, seed=seed))
        assert measured.spots[1].length_px is None
        assert {"faint", "at limit", "not a star"} & set(measured.spots[1].flags)
