"""One lens on two bodies: planted spots through square pixels, off-grid, in two frame shapes."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.special import erf, stdtrit

from nightglass.bench.across.compare import compare_bodies
from nightglass.bench.across.heights import partners, percent_in_frame, placed, tolerance_mm
from nightglass.bench.across.pixel import (
    METHOD_PX,
    PIXEL_SQUARES,
    with_pixel_um,
    without_pixel_um,
)
from nightglass.bench.across.ratio import MeanLength, measured_ratio, pixel_free_ratio
from nightglass.bench.across.records import BodiesVerdict, PairNote, UnpairedReason
from nightglass.bench.combined.combine import Scatter
from nightglass.bench.records import Combined, SettingResult, SharedError, ZoneResult
from nightglass.gear.body import Body
from nightglass.gear.lens import LensSetting

SMALL = Body("Small body", 3.9, 6000, 4000)
LARGE = Body("Large body", 5.9, 6064, 4040)
REPEATS = (0.97, 1.0, 1.03, 0.98, 1.02)


def zone(
    body: Body, place: str, at_mm: tuple[float, float], length_um: float, **more
) -> ZoneResult:
    """A place at (x, y) mm from the middle, five repeats about a length."""
    lengths = tuple(times * length_um / body.pitch_um for times in REPEATS)
    none = Combined(None, None)
    made = ZoneResult(
        place=place,
        x_px=(body.width_px - 1) / 2 + 1000 * at_mm[0] / body.pitch_um,
        y_px=(body.height_px - 1) / 2 + 1000 * at_mm[1] / body.pitch_um,
        field_radius=0.0, frames=5, refused=0, at_limit_frames=0,
        length_px=Combined(float(np.mean(lengths)), 0.1, values=lengths),
        width_px=none, ee50_px=none, ee80_px=none, skirt_length_px=none, noise_area_px=none,
        lean=none, angle_degrees=none, radial_angle_degrees=none, colour_offset_red_px=none,
        colour_offset_blue_px=none, error_source="repeats",
    )  # fmt: skip
    return replace(made, **more)


def result(body: Body, *zones: ZoneResult, lens="Plover", f_number=2.0) -> SettingResult:
    return SettingResult(LensSetting(body.name, lens, 16.0, f_number), zones)


def compared(ones, others):
    return compare_bodies((SMALL, LARGE), {SMALL.name: ones, LARGE.name: others})


def test_a_place_is_found_again_by_its_millimetres_not_by_its_share_of_the_frame():
    """The same corner of the image lies much farther in on the larger sensor."""
    corner = (8.83, -5.61)
    report = compared(
        [result(SMALL, zone(SMALL, "corner", corner, 40.0))],
        [
            result(
                LARGE,
                zone(LARGE, "x 75 %, y 26 %", (corner[0] + 0.13, corner[1] - 0.08), 40.0),
                # The same share of the frame: half as far out again.
                zone(LARGE, "corner", (8.83 * 1.53, -5.61 * 1.53), 70.0),
            )
        ],
    )
    (pair,) = report.pairs
    assert (pair.one.place, pair.other.place) == ("corner", "x 75 %, y 26 %")
    assert pair.apart_mm == pytest.approx(math.hypot(0.13, 0.08))
    assert pair.one.height_mm == pytest.approx(math.hypot(*corner))
    assert pair.one.length_um == pytest.approx(40.0)
    assert pair.one.length_px == pytest.approx(40.0 / 3.9)
    assert pair.one.length_percent == pytest.approx(100 * 40.0 / 3.9 / 4000)
    assert pair.other.length_percent == pytest.approx(100 * 40.0 / 5.9 / 4040)
    (left,) = report.unpaired
    assert (left.body, left.place, left.reason) == (
        "Large body", "corner", UnpairedReason.OUTSIDE_THE_FRAME,
    )  # fmt: skip
    assert (left.x_percent, left.y_percent) == (None, None)


def test_a_place_without_a_partner_says_where_the_star_would_have_to_stand():
    report = compared(
        [
            result(
                SMALL, zone(SMALL, "centre", (0.05, 0.0), 30), zone(SMALL, "edge", (8.0, 3.0), 40)
            )
        ],
        [result(LARGE, zone(LARGE, "centre", (0.0, 0.1), 30))],
    )
    assert len(report.pairs) == 1
    (left,) = report.unpaired
    assert (left.place, left.other_body, left.reason) == (
        "edge", "Large body", UnpairedReason.NOT_AT_THIS_HEIGHT,
    )  # fmt: skip
    # 8 of 35.78 mm to the right of the middle, 3 of 23.84 mm below it.
    assert left.x_percent == pytest.approx(50 + 100 * 8 / 35.7776, rel=1e-6)
    assert left.y_percent == pytest.approx(50 + 100 * 3 / 23.836, rel=1e-6)


def test_another_side_at_the_same_height_is_second_choice_and_marked():
    ones = [placed(zone(SMALL, "left", (-8.0, 0.0), 30), SMALL)]
    right = placed(zone(LARGE, "right", (8.1, 0.0), 30), LARGE)
    left = placed(zone(LARGE, "left", (-8.3, 0.2), 30), LARGE)
    within = tolerance_mm((SMALL, LARGE))
    assert within == pytest.approx(0.05 * 15.6)
    (found,) = partners(ones, [right, left], within)
    assert (found.other.zone.place, found.same_side) == ("left", True)
    (found,) = partners(ones, [right], within)
    assert (found.same_side, found.apart_mm) == (False, pytest.approx(0.1))
    assert partners(ones, [placed(zone(LARGE, "far", (9.0, 0.0), 30), LARGE)], within) == ()
    report = compared(
        [result(SMALL, ones[0].zone)], [result(LARGE, right.zone)]
    )  # fmt: skip
    assert report.pairs[0].notes == (PairNote.OTHER_SIDE,)


def gaussian_length_um(sigma_um: float, pitch_um: float) -> float:
    """Central 90 % of a Gaussian through square pixels, by its own integral."""
    x = np.linspace(-20 * sigma_um, 20 * sigma_um, 200_001)
    half, root = pitch_um / 2, sigma_um * math.sqrt(2)
    light = erf((x + half) / root) - erf((x - half) / root)
    grown = np.cumsum(light) / light.sum()
    return float(np.interp(0.95, grown, x) - np.interp(0.05, grown, x))


@pytest.mark.parametrize("sigma_um", [7.0, 12.0])
def test_of_a_gaussian_spot_the_pixels_make_as_much_as_is_said(sigma_um):
    """A Gaussian's share is 0.90 squares of the pitch (3.29^2 / 12): within the stated scatter."""
    small, large = (gaussian_length_um(sigma_um, body.pitch_um) for body in (SMALL, LARGE))
    squares = (large**2 - small**2) / (5.9**2 - 3.9**2)
    assert squares == pytest.approx(3.289707**2 / 12, abs=0.02)
    report = compared(
        [result(SMALL, zone(SMALL, "centre", (0, 0), small))],
        [result(LARGE, zone(LARGE, "centre", (0, 0), large))],
    )
    (pair,) = report.pairs
    assert pair.verdict is BodiesVerdict.SAME
    assert pair.ratio.value == pytest.approx(large / small)
    assert abs(pair.from_pixels - large / small) < 1.5 * pair.from_pixels_err
    assert pair.left.value == pytest.approx(1, abs=0.015)


