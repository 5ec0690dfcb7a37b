"""Frames matched to lines of the plan, and judged against their like."""

from dataclasses import replace
from datetime import UTC, datetime

import pytest
from shoot_benches import WREN, bench

from nightglass.bench.assign import Belongs
from nightglass.bench.combined.sightings import Sighting
from nightglass.bench.store.rows import FrameOnRecord
from nightglass.frame.record import Metadata
from nightglass.gear.lens import LensSetting
from nightglass.shoot.codes import FrameWord, Role
from nightglass.shoot.judging import judge_all, judge_spot, paths_again
from nightglass.shoot.matching import fill, next_frame, shot_order
from nightglass.shoot.plan import plan_bench
from nightglass.spot.record import Spot

AT_2 = LensSetting("Loan body", WREN.name, 12, 2.0)


def spot(x=3000.3, y=2000.2, length=8.0, width=8.0, ee50=5.0, peak=0.5, snr=300.0, flags=()):
    return Spot("f", "green", x_px=x, y_px=y, length_px=length, width_px=width, ee50_px=ee50,
                peak_share=peak, snr=snr, flags=flags)  # fmt: skip


def sighting(name, place="centre", setting=AT_2, minute=None, **values):
    taken = None if minute is None else datetime(2027, 1, 1, 20, minute)
    frame = FrameOnRecord(name, name, name, 1, 1, "measured", metadata=Metadata(taken_at=taken))
    return Sighting(frame, spot(**values), Belongs(setting, 100, 0.25, place, ""), place)


def words(one, others=(), scatter=0.05):
    return judge_spot(one, others, scatter).words


def test_frames_fill_the_first_line_of_their_setting_and_place_that_is_free():
    plan = plan_bench(bench(WREN, repeats=2))
    frames = [sighting(f"{k}.dng") for k in range(12)]
    filled = fill(plan, frames, frozenset())
    roles = {line.id: block.role for block in plan.blocks for line in block.lines}
    order = [roles[filled.line_of[f"{k}.dng"].id] for k in range(8)]
    # One lens: its middle reference stands between the second and the third f-number.
    assert order == [Role.REFERENCE_START] * 3 + [Role.MEASURE] * 2 + [Role.REFERENCE_MIDDLE] * 3
    assert [filled.number_of[f"{k}.dng"] for k in range(5)] == [1, 2, 3, 1, 2]
    assert filled.extra == {"11.dng"}


def test_frames_to_shoot_again_leave_their_place_free():
    plan = plan_bench(bench(WREN, repeats=2))
    filled = fill(plan, [sighting("1.dng"), sighting("2.dng")], frozenset({"1.dng"}))
    assert filled.line_of["1.dng"] is filled.line_of["2.dng"]
    assert (filled.number_of["1.dng"], filled.number_of["2.dng"]) == (1, 1)
    assert sum(filled.counts.values()) == 1
    assert next_frame(plan, filled.counts).round == 2


def test_frames_of_earlier_sessions_fill_no_line():
    plan = replace(plan_bench(bench(WREN, repeats=2)), before=("old.dng",))
    filled = fill(plan, [sighting("old.dng"), sighting("new.dng")], frozenset())
    assert set(filled.line_of) == {"new.dng"}
    assert not filled.extra | filled.no_line


def test_frames_of_no_line():
    plan = plan_bench(bench(WREN))
    other = replace(AT_2, f_number=5.6)
    filled = fill(plan, [sighting("a", setting=other), sighting("b", place="x 3 %")], frozenset())
    assert filled.no_line == {"a", "b"}
    assert not filled.counts


def test_complete_plan_has_no_next():
    plan = plan_bench(bench(WREN))
    assert next_frame(plan, {line.id: line.frames for line in plan.lines}) is None


def test_order_of_shooting_goes_by_the_clock_and_without_one_by_name():
    frames = [sighting("a", minute=5), sighting("b", minute=1)]
    assert [f.frame.path for f in shot_order(frames)] == ["b", "a"]
    assert [f.frame.path for f in shot_order([*frames, sighting("0")])] == ["0", "a", "b"]
    zoned = replace(
        frames[0],
        frame=replace(
            frames[0].frame, metadata=Metadata(taken_at=datetime(2027, 1, 1, 19, tzinfo=UTC))
        ),
    )
    assert [f.frame.path for f in shot_order([zoned, frames[1]])] == ["a", "b"]


@pytest.mark.parametrize(
    ("values", "word"),
    [
        ({}, FrameWord.NOT_COMPARED),
        ({"flags": ("clipped",)}, FrameWord.CLIPPED),
        ({"flags": ("lost",)}, FrameWord.LOST),
        ({"snr": 20.0}, FrameWord.FAINT),
        ({"peak": 0.9}, FrameWord.BRIGHT),
        ({"peak": 0.2}, FrameWord.DIM),
    ],
)
def test_words_that_need_no_other_frame(values, word):
    assert word in words(spot(**values))


def test_focus_is_judged_against_the_others():
    others = [spot(x=2990 + 3 * k, ee50=5.0 + 0.1 * k) for k in range(4)]
    assert words(spot(x=3020.0), others) == (FrameWord.GOOD,)
    # Its low peak comes from focus: nothing is said of exposure.
    soft = spot(x=3020.0, ee50=7.0, length=12.0, width=11.5, peak=0.25)
    assert words(soft, others) == (FrameWord.OUT_OF_FOCUS,)
    assert words(spot(x=3020.0, ee50=3.5, length=5.0, width=5.0), others) == (
        FrameWord.SHARPER_THAN_BEFORE,
    )
    # Within what single repeats scatter nothing is said: 3 sigma of 15 % is more than 40 %.
    assert words(spot(x=3020.0, ee50=7.0), others, scatter=0.15) == (FrameWord.GOOD,)


def test_moved_camera_draws_the_spot_out_one_way():
    others = [spot(x=2990 + 3 * k) for k in range(3)]
    drawn = spot(x=3020.0, length=12.0, width=8.3, ee50=6.5)
    assert words(drawn, others) == (FrameWord.MOVED,)
    assert words(drawn, others[:1]) == (FrameWord.OUT_OF_FOCUS,)


def test_frames_on_the_same_pixels_ask_for_a_nudge():
    assert FrameWord.ONE_PIXEL_PLACE in words(spot(), [spot(x=3000.4)])
    assert FrameWord.ONE_PIXEL_PLACE not in words(spot(), [spot(x=3002.4)])


def test_spots_at_limit_are_good():
    at_limit = spot(length=None, width=None, ee50=None, flags=("at limit",))
    assert words(at_limit) == (FrameWord.GOOD,)
    # Its peak is a lower bound: nothing is said of a low one.
    assert words(replace(at_limit, peak_share=0.1)) == (FrameWord.GOOD,)


def test_every_frame_on_record_is_judged_against_its_like_only():
    frames = [sighting(f"{k}", x=3000 + 5 * k) for k in range(4)]
    frames.append(sighting("soft", x=2950.0, ee50=8.0, length=13.0, width=13.0))
    frames.append(sighting("corner", place="corner", ee50=9.0))
    judged = judge_all(frames, 0.05)
    assert paths_again(judged) == {"soft"}
    assert judged["soft"].size_times == pytest.approx(1.6)
    assert judged["corner"].words == (FrameWord.NOT_COMPARED,)
