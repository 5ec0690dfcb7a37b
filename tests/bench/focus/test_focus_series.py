"""Focus series with planted truth: best focus, depth, astigmatism, field, f-numbers."""

import math

import numpy as np
import pytest

from nightglass.bench.focus.best import best_of, depth_of, length_at
from nightglass.bench.focus.curve import Sizes, fit_curve, log_size, numbers_of, size_at
from nightglass.bench.focus.records import (
    AxisTurn,
    FieldFault,
    LeftOut,
    PositionSource,
    SeriesFault,
)

MARKS = (1, 2, 3, 4, 5, 6, 7)
CORNER = {"x": 3484.0, "y": 2280.0, "axis": 32.4}
# Half-way to the corner in the same direction: a quarter of the corner's bend.
HALF = {"x": 2710.0, "y": 1788.0, "axis": 32.4}


def test_best_focus_and_depth_are_found_where_they_were_planted(planted):
    planted.series(MARKS, best=4.27)
    (place,) = planted.report().places
    assert place.fault is None
    assert place.position_source is PositionSource.MARKS
    assert place.best.position.value == pytest.approx(4.27, abs=0.06)
    assert 0.03 < place.best.position.err < 0.17
    assert place.best.size_px.value == pytest.approx(5.0, abs=0.2)
    # size^2 = 25 + 4 (z - z0)^2 is 1.2^2 x 25 at z - z0 = 5 sqrt(0.44) / 2 = 1.658.
    depth = place.depth.high - place.depth.low
    assert depth == pytest.approx(2 * 5 * math.sqrt(0.44) / 2, rel=0.08)
    assert place.depth.value == depth
    assert abs(place.best.position.value - 4.27) < 0.1 * depth


def test_the_disc_of_defocus_gives_the_travel_of_focus_per_mark(planted):
    planted.series((-9, -6, -3, 0, 3, 6, 9), best=0.4, size=4.0, slope=2.0)
    (place,) = planted.report().places
    # L = 0.805 dz / (N p): 2 px a mark are 2 x 2.828 x 6.05 / 0.805384 = 42.5 um.
    assert place.um_per_mark == pytest.approx(42.5, rel=0.05)


def test_astigmatism_is_told_from_defocus_by_the_turn_of_the_long_axis(planted):
    planted.series(MARKS, best=4.0, gap=2.0, size=4.0, **CORNER)
    (place,) = planted.report().places
    assert place.axis_degrees == pytest.approx(32.4, abs=1.0)
    found = place.astigmatism
    assert found.turn is AxisTurn.TURNS
    assert found.gap.value == pytest.approx(2.0, abs=0.15)
    assert found.axis_below_degrees < 10
    assert found.axis_above_degrees > 80
    assert place.best.position.value == pytest.approx(4.0, abs=0.1)


def test_a_long_axis_that_stays_is_no_astigmatism(planted):
    for k, mark in enumerate(MARKS):
        size = math.hypot(4.0, 2.0 * (mark - 4))
        planted.spot(f"{k}.dng", mark, 1.6 * size, size, **CORNER)
    (place,) = planted.report().places
    assert place.astigmatism.turn is AxisTurn.STAYS
    assert abs(place.astigmatism.gap.value) < 4 * place.astigmatism.gap.err


def test_at_the_centre_astigmatism_has_the_axis_that_the_light_shows(planted):
    planted.series(MARKS, best=4.0, gap=2.0, size=4.0, axis=70.0)
    (place,) = planted.report().places
    assert place.at_centre
    # Which of both ends of focus is called "along" is free: 70 or 160 degrees.
    assert (place.axis_degrees - 70) % 90 == pytest.approx(0, abs=4) or (
        place.axis_degrees - 70
    ) % 90 == pytest.approx(90, abs=4)
    assert abs(place.astigmatism.gap.value) == pytest.approx(2.0, abs=0.2)


