"""The plan of a session: order, reference frames, the short plan and its price, bad input."""

import time
from dataclasses import replace

import pytest
from shoot_benches import CORNERS, DIPPER, PLOVER, WREN, bench, many_lenses

from nightglass.gear.benchfile import Place
from nightglass.shoot.asked import Asked, with_asked
from nightglass.shoot.codes import CutCode, ExposureSource, Role
from nightglass.shoot.exposures import Trial
from nightglass.shoot.matching import next_frame
from nightglass.shoot.plan import Known, gear_stamp, plan_bench
from nightglass.shoot.wanted import f_numbers, fewer_places, focal_lengths_mm, planned_places
from nightglass.show.shoot.sentences import opening
from nightglass.show.shoot.text import plan_lines


def test_settings_of_a_bag():
    assert focal_lengths_mm(DIPPER) == (14, 20, 28)
    assert focal_lengths_mm(WREN) == (12,)
    assert focal_lengths_mm(replace(DIPPER, zoom_marks_mm=(28, 14))) == (14, 28)
    assert f_numbers(WREN, 12, ()) == (2.0, 2.8, 4.0)
    # Widest at the short end; between the ends and beyond, what the lens has everywhere.
    assert f_numbers(DIPPER, 14, ()) == (2.8, 4.0, 5.6)
    assert f_numbers(DIPPER, 20, ()) == (4.0, 5.6, 8.0)
    assert f_numbers(DIPPER, 28, (2.8, 4.0)) == (4.0,)
    assert f_numbers(DIPPER, 28, (2.0,)) == (4.0,)


def test_places_that_show_most_are_kept():
    assert [p.name for p in fewer_places(CORNERS, 3, bench())] == [
        "centre", "top left", "bottom right",
    ]  # fmt: skip
    turned = bench(places=(*CORNERS[1:], CORNERS[0]))
    assert planned_places(turned)[0].name == "centre"
    assert [p.name for p in planned_places(bench(places=()))][:2] == ["centre", "corner top left"]


def test_order_saves_hands_and_references_stand_at_start_middle_and_end():
    plan = plan_bench(bench(DIPPER, PLOVER, WREN, reference="Wren 12 mm f/2", repeats=5))
    roles = [block.role for block in plan.blocks]
    assert roles[0] is Role.REFERENCE_START
    assert roles[-1] is Role.REFERENCE_END
    assert roles.count(Role.REFERENCE_MIDDLE) == 1
    lenses = [block.setting.lens.split()[0] for block in plan.blocks]
    # The reference lens first, then the others as bench.toml has them.
    assert lenses == ["Wren"] * 4 + ["Dipper"] * 9 + ["Wren"] + ["Plover"] * 3 + ["Wren"]
    zooms = [block.setting.focal_mm for block in plan.blocks if "Dipper" in block.setting.lens]
    assert zooms == sorted(zooms)
    measured = [block for block in plan.blocks if block.role is Role.MEASURE]
    assert {block.frames for block in measured} == {25}
    assert plan.total.frames == 15 * 25 + 3 * 3
    assert plan.total.minutes == pytest.approx(sum(block.minutes for block in plan.blocks))
    assert len({line.id for line in plan.lines}) == len(plan.lines)


def test_rounds_go_over_all_places_and_begin_with_refocusing():
    plan = plan_bench(bench(WREN, repeats=2))
    counts, seen = {}, []
    while (coming := next_frame(plan, counts)) is not None:
        seen.append((coming.block.role, coming.round, coming.line.place, coming.refocus))
        counts[coming.line.id] = counts.get(coming.line.id, 0) + 1
    assert len(seen) == plan.total.frames
    block = [entry[1:] for entry in seen if entry[0] is Role.MEASURE][:10]
    places = [place.name for place in CORNERS]
    assert block == [(r, p, p == "centre") for r in (1, 2) for p in places]


def test_pace_scales_minutes():
    plan, slow = plan_bench(bench()), plan_bench(bench(pace=1.5))
    assert slow.total.minutes == pytest.approx(1.5 * plan.total.minutes)


