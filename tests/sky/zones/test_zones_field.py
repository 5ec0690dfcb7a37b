"""Centre, edges, corners, sides and light of a frame from zones with planted values."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest

from nightglass.frame.record import Frame
from nightglass.show.sky.words.field import (
    ZONE_REASONS,
    colour_numbers,
    falloff_words,
    hint_words,
    lean_number,
    lean_words,
    reading_words,
    trail_words,
    uneven_words,
    unknown_words,
    verdict_words,
    zone_name,
)
from nightglass.show.sky.words.motion import shutter_words
from nightglass.sky.astrometry.camera import look_at, plain_camera
from nightglass.sky.astrometry.matching import Fit, Match
from nightglass.sky.astrometry.refine import Solution
from nightglass.sky.photometry.codes import LimitSource, NoiseSource
from nightglass.sky.photometry.conditions import Night
from nightglass.sky.stars.find import find_stars
from nightglass.sky.zones.codes import MotionKind, ZoneReason
from nightglass.sky.zones.field import Falloff, compared, read_field
from nightglass.sky.zones.field_hints import turn_of
from nightglass.sky.zones.motion import Motion
from nightglass.sky.zones.shutter import shutter_hint
from nightglass.sky.zones.typical import typical_stars
from nightglass.sky.zones.zone import Zone

SIZE = (6000, 4000)


def zone(row, column, length, err=0.1, ratio=0.7):
    x, y = (column + 0.5) * 1200 - 0.5, (row + 0.5) * 4000 / 3 - 0.5
    radius = math.hypot(x - 2999.5, y - 1999.5) / math.hypot(3000, 2000)
    return Zone(row, column, x, y, radius, 40, 1, length, err, ratio * length, err * ratio, 10, 20)


def field(length_at, err=0.1, missing=(), ratio=0.7):
    """Field of zones whose length is length_at(field radius, row, column)."""
    zones = []
    for row, column in np.ndindex(3, 5):
        found = zone(row, column, 1.0, err, ratio)
        length = length_at(found.field_radius, row, column)
        found = zone(row, column, length, err, ratio)
        if (row, column) in missing:
            found = replace(found, length_px=None, width_px=None, reason=ZoneReason.TOO_FEW_STARS)
        zones.append(found)
    return read_field(Motion(tuple(zones), (0, 0), (0.1, 0.1), MotionKind.TRIPOD), None, *SIZE)


def test_readings_are_the_means_of_their_zones():
    found = field(lambda q, r, c: 3 + 4 * q * q)
    centre, edges, corners = found.readings
    assert (centre.zones, edges.zones, corners.zones) == (1, 10, 4)
    assert centre.length_px == pytest.approx(3.0)
    group = [z.length_px for z in found.zones if 0.3 <= z.field_radius < 0.7]
    assert edges.length_px == pytest.approx(np.mean(group))
    assert (edges.least_px, edges.most_px) == (min(group), max(group))
    # 0.1 / sqrt(10) would leave out what is common to all zones: half of a zone's error stays.
    assert edges.length_px_err == pytest.approx(0.05)
    assert centre.length_px_err == pytest.approx(0.1)
    assert found.percent == pytest.approx(0.025)
    assert reading_words(centre, found.percent) == "0.075 ± 0.003 % of height (3.0 px)"


@pytest.mark.parametrize("size", [(6000, 4000), (4000, 6000), (4000, 4000), (6000, 3376)])
@pytest.mark.parametrize("centre", [(0.0, 0.0), (40.0, -60.0), (-310.0, 220.0)])
def test_centre_edges_and_corners_are_the_same_zones_in_frames_of_any_shape(size, centre):
    width, height = size
    zones = []
    for row, column in np.ndindex(3, 5):
        x, y = (column + 0.5) * width / 5 - 0.5, (row + 0.5) * height / 3 - 0.5
        away = math.hypot(x - width / 2 - centre[0], y - height / 2 - centre[1])
        radius = 2 * away / math.hypot(width, height)
        zones.append(replace(zone(row, column, 3 + row + 0.1 * column), x_px=x, y_px=y,
                             field_radius=radius))  # fmt: skip
    found = read_field(Motion(tuple(zones), (0, 0), (0.1, 0.1), MotionKind.TRIPOD), None, *size)
    assert [(r.place, r.zones, r.of_zones) for r in found.readings] == [
        ("centre", 1, 1), ("edges", 10, 10), ("corners", 4, 4)
    ]  # fmt: skip
    assert found.readings[0].length_px == pytest.approx(4.2)
    assert found.readings[2].length_px == pytest.approx(np.mean([3, 3.4, 5, 5.4]))


def joined(*corners, length=5.0):
    """Field in which corners were measured together with the zone beside them."""
    zones = []
    for row, column in np.ndindex(3, 5):
        one = zone(row, column, 4.0)
        if (row, column) in corners:
            inner = 1 if column == 0 else 3
            one = replace(zone(row, column, length), columns=2, x_px=600.0 * (column + inner + 1))
        if any(row == r and column == (1 if c == 0 else 3) for r, c in corners):
            one = replace(one, length_px=None, width_px=None, reason=ZoneReason.JOINED)
        zones.append(one)
    return read_field(Motion(tuple(zones), (0, 0), (0.1, 0.1), MotionKind.TRIPOD), None, *SIZE)


def test_a_joined_corner_stays_a_corner_and_its_neighbour_is_not_missed():
    found = joined((0, 0))
    edges, corners = found.readings[1:]
    assert (edges.zones, edges.of_zones, corners.zones, corners.of_zones) == (9, 9, 4, 4)
    assert corners.length_px == pytest.approx(4.25)
    assert reading_words(corners, found.percent).endswith(", 1 of them with the zone beside")
    names = [zone_name(z) for z in found.zones]
    assert names[:2] == ["top left (two zones)", "top, half left"]
    assert unknown_words(found.zones[1]) == ZONE_REASONS[ZoneReason.JOINED]
    short = replace(found.zones[1], stars=3, reason=ZoneReason.TOO_FEW_STARS)
    assert unknown_words(short) == (
        "not tested: 3 single unclipped stars stand out here; it takes five clear ones"
    )


def test_a_joined_corner_is_compared_with_joined_ones_only():
    assert compared(joined((0, 0)).zones[0], zone(0, 4, 4.0)) is None
    one = joined((0, 0), length=6.0)
    assert all(not found.real for found in one.uneven)
    assert one.uneven[2].pairs == 2
    assert one.uneven[0].pairs == 4
    two = joined((0, 0), (0, 4), length=6.0)
    assert [found.side for found in two.uneven] == ["right", "bottom"]
    four = joined((0, 0), (0, 4), (2, 0), (2, 4), length=6.0)
    assert four.uneven[2].pairs == 3
    assert four.uneven[2].ratio == pytest.approx(1.0)


def test_places_without_zones_are_not_tested():
    corners = {(0, 0), (0, 4), (2, 0), (2, 4)}
    found = field(lambda q, r, c: 4.0, missing=corners)
    assert found.readings[2].length_px is None
    assert reading_words(found.readings[2], found.percent) == "not tested"


def test_a_centred_lens_shows_no_side():
    rng = np.random.default_rng(5)
    real = 0
    for _ in range(40):
        found = field(lambda q, r, c: 3 + 4 * q * q + rng.normal(0, 0.1))
        real += sum(one.real for one in found.uneven)
        assert len(found.uneven) == 3
    # 120 intervals of 95 %: 6 misses are expected, 14 come once in a thousand series.
    assert real <= 14


def test_a_softer_side_is_found_with_its_size_in_the_interval():
    rng = np.random.default_rng(6)
    hits = 0
    for _ in range(40):
        found = field(
            lambda q, r, c: (3 + 4 * q * q) * (1.3 if c > 2 else 1.0) * (1 + rng.normal(0, 0.02))
        )
        sides = {one.side: one for one in found.uneven}
        assert sides["right"].real
        assert sides["right"].softer == "right"
        assert not sides["bottom"].real or sides["bottom"].ratio == pytest.approx(1, abs=0.1)
        hits += sides["right"].low <= 1.3 <= sides["right"].high
        assert "real, right softer" in uneven_words(sides["right"], found)
    assert hits >= 34


def test_one_soft_corner_is_named():
    found = field(lambda q, r, c: (3 + 4 * q * q) * (1.5 if (r, c) == (0, 4) else 1.0))
    corner = found.uneven[2]
    assert corner.side == "top right"
    assert corner.ratio == pytest.approx(1.5)
    assert corner.low < 1.5 < corner.high
    assert corner.real


@pytest.mark.parametrize(("ratio", "common"), [(0.7, 0.0), (0.9, 1.0)])
def test_the_softest_of_four_like_corners_is_seldom_called_real(ratio, common):
    """With true errors at most 5 % of centred lenses are: choosing the softest is paid for."""
    rng = np.random.default_rng(17)
    corners = ((0, 0), (0, 4), (2, 0), (2, 4))
    real, tries, err = 0, 1500, 0.02
    for _ in range(tries):
        zones = []
        for at in corners:
            off, own = err * rng.normal(size=2)
            other = common * off + (1 - common) * own
            one = zone(*at, 4.0 * (1 + off), 4.0 * err, ratio)
            width = 4.0 * ratio * (1 + other)
            zones.append(replace(one, width_px=width, width_px_err=4.0 * ratio * err))
        motion = Motion(tuple(zones), (0, 0), (0.1, 0.1), MotionKind.TRIPOD)
        real += any(found.real for found in read_field(motion, None, *SIZE).uneven[2:])
    # Not widened for the choice it would be 10 %.
    assert 0.01 * tries < real < 0.05 * tries


def test_a_difference_too_small_to_see_says_so():
    found = field(lambda q, r, c: 3.0 * (1.05 if c > 2 else 1.0), err=0.01)
    # 5 % of 3 px is 0.004 % of 4,000 px.
    assert found.uneven[0].real
    assert verdict_words(found.uneven[0], found) == "real, too small to see"


def test_sides_without_mirrored_zones_are_left_out():
    left = {(r, c) for r in range(3) for c in range(2)}
    found = field(lambda q, r, c: 4.0, missing=left)
    assert [one.side for one in found.uneven] == ["bottom"]


def test_lengths_are_compared_where_both_are_long():
    long, other = zone(0, 0, 6.0), zone(0, 4, 4.0)
    log, err = compared(long, other)
    assert log == pytest.approx(math.log(1.5))
    assert err == pytest.approx(math.hypot(0.1 / 6, 0.1 / 4))
    round_ = replace(other, width_px=4.0)
    assert compared(long, round_)[0] == pytest.approx(0.5 * math.log(6 * 4.2 / 16))
    assert compared(long, replace(other, length_px=None)) is None


def test_light_lost_comes_from_the_nights_fit_in_stops():
    # One stop is 0.7526 magnitudes: 2.5 log10 2.
    terms = (0.752575, 0.752575)
    light = Falloff(terms, (1e-4, 0.0, 1e-4), 500, 0.832)
    assert light.stops(1.0) == pytest.approx(2.0, abs=1e-5)
    assert light.stops(0.5) == pytest.approx(0.25 + 0.0625, abs=1e-5)
    assert light.stops_err(1.0) == pytest.approx(0.01 * math.sqrt(2) / 0.752575, rel=1e-4)
    shown = replace(field(lambda q, r, c: 4.0), falloff=light, falloff_reason=None)
    assert "2.00 ± 0.02 stops at the corners (from 500" in falloff_words(shown)
    night = Night(12, 0.1, 0.1, 500, 0.25, None, None, None, None,
                  LimitSource.SNR_LINE, 9, 1.0, None, None, None, NoiseSource.UNKNOWN, (),
                  terms, (1e-4, 0.0, 1e-4))  # fmt: skip
    motion = Motion((), (0, 0), (0, 0), MotionKind.TRIPOD)
    found = read_field(motion, night, 4000, 6000).falloff
    assert found == replace(light, edge_radius=6000 / math.hypot(4000, 6000))
    unknown = replace(night, falloff_terms=None)
    why = {
        "too few unclipped catalogue stars over the field, or cloud over it": unknown,
        "only 24 % of the frame shows open sky": replace(night, open_sky=0.24),
        "stars are brighter toward the rim than in the centre: cloud or haze": replace(
            night, falloff_terms=(-0.5, 0.2)
        ),
    }
    for reason, seen in why.items():
        read = read_field(motion, seen, 4000, 6000)
        assert read.falloff is None
        assert falloff_words(read) == f"light lost: not tested, {reason}"
    # A lens without falloff may seem to gain a little within its errors.
    assert read_field(motion, replace(night, falloff_terms=(-0.05, 0.0)), 4000, 6000).falloff


MARKED = (
    "the trails are the sky's own if the shutter was open 15.0 ± 0.2 s instead of 16 s: with a "
    "remote release or a timer the 15 s of the file can be the true time; --exposure-s 15 states it"
)


@pytest.mark.parametrize(
    ("rate", "err", "kind", "times", "words"),
    [
        (0.94, 0.01, MotionKind.TRIPOD, (16.0, 15.0), MARKED),
        (0.94, 0.01, MotionKind.MOUNT, (16.0, 15.0), MARKED),
        (0.78, 0.06, MotionKind.MOUNT, (16.0, 15.0), "12.5 ± 1.0 s instead of 16 s: with a rem"),
        (
            0.88,
            0.01,
            MotionKind.TRIPOD,
            (16.0, 15.0),
            "14.1 ± 0.2 s instead of 16 s: --exposure-s states the",
        ),
        (
            0.94,
            0.01,
            MotionKind.TRIPOD,
            (16.0, 16.0),
            "15.0 ± 0.2 s instead of 16 s: --exposure-s states the",
        ),
        (
            1.067,
            0.01,
            MotionKind.TRIPOD,
            (30.0, 30.0),
            "32.0 ± 0.3 s instead of 30 s: --exposure-s states the",
        ),
        (0.73, 0.09, MotionKind.MOUNT, (16.0, 15.0), "11.7 ± 1.4 s instead of 16 s: with a rem"),
        (0.94, 0.01, MotionKind.DRIFT, (16.0, 15.0), None),
        (0.94, 0.03, MotionKind.TRIPOD, (16.0, 15.0), None),
        (0.99, 0.001, MotionKind.TRIPOD, (16.0, 15.0), None),
        (0.5, 0.02, MotionKind.MOUNT, (16.0, 15.0), None),
        (1.0, 0.01, MotionKind.TRIPOD, (16.0, 15.0), None),
        (None, None, MotionKind.TRIPOD, (16.0, 15.0), None),
        (0.94, 0.01, MotionKind.TRIPOD, (None, None), None),
    ],
)
def test_a_rate_near_the_skys_may_be_another_exposure_time(rate, err, kind, times, words):
    motion = Motion((), (0, 0), (0.1, 0.1), kind, rate, err)
    found = shutter_words(shutter_hint(motion, *times), times[0])
    assert found is None if words is None else words in found


def test_zones_have_names_and_their_stars_directions_in_words():
    assert zone_name(zone(0, 0, 3)) == "top left"
    assert zone_name(zone(1, 2, 3)) == "centre"
    assert zone_name(zone(2, 3, 3)) == "bottom, half right"
    named = {zone_name(zone(r, c, 3)) for r, c in np.ndindex(3, 5)}
    assert len(named) == 15
    turns = {10: "radial", 45: "slanting", 80: "tangential", None: "round"}
    for away, word in turns.items():
        assert turn_of(replace(zone(0, 0, 3), radial_angle_degrees=away)) == word
    assert lean_words(replace(zone(0, 0, 3), lean=0.3, lean_err=0.02)) == "tail outward"
    assert lean_words(replace(zone(0, 0, 3), lean=-0.3, lean_err=0.02)) == "tail inward"
    assert lean_words(replace(zone(0, 0, 3), lean=0.3, lean_err=0.2)) == ""


@pytest.mark.parametrize("size", [(6000, 4000), (4000, 6000), (6000, 3376), (4000, 4000)])
def test_the_rim_is_the_farthest_zones_of_any_frame(size):
    wide, high = size
    zones = [
        replace(
            zone(r, c, 3 + (c in (0, 4) or r != 1)), x_px=(c + 0.5) * wide / 5 - 0.5,
            y_px=(r + 0.5) * high / 3 - 0.5, radial_angle_degrees=80.0 if c in (0, 4) else 45.0,
        )
        for r, c in np.ndindex(3, 5)
    ]  # fmt: skip
    found = read_field(Motion(tuple(zones), (0, 0), (0.1, 0.1), MotionKind.TRIPOD), None, *size)
    assert any("stretch tangentially" in hint for hint in hint_words(found)) == (wide >= high)


def test_a_lens_that_is_soft_everywhere_is_far_out_of_focus():
    # 30 px of 4,000 are 0.75 %; the round stars of this field are as wide as long.
    blurred = field(lambda q, r, c: 30.0, ratio=1.0)
    assert hint_words(blurred)[0] == (
        "even in the sharpest zone stars are 0.75 % of picture height wide: the focus is far off, "
        "or dew or haze spreads them; focus on a bright star and compare"
    )
    assert not any("far off" in hint for hint in hint_words(field(lambda q, r, c: 14.0)))


def test_trails_are_as_the_skys_or_have_their_own_length_with_its_error():
    def trail(seen, err=(0.1, 0.1)):
        known = replace(zone(0, 0, 3), trail_seen_px=seen, trail_expected_px=(4.0, 3.0))
        return trail_words(replace(known, trail_err_px=err))

    assert trail((4.013, 3.0)) == "as the sky's ± 0.1"
    assert trail((2.0, 1.5)) == "2.5 ± 0.1"
    assert trail((6.0, 8.0), (0.3, 0.4)) == "10.0 ± 0.4"
    assert trail((0.0, 0.0)) == "0.0 ± 0.1"
    assert trail((2.0, 1.5), None) == "2.5"
    assert trail_words(zone(0, 0, 3)) == ""


def test_lean_and_colours_have_numbers_with_errors():
    known = replace(
        zone(0, 0, 3), lean=-0.214, lean_err=0.031, red_offset_px=(0.3, -0.4),
        blue_offset_px=(0.05, 0.12), offset_err_px=0.026,
    )  # fmt: skip
    assert lean_number(known) == "\N{MINUS SIGN}0.21 ± 0.03"
    assert lean_number(replace(known, lean=0.5)) == "+0.50 ± 0.03"
    assert colour_numbers(known) == ("0.50 ± 0.03", "0.13 ± 0.03")
    assert (lean_number(zone(0, 0, 3)), colour_numbers(zone(0, 0, 3))) == ("", ("", ""))


def test_a_soft_centre_speaks_of_focus():
    soft = field(lambda q, r, c: 6 - 3 * q)
    assert any("times as soft as the sharpest zone" in hint for hint in hint_words(soft))
    sharp = field(lambda q, r, c: 3 + 3 * q)
    assert not any("times as soft" in hint for hint in hint_words(sharp))
    assert any("stretch radially" in hint for hint in hint_words(sharp))


@pytest.fixture(scope="module")
def drawn():
    """A mosaic of 900 x 600 px with a clipped, a paired and two single stars in each zone, and
    the places of the single ones."""
    rng = np.random.default_rng(8)
    light = np.full((600, 900), 100.0)
    y, x = np.mgrid[:600, :900]
    single = []
    for row, column in np.ndindex(3, 5):
        cx, cy = column * 180 + 40.3, row * 200 + 50.7
        stars = [(cx, cy, 9000), (cx + 100, cy, 90000), (cx, cy + 100.4, 7000)]
        stars += [(cx + 100, cy + 100, 8000), (cx + 106, cy + 103, 4000)]
        single += [stars[0][:2], stars[2][:2]]
        for sx, sy, peak in stars:
            part = np.s_[int(sy) - 20 : int(sy) + 21, int(sx) - 20 : int(sx) + 21]
            away = (x[part] - sx) ** 2 + (y[part] - sy) ** 2
            light[part] += peak * np.exp(-0.5 * away / 1.7**2)
    samples = np.clip(rng.poisson(light) + 512 + rng.normal(0, 3, light.shape), 0, 15000)
    frame = Frame(
        np.rint(samples).astype(np.uint16), np.array([[0, 1], [1, 2]], np.uint8),
        np.full((2, 2), 512.0), np.full((2, 2), 15000.0), "mosaic",
    )  # fmt: skip
    return frame, find_stars(frame), np.array(single)


def test_typical_stars_are_single_unclipped_and_where_they_were_drawn(drawn):
    frame, found, single = drawn
    camera, rotation = plain_camera(900, 600, 1000.0), look_at(80, 10)
    everyone = np.arange(len(found.stars))
    fit = Fit(camera, rotation, np.zeros(5), 0.0, 0.0, 0.0)
    match = Match(everyone, everyone, np.zeros(len(everyone)))
    solution = Solution(camera, rotation, fit, match, 0.1, -100.0, True)
    zones = tuple(
        Zone(row, column, (column + 0.5) * 180 - 0.5, (row + 0.5) * 200 - 0.5, 0.5, 9)
        for row, column in np.ndindex(3, 5)
    )
    crops = typical_stars(frame, found, solution, Motion(zones, (0, 0), (0, 0), MotionKind.TRIPOD))
    assert [(c.row, c.column) for c in crops] == list(np.ndindex(3, 5))
    for crop in crops:
        assert np.hypot(*(single - (crop.x_px, crop.y_px)).T).min() < 0.2
        assert (int(crop.y_px // 200), int(crop.x_px // 180)) == (crop.row, crop.column)
        assert 0.2 < crop.peak_share < 0.9
    assert {crop.light.shape for crop in crops} == {(15, 15)}
    for crop in crops:
        # The star's pixel is the middle one, and what was drawn comes back on every pixel.
        grid = np.arange(-7, 8)
        dx, dy = (v - round(v) for v in (crop.x_px, crop.y_px))
        ideal = np.exp(-0.5 * ((grid - dx) ** 2 + ((grid - dy) ** 2)[:, None]) / 1.7**2)
        assert np.corrcoef(ideal.ravel(), crop.light.ravel())[0, 1] > 0.995