def test_curvature_of_field_and_the_common_focus(planted):
    planted.series(MARKS, best=4.6, name="centre ")
    planted.series(MARKS, best=4.6 - 0.25 * 2.4, name="half ", **HALF)
    planted.series(MARKS, best=4.6 - 2.4, name="corner ", **CORNER)
    report = planted.report()
    (field,) = report.fields
    corner = next(p for p in report.places if p.place == "corner")
    assert corner.field_radius == pytest.approx(0.79, abs=0.02)
    # Planted: 2.4 marks at that radius, so 2.4 / 0.79^2 at the very corner.
    truth = -2.4 / corner.field_radius**2
    assert field.curvature.value == pytest.approx(truth, abs=3 * field.curvature.err + 0.05)
    assert field.curvature.err < 0.3
    assert field.curvature_misfit < 2.5
    # Centre and corner have equal curves: half-way between both, both are equally blurred.
    assert field.compromise.value == pytest.approx(4.6 - 1.2, abs=0.1)
    worst = max(one.length_px for one in field.places)
    assert worst == pytest.approx(math.hypot(5.0, 2.0 * 1.2), rel=0.03)


def test_focus_shift_between_f_numbers(planted):
    planted.series(MARKS, best=4.5, name="a")
    planted.series(MARKS, best=3.5, name="b", slope=1.4, recorded={"f_number": 4.0})
    report = planted.report()
    assert len(report.places) == 2, "frames of two settings are two series"
    (shift,) = report.shifts
    assert (shift.f_number_from, shift.f_number_to) == (2.8, 4)
    assert shift.shift.value == pytest.approx(-1.0, abs=0.15)
    assert abs(shift.shift.value) > 3 * shift.shift.err


def test_without_marks_the_camera_clock_gives_the_order(planted):
    from datetime import datetime, timedelta

    start = datetime(2026, 3, 7, 20, 0)
    for k, mark in enumerate(MARKS):
        size = math.hypot(5.0, 2.0 * (mark - 3.3))
        # Names run the other way: the clock wins.
        taken = {"taken_at": start + timedelta(seconds=20 * k)}
        planted.spot(f"{9 - k}.dng", None, size, size, recorded=taken)
    (place,) = planted.report().places
    assert place.position_source is PositionSource.TIME_ORDER
    assert [f.position for f in place.frames] == [1, 2, 3, 4, 5, 6, 7]
    assert place.best.position.value == pytest.approx(3.3, abs=0.1)


@pytest.mark.parametrize(
    ("marks", "best", "fault", "bound"),
    [
        ((1, 4), 3.0, SeriesFault.TOO_FEW, None),
        ((2, 2, 2), 4.0, SeriesFault.NEVER_VARIED, None),
        ((4, 5, 6, 7), 1.0, SeriesFault.BEYOND_LOWEST, 5.0),
        ((1, 2, 3, 4), 7.5, SeriesFault.BEYOND_HIGHEST, 3.0),
        ((3.9, 3.95, 4.0, 4.05, 4.1), 4.0, SeriesFault.NO_CHANGE, None),
    ],
)
def test_what_gives_no_best_focus_says_why(planted, marks, best, fault, bound):
    planted.series(marks, best)
    (place,) = planted.report().places
    assert (place.fault, place.bound, place.best) == (fault, bound, None)


def test_sizes_that_follow_no_curve_are_refused(planted):
    for k, size in enumerate((5.0, 14.0, 4.0, 15.0, 5.0, 13.0, 4.5)):
        planted.spot(f"{k}.dng", k, size, size)
    (place,) = planted.report().places
    assert place.fault is SeriesFault.NO_CURVE


def test_clipped_faint_and_unmarked_frames_are_left_out_and_named(planted):
    planted.series(MARKS, best=4.2)
    planted.spot("clipped.dng", 4, 30, 30, flags=("clipped",))
    planted.spot("lost.dng", 4, 30, 30, flags=("lost",))
    planted.spot("unmarked.dng", None, 9, 9)
    (place,) = planted.report().places
    out = {f.path: f.left_out for f in place.frames if f.left_out}
    assert out == {
        "clipped.dng": LeftOut.CLIPPED, "lost.dng": LeftOut.NO_STAR,
        "unmarked.dng": LeftOut.NO_MARK,
    }  # fmt: skip
    assert place.best.position.value == pytest.approx(4.2, abs=0.1)


def test_a_bumped_frame_is_an_outlier(planted):
    planted.series(MARKS, best=4.2)
    planted.spot("bumped.dng", 3.5, 26, 26)
    (place,) = planted.report().places
    assert [f.path for f in place.frames if f.left_out is LeftOut.OUTLIER] == ["bumped.dng"]
    assert place.best.position.value == pytest.approx(4.2, abs=0.1)