@pytest.mark.parametrize("hours", [12.0, 6.0, 3.0, 1.5, 0.9])
def test_short_plan_fits_and_names_everything_that_it_leaves_out(hours):
    full = plan_bench(bench(WREN, PLOVER, DIPPER))
    plan = plan_bench(bench(WREN, PLOVER, DIPPER, hours=hours))
    assert plan.total.minutes <= hours * 60 + 1e-9
    assert plan.full == full.total
    cut = {c.code: c for c in plan.cuts}
    assert (plan.precision.repeats < full.precision.repeats) == (CutCode.REPEATS in cut)
    assert plan.precision.counts_from_percent >= full.precision.counts_from_percent
    kept = {(line.setting.lens, line.setting.focal_mm) for line in plan.lines}
    gone = {(ln.setting.lens, ln.setting.focal_mm) for ln in full.lines} - kept
    names = {name for c in plan.cuts for name in c.names}
    zooms = {zoom for c in plan.cuts for zoom in c.zooms}
    assert all(lens in names or (lens, focal) in zooms for lens, focal in gone)
    missing = {line.place for line in full.lines} - {line.place for line in plan.lines}
    assert missing == set(cut[CutCode.PLACES].names if CutCode.PLACES in cut else ())


def test_time_that_is_left_buys_repeats_again():
    three = plan_bench(bench(WREN, PLOVER, DIPPER, repeats=3)).total.minutes
    plan = plan_bench(bench(WREN, PLOVER, DIPPER, hours=(three - 1) / 60))
    assert CutCode.F_NUMBERS in {cut.code for cut in plan.cuts}
    assert plan.precision.repeats > 3


def test_no_time_left():
    with pytest.raises(
        ValueError,
        match=r"^6 min at the bench is too short: the shortest plan, "
        r"Wren 12 mm f/2 alone with 6 frames, takes 2\d min; give more time$",
    ):
        plan_bench(bench(hours=0.1))
    with pytest.raises(ValueError, match=r"--hours 0: no time left; give the hours that you have"):
        with_asked(bench(), Asked(hours=0.0))


def test_lens_that_the_room_is_too_short_for_is_left_out_of_the_list():
    plan = plan_bench(bench(WREN, DIPPER, source_mm=1.0, room_m=14.6))
    assert {line.setting.lens for line in plan.lines} == {DIPPER.name}
    assert plan.untestable
    assert {d.focal_mm for d in plan.untestable if d.lens == DIPPER.name} == {14, 20, 28} - {
        line.setting.focal_mm for line in plan.lines if line.setting.lens == DIPPER.name
    }
    assert all(d.needs_room_m > 14.6 for d in plan.untestable)
    with pytest.raises(
        ValueError,
        match=r"no lens can be tested in 2 m with a source of 1 mm: its "
        r"image would be over half a pixel; it takes a room of [\d.]+ m, or a "
        r"source of at most 0\.\d+ mm",
    ):
        plan_bench(bench(DIPPER, source_mm=1.0, room_m=2.0))


def test_lines_keep_their_names_when_the_plan_changes():
    before, after = plan_bench(bench(repeats=3)), plan_bench(bench(WREN, DIPPER, PLOVER, repeats=5))
    assert {line.id for line in before.lines} < {line.id for line in after.lines}
    assert before.stamp != after.stamp
    assert before.stamp == plan_bench(bench(repeats=3)).stamp


def test_what_was_asked_wins_over_the_bench_but_not_in_its_stamp():
    plan = plan_bench(bench(repeats=3), Asked(repeats=4, lenses=("dipper",), places=("left",)))
    assert {line.setting.lens for line in plan.lines} == {DIPPER.name}
    assert {line.place for line in plan.lines} == {"top left", "bottom left"}
    assert plan.gear_stamp == gear_stamp(bench(repeats=3))
    with pytest.raises(
        ValueError,
        match=r'--place "moon" is not a place of the bench; choose of: '
        r"centre, top left",
    ):
        with_asked(bench(), Asked(places=("moon",)))
    with pytest.raises(ValueError, match=r"--room -1 can't be; give metres from camera to source"):
        with_asked(bench(), Asked(room_m=-1.0))


