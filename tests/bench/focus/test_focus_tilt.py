"""A tilt of the plane of best focus: planted slopes come back, sound lenses seldom show one."""

import math

import numpy as np
import pytest

from nightglass.bench.focus.records import BestFocus, FocusCurve, PlaceSeries, PositionSource, Value
from nightglass.bench.focus.tilt import tilt_of
from nightglass.gear.lens import LensSetting

WREN = LensSetting("Loan body", "Wren", 12, 2.8)
ERR, CURVATURE = 0.06, 1.4
CORNERS = {"top left": 214.0, "top right": 326.0, "bottom right": 34.0, "bottom left": 146.0}


def place(name, radius, azimuth, best, um_per_mark=None):
    curve = FocusCurve(Value(best, ERR), Value(5, 0.1), 2.0, 2.0, 1.0, 3, ())
    return PlaceSeries(
        "wren focus", WREN, name, radius, azimuth % 180, radius < 0.15, PositionSource.MARKS, (),
        best=BestFocus(Value(best, ERR), Value(5, 0.1), (curve, curve)),
        um_per_mark=um_per_mark, azimuth_degrees=azimuth,
    )  # fmt: skip


def frame(rng, slope=0.0, toward=0.0, radii=0.88, corners=CORNERS):
    """A centre and corners, aims 2 % off, best focus on a bowl and a slope, with noise."""
    places = [place("centre", 0.02, 10.0, 4.0 + rng.normal(0, ERR), 42.0)]
    for name, azimuth in corners.items():
        radius, turn = radii + rng.normal(0, 0.02), azimuth + rng.normal(0, 1.5)
        along = radius * math.cos(math.radians(turn - toward))
        best = 4.0 + CURVATURE * radius**2 + slope * along + rng.normal(0, ERR)
        places.append(place(name, radius, turn, best))
    return places


def test_a_planted_slope_comes_back_with_its_direction_and_its_angle():
    rng = np.random.default_rng(3)
    tilts = [tilt_of(frame(rng, 0.9, 250.0), CURVATURE, 14_000.0) for _ in range(100)]
    size = np.array([(t.marks.value - 0.9) / t.marks.err for t in tilts])
    side = np.array(
        [((t.toward_degrees.value - 250.0 + 180) % 360 - 180) / t.toward_degrees.err for t in tilts]
    )
    for pulls in (size, side):
        assert abs(np.median(pulls)) < 0.3
        # A normal law has 95 % within two errors; three standard deviations of 100 draws less.
        assert np.mean(abs(pulls) < 2) > 0.88
    tilt = tilts[0]
    assert tilt.found
    assert set(tilt.places) == set(CORNERS)
    assert tilt.plane_degrees.value == pytest.approx(
        math.degrees(tilt.marks.value * 42.0 / 14_000.0), rel=1e-6
    )


def test_sound_lenses_seldom_show_a_tilt_and_tilted_ones_mostly_do():
    rng = np.random.default_rng(8)
    sound = [tilt_of(frame(rng), CURVATURE, None).found for _ in range(300)]
    # 5 % of 300, three standard deviations of their count.
    assert sum(sound) < 15 + 3 * math.sqrt(300 * 0.05 * 0.95)
    tilted = [tilt_of(frame(rng, 0.4, 30.0), CURVATURE, None).found for _ in range(60)]
    assert sum(tilted) > 54


@pytest.mark.parametrize(
    "corners",
    [{"top left": 214.0, "bottom right": 34.0}, {}, {"top left": 214.0}],
    ids=["two opposite", "none", "one"],
)
def test_places_on_a_line_show_no_tilt(corners):
    assert tilt_of(frame(np.random.default_rng(1), 0.9, corners=corners), CURVATURE, None) is None


def test_without_a_travel_there_is_no_angle():
    places = frame(np.random.default_rng(3), 0.9)[1:]
    assert tilt_of(places, 0.0, 14_000.0).plane_degrees is None