def test_frames_at_limit_give_a_bound_and_the_wings_the_place(planted):
    for k, mark in enumerate(MARKS):
        size = math.hypot(2.0, 2.0 * (mark - 4.2))
        planted.spot(f"{k}.dng", mark, size, size, at_limit=3.2 if size < 3.0 else None)
    (place,) = planted.report().places
    assert place.best.size_is_bound
    assert place.depth.is_bound
    assert place.best.size_px.value == 3.2
    assert place.best.position.value == pytest.approx(4.2, abs=0.2)


def test_places_without_marks_and_with_unequal_counts_are_not_compared(planted):
    for name, count, where in (("a", 7, {}), ("b", 6, CORNER)):
        for k in range(count):
            size = math.hypot(5.0, 2.0 * (k - 3.0))
            planted.spot(f"{name}{k}.dng", None, size, size, **where)
    (field,) = planted.report().fields
    assert (field.fault, field.compromise) == (FieldFault.ORDER_DIFFERS, None)


def test_a_study_of_something_else_is_no_focus_series(planted):
    for k, iso in enumerate((200, 400, 800, 1600)):
        planted.spot(f"{k}.dng", None, 6, 6, recorded={"iso": iso})
    for k in range(4):
        planted.spot(f"refocused {k}.dng", None, 6, 6, rules="refocused = true\n")
    assert planted.report().places == ()


def test_settings_without_a_series_are_told(planted):
    planted.series(MARKS, best=4.2)
    planted.spot("plain.dng", None, 6, 6, recorded={"f_number": 4.0})
    planted.rules.pop()
    report = planted.report()
    assert [one.f_number for one in report.not_separated] == [4.0]


def test_a_curve_passes_through_exact_sizes_with_two_slopes():
    z = np.linspace(-3, 4, 9)
    truth = np.array([0.3, math.log(4.0), math.log(1.8), 0.02])
    sizes = np.exp(log_size(truth, z))
    curve = fit_curve(Sizes(z, sizes, 0.01 * sizes, np.zeros(9, dtype=bool)))
    # The two slopes are drawn together: they usually differ by little.
    assert numbers_of(curve) == pytest.approx(truth, abs=0.05)
    assert size_at(curve, z) == pytest.approx(sizes, rel=0.02)
    assert size_at(curve, 0.3) == pytest.approx(4.0, rel=0.01)


def test_the_larger_extent_is_the_length():
    z = np.linspace(-4, 4, 9)
    pair = []
    for centre in (-1.0, 1.0):
        sizes = np.hypot(3.0, 2.0 * (z - centre))
        pair.append(fit_curve(Sizes(z, sizes, 0.02 * sizes, np.zeros(9, dtype=bool))))
    best = best_of(pair)
    assert best.position.value == pytest.approx(0.0, abs=0.02)
    # At the crossing both have hypot(3, 2) = 3.61 px; two alike weigh 2^(1/16) = 1.04.
    assert best.size_px.value == pytest.approx(3.606 * 2**0.0625, rel=0.01)
    far = float(length_at(best, 4.0))
    assert far == pytest.approx(math.hypot(3.0, 10.0), rel=0.02)
    depth = depth_of(best)
    edges = length_at(best, [depth.low, depth.high])
    assert edges == pytest.approx([1.2 * best.size_px.value] * 2, rel=1e-3)


def test_two_positions_make_no_curve():
    two = Sizes(np.array([1.0, 2.0, 2.0]), np.full(3, 5.0), np.full(3, 0.1), np.zeros(3, bool))
    with pytest.raises(ValueError, match="needs 3 positions at least, not 2"):
        fit_curve(two)


def test_a_ranking_says_for_how_many_settings_focus_is_not_separated(planted):
    from nightglass.bench.focus.measure import separated_on_record
    from nightglass.show.ranking.assumption_words import assumption_row
    from nightglass.verdict.codes import AssumptionCode
    from nightglass.verdict.on_record import OnRecord

    planted.series(MARKS, best=4.2)
    bench = planted.bench()
    (setting,) = separated_on_record(planted.store, bench)
    assert (setting.lens, setting.f_number) == ("Wren", 2.8)
    (said,) = [
        one
        for one in OnRecord((), {}, not_separated=(setting,)).ranking(bench).assumptions
        if one.code is AssumptionCode.FOCUS
    ]
    assert assumption_row(said)[1].startswith("not separated for 1 of 0 settings: no series")