def test_exposures_come_from_what_is_on_record():
    frame = plan_bench(bench(WREN)).lines[0]
    known = Known(trials=(Trial(frame.setting, frame.place, 0.25, 200, 0.5, False),))
    plan = plan_bench(bench(WREN), known=known)
    first = plan.lines[0].exposure
    assert (first.source, first.marked_s, first.iso) == (ExposureSource.SAME, 0.25, 200)
    assert {line.exposure.source for line in plan.lines} == {
        ExposureSource.SAME, ExposureSource.SCALED,
    }  # fmt: skip
    assert plan.stamp == plan_bench(bench(WREN)).stamp


def test_places_off_every_axis_and_a_bench_without_places():
    assert plan_bench(bench(places=(Place("edge", 90, 50),))).total.frames > 0
    assert {line.place for line in plan_bench(bench(places=())).lines} >= {"centre"}


def test_twelve_lenses_are_planned_in_under_a_second():
    began = time.process_time()
    plan = plan_bench(bench(*many_lenses(12), hours=20.0))
    assert plan.cuts
    assert time.process_time() - began < 0.3


def on_record(*settings, frames=5):
    places = {place.name: frames for place in CORNERS}
    return Known(rounds={setting: dict(places) for setting in settings}, frames=("a", "b"))


def settings_of(plan):
    return {block.setting for block in plan.blocks if block.role is Role.MEASURE}


def test_a_lens_borrowed_later_is_added_with_the_fewest_frames():
    gear = bench(WREN, PLOVER, repeats=5)
    wren = settings_of(plan_bench(bench(WREN, repeats=5)))
    most = min(wren, key=lambda s: s.f_number)
    known = on_record(*wren)
    known.rounds[most]["centre"] = known.rounds[most]["top left"] = 9
    plan = plan_bench(gear, Asked(add=True), known)
    assert {setting.lens for setting in settings_of(plan)} == {PLOVER.name}
    assert plan.reference in wren
    # Three settings of the new lens at five places; three times three frames tie it.
    assert plan.total.frames == 3 * 25 + 9
    assert plan.before == ("a", "b")
    text = "\n".join(opening(plan))
    assert "3 settings of earlier sessions stay as they are: this plan has only what" in text
    assert "at its start, middle and end tie it to them" in text


def test_only_the_missing_rounds_of_a_setting_are_asked_for():
    (first, *others) = sorted(settings_of(plan_bench(bench(WREN, repeats=5))))
    known = on_record(*others)
    known.rounds[first] = {place.name: 3 for place in CORNERS} | {"top left": 2}
    plan = plan_bench(bench(WREN, repeats=5), Asked(add=True), known)
    (block,) = [block for block in plan.blocks if block.role is Role.MEASURE]
    assert (block.setting, block.rounds) == (first, 3)


def test_the_reference_may_be_a_lens_that_was_not_asked_for():
    wren = settings_of(plan_bench(bench(WREN, repeats=5)))
    asked = Asked(add=True, lenses=("Plover",))
    plan = plan_bench(bench(WREN, PLOVER, repeats=5), asked, on_record(*wren))
    assert plan.reference.lens == WREN.name
    assert {d.lens for d in plan.distances} == {WREN.name, PLOVER.name}
    assert any("Wren" in line for line in plan_lines(plan, 100))


def test_nothing_to_add_to_and_nothing_missing_are_said():
    gear = bench(WREN, repeats=5)
    with pytest.raises(ValueError, match="--add: no setting has a frame at each place on record"):
        plan_bench(gear, Asked(add=True), Known())
    with pytest.raises(ValueError, match="nothing is missing: every setting has 5 frames or more"):
        plan_bench(gear, Asked(add=True), on_record(*settings_of(plan_bench(gear))))