def test_a_lens_that_is_longer_on_one_body_is_said_to_be():
    report = compared(
        [result(SMALL, zone(SMALL, "centre", (0, 0), 40.0))],
        [result(LARGE, zone(LARGE, "centre", (0, 0), 52.0))],
    )
    (pair,) = report.pairs
    assert pair.verdict is BodiesVerdict.LONGER
    expected = math.sqrt((52**2 - PIXEL_SQUARES * 5.9**2) / (40**2 - PIXEL_SQUARES * 3.9**2))
    assert pair.left.value == pytest.approx(expected)
    shorter = compared(
        [result(SMALL, zone(SMALL, "centre", (0, 0), 52.0))],
        [result(LARGE, zone(LARGE, "centre", (0, 0), 40.0))],
    )
    assert shorter.pairs[0].verdict is BodiesVerdict.SHORTER


def test_the_interval_is_students_t_of_both_scatters_and_what_repeats_do_not_lessen():
    one = MeanLength(50.0, 3.9, 5, Scatter(0.03, 8))
    other = MeanLength(55.0, 5.9, 4, Scatter(0.05, 6), shared_log_err=0.02)
    found = measured_ratio(one, other, 0.01)
    scatters = 0.03**2 / 5, 0.05**2 / 4
    fixed = (METHOD_PX * 3.9 / 50) ** 2 + (METHOD_PX * 5.9 / 55) ** 2 + 0.02**2 + 0.01**2
    variance = sum(scatters) + fixed
    freedom = variance**2 / (scatters[0] ** 2 / 8 + scatters[1] ** 2 / 6)
    reach = stdtrit(freedom, 0.975) * math.sqrt(variance)
    assert found.value == pytest.approx(1.1)
    assert math.log(found.high / 1.1) == pytest.approx(reach)
    assert math.log(1.1 / found.low) == pytest.approx(reach)
    free = pixel_free_ratio(one, other, 0.01)
    assert free.high / free.low > found.high / found.low


def test_places_a_little_apart_widen_the_interval_by_what_the_blur_changes_over_the_way():
    def reach(apart_mm: float) -> float:
        corner = zone(SMALL, "corner", (9.0, 5.0), 80.0)
        report = compared(
            [result(SMALL, zone(SMALL, "centre", (0, 0), 40.0), corner)],
            [result(LARGE, zone(LARGE, "centre", (apart_mm, 0), 40.0))],
        )
        left = report.pairs[0].left
        return math.log(left.high / left.low)

    assert reach(0.0) < reach(0.3) < reach(0.6)


