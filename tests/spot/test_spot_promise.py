"""What one frame promises, on spots from two independent simulators (docs/glossary.md).

The whole table is docs/spot_accuracy.md, made by benchmarks/spot_accuracy.py. Here two groups of
200 frames and one of points are held to it: 40 spots of 4 to 8 px, half of them GalSim's, each in
five frames a mosaic with its own phase, sub-pixel place, colours, gain and noise.
"""

import numpy as np
import pytest
from drawn_spots import draw, expose, point
from spot_accuracy import Seen, row

from nightglass.spot.measure import measure_frame

SPOTS, FRAMES = 40, 5

pytestmark = pytest.mark.slow


def seen_of(drawn, rng, mosaic) -> Seen:
    exposed = expose(drawn, rng, mosaic)
    green = next(s for s in measure_frame(exposed.frame).spots if s.colour == "green")
    truth = drawn.truth["green"]
    return Seen(
        (mosaic, 0, "any"),
        drawn.simulator,
        green,
        truth.length_px,
        truth.width_px,
        truth.angle_degrees,
        exposed.centre_px["green"],
    )


def seen_by_mosaic(seed: int, spots: int, frames: int, draw_one) -> dict[str, list[Seen]]:
    """Every spot in frames of both mosaics: drawn once, exposed from the same random numbers."""
    seen: dict[str, list[Seen]] = {"bayer": [], "6x6": []}
    for number in range(spots):
        rng = np.random.default_rng([seed, number])
        drawn = draw_one(rng, ("galsim", "nightglass")[number % 2])
        state = rng.bit_generator.state
        for mosaic, group in seen.items():
            rng.bit_generator.state = state
            group += [seen_of(drawn, rng, mosaic) for _ in range(frames)]
    return seen


@pytest.fixture(scope="module")
def groups() -> dict[str, list[Seen]]:
    """200 frames of each mosaic."""
    return seen_by_mosaic(11, SPOTS, FRAMES, lambda rng, by: draw(rng, by, 4.0, 8.0))


@pytest.fixture(scope="module", params=["bayer", "6x6"])
def group(request, groups) -> list[Seen]:
    return groups[request.param]


@pytest.fixture(scope="module")
def points() -> dict[str, list[Seen]]:
    """60 frames of points of each mosaic."""
    return seen_by_mosaic(12, 60, 1, point)


def test_sizes_keep_the_promise(group):
    got = row(group)
    assert got["frames"] == 200
    # Promised: 95 %. Reached on the 6x6 mosaic in this class: 92 %, a regression value; what
    # misses are lines narrower than a pixel (docs/spot_accuracy.md says so).
    assert got["kept"] >= (0.95 if group[0].group[0] == "bayer" else 0.91)
    assert abs(got["bias"]) < 0.1


def test_error_bars_are_true(group):
    got = row(group)
    assert abs(got["pull"]) <= 0.3
    assert 0.58 <= got["in1"] <= 0.78
    assert got["out2"] <= 0.09
    assert got["out3"] <= 0.02


def test_half_of_the_spots_are_another_simulators(group):
    assert sum(s.simulator == "galsim" for s in group) == 100


@pytest.mark.parametrize("mosaic", ["bayer", "6x6"])
def test_points_are_at_limit_and_their_bounds_hold(points, mosaic):
    frames = points[mosaic]
    assert all(s.spot.length_px is None for s in frames)
    bounded = [s for s in frames if s.spot.length_at_most_px is not None]
    # A point that falls wholly on one red or blue pixel can leave green too faint to bound.
    assert len(bounded) >= 0.95 * len(frames)
    bounds = [s.spot.length_at_most_px for s in bounded]
    held = [bound >= s.length_px for bound, s in zip(bounds, bounded, strict=True)]
    assert np.mean(held) >= 0.95
    assert max(bounds) <= 4.5