def test_drift_that_was_taken_out_leaves_its_error():
    shared = SharedError((0.03, 0.04), (0.0,), 10, visit_length=0.02)
    plain = zone(SMALL, "centre", (0, 0), 40.0)
    wide, narrow = (
        compared([result(SMALL, z)], [result(LARGE, zone(LARGE, "centre", (0, 0), 40.0))]).pairs[0]
        for z in (replace(plain, shared=shared), plain)
    )
    assert wide.ratio.high > narrow.ratio.high


def test_single_frames_borrow_the_scatter_of_the_lens_and_without_any_have_no_interval():
    def alone(body, place, at_mm, length_um):
        one = Combined(length_um / body.pitch_um, 0.1, values=(length_um / body.pitch_um,))
        return zone(body, place, at_mm, length_um, length_px=one, frames=1)

    others = [result(LARGE, zone(LARGE, "centre", (0, 0), 40.0))]
    single = compared([result(SMALL, alone(SMALL, "centre", (0, 0), 40.0))], others).pairs[0]
    assert (single.verdict, single.left.low) == (BodiesVerdict.NO_REPEATS, None)
    assert single.left.apart_percent is None
    edge = zone(SMALL, "edge", (5.0, 0.0), 50.0)
    lent = compared([result(SMALL, alone(SMALL, "centre", (0, 0), 40.0), edge)], others).pairs[0]
    assert lent.left.low is not None
    assert lent.left.high - lent.left.low > 0.1


def test_at_limit_there_is_a_bound_and_no_ratio():
    bound = Combined(None, None, at_most=3.2)
    report = compared(
        [result(SMALL, zone(SMALL, "centre", (0, 0), 14.0))],
        [result(LARGE, zone(LARGE, "centre", (0, 0), 14.0, length_px=bound))],
    )
    (pair,) = report.pairs
    assert (pair.verdict, pair.ratio, pair.left) == (BodiesVerdict.AT_LIMIT, None, None)
    assert pair.other.length_at_most_um == pytest.approx(3.2 * 5.9)
    nothing = zone(LARGE, "centre", (0, 0), 14.0, length_px=Combined(None, None))
    report = compared(
        [result(SMALL, zone(SMALL, "centre", (0, 0), 14.0))], [result(LARGE, nothing)]
    )
    assert {one.reason for one in report.unpaired} == {
        UnpairedReason.NOT_AT_THIS_HEIGHT, UnpairedReason.NO_SIZE,
    }  # fmt: skip


def test_settings_and_lenses_of_one_body_alone_are_named():
    report = compared(
        [
            result(SMALL, zone(SMALL, "centre", (0, 0), 40.0)),
            result(SMALL, zone(SMALL, "centre", (0, 0), 40.0), f_number=2.8),
            result(SMALL, zone(SMALL, "centre", (0, 0), 40.0), lens="Heron"),
        ],
        [result(LARGE, zone(LARGE, "centre", (0, 0), 40.0))],
    )
    assert len(report.pairs) == 1
    assert report.on_one_only == (("Heron", "Small body"),)
    (left,) = report.unpaired
    assert (left.f_number, left.reason) == (2.8, UnpairedReason.SETTING_NOT_MEASURED)


def test_three_bodies_are_held_against_each_other_two_by_two():
    third = Body("Third body", 4.4, 5500, 3700)
    bodies = (SMALL, LARGE, third)
    results = {b.name: [result(b, zone(b, "centre", (0, 0), 40.0))] for b in bodies}
    report = compare_bodies(bodies, results)
    assert [(p.one.body, p.other.body) for p in report.pairs] == [
        ("Small body", "Large body"), ("Small body", "Third body"), ("Large body", "Third body"),
    ]  # fmt: skip


def test_another_size_of_the_light_source_and_the_focusing_are_noted():
    ones = [result(SMALL, zone(SMALL, "centre", (0, 0), 30.0, source_px=0.2, refocused=True))]

    def against(**more):
        return compared(ones, [result(LARGE, zone(LARGE, "centre", (0, 0), 30.0, **more))])

    far, near = against(source_px=0.2 * 3.9 / 5.9, refocused=True), against(source_px=2.0)
    assert (far.pairs[0].notes, far.refocused) == ((), True)
    assert (near.pairs[0].notes, near.refocused) == ((PairNote.SOURCES_DIFFER,), False)


@given(st.floats(1.0, 500.0), st.floats(0.5, 30.0))
def test_taking_the_pixel_out_undoes_putting_it_in(length_um, pitch_um):
    seen = with_pixel_um(length_um, pitch_um)
    assert seen > length_um
    assert without_pixel_um(seen, pitch_um) == pytest.approx(length_um, rel=1e-6)


def test_no_more_than_the_pixels_make_is_no_length():
    with pytest.raises(ValueError, match=r"6 um is no more than pixels of 5\.9 um make alone"):
        without_pixel_um(6.0, 5.9)


def test_where_a_place_would_stand_in_another_frame():
    corner = placed(zone(LARGE, "corner", (17.0, -11.0), 30.0), LARGE)
    assert percent_in_frame(corner, LARGE) == pytest.approx((97.515, 3.851), abs=0.01)
    assert percent_in_frame(corner, SMALL) is None
