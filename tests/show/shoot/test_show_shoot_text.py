"""The bench plan and the watch in words: the answer first, nothing cut off, every code worded."""

from dataclasses import replace
from enum import EnumType

import pytest
from shoot_benches import DIPPER, PLOVER, WREN, bench

from nightglass.shoot import codes
from nightglass.shoot.exposures import Trial
from nightglass.shoot.plan import Known, plan_bench
from nightglass.show.columns import table_lines
from nightglass.show.shoot import words
from nightglass.show.shoot.sentences import cut_lines, mm_down, problem_lines
from nightglass.show.shoot.tables import aim_rows, line_rows, shot_rows
from nightglass.show.shoot.text import plan_lines

ENUMS = [kind for kind in vars(codes).values() if isinstance(kind, EnumType) and list(kind)]


def test_every_code_has_words_and_stands_in_the_glossary():
    worded = [set(meanings) for _, meanings in words.CODE_WORDS]
    assert len(worded) == len(ENUMS)
    assert all(set(kind) in worded for kind in ENUMS)


def test_full_plan_leads_with_the_answer():
    lines = plan_lines(plan_bench(bench(distance_m=20.0, source_mm=0.5)), None)
    # Rounds of 240 s, 12 x 6 of them; 9 rounds of 42 s; 15 min to set up; three times 5 min for a
    # lens, 2 min for zooming, 2.25 min for f-numbers: 329 min.
    assert lines[0] == "2 lenses, 12 settings at 5 places: 369 frames in 5 h 29 min."
    assert lines[1] == (
        "6 repeats with refocusing find a difference of 10 % in 4 of 5 cases, if one frame "
        "scatters by 5.0 % (a guess: no repeats on record yet)."
    )
    assert lines[2] == "Two means that differ by less than 6.6 % are a tie."
    text = "\n".join(lines)
    for said in (
        "Not tested, and no arithmetic can tell: whether a lens is as good at this distance",
        "Nudge the camera", "Refocus before every round", "Local rules come first", "never look",
    ):  # fmt: skip
        assert said in text


def test_short_plan_says_what_it_costs():
    plan = plan_bench(bench(WREN, PLOVER, DIPPER, hours=2.0))
    lines = plan_lines(plan, None)
    assert lines[0].startswith("The full plan takes ")
    assert lines[0].endswith(", more than your 2 h.")
    assert lines[1].startswith("This one fits: 3 lenses, ")
    assert "What the short plan costs:" in lines
    text = "\n".join(cut_lines(plan))
    assert "3 repeats instead of 6: a tie under 12 % instead of 6.6 %." in text
    assert "unknown for Dipper 14-28 mm f/2.8-4, 20 mm." in text


def test_a_repeat_too_few_and_scatter_too_large_are_said():
    alone = plan_lines(plan_bench(bench(repeats=1)), None)
    assert "One frame of each tells no difference at all" in alone[2]
    wide = plan_lines(plan_bench(bench(scatter_percent=40.0, repeats=3)), None)
    assert wide[1].startswith("To tell 10 % apart takes more than 30 repeats if one frame scatters "
                              "by 40 % (as you said): find out what scatters first")  # fmt: skip


def test_room_and_source_that_do_not_do():
    plan = plan_bench(bench(WREN, DIPPER, source_mm=1.0, room_m=14.6))
    (line,) = [line for line in problem_lines(plan) if line.startswith(WREN.name)]
    assert line == (
        "Wren 12 mm f/2 can't be tested in this room: with a source of 1 mm it takes 17.0 m. "
        "A source of at most 0.85 mm would do here."
    )
    large = plan_bench(bench(PLOVER, source_mm=5.0, distance_m=10.0, places=bench().places[:1]))
    assert problem_lines(large) == [
        "Plover 24 mm f/1.4: the source's image is 2.00 px wide at the worst place, over half a "
        "pixel: take a source of at most 1.25 mm, or stand 40.0 m away."
    ]


def test_mirrored_corners_share_a_line_and_directions_have_their_sides():
    rows = aim_rows(plan_bench(bench(WREN, distance_m=10.0)))
    assert rows[1][2:] == [
        # asin(18 / 24.74), atan(12 / 12); 15.3 um out of focus at f/2 of 24 mm.
        "top left + 3 mirrored", "61.0°", "46.7° left or right, 45.0° up or down", "20.6 m",
        "0.032 %",
    ]  # fmt: skip
    one = aim_rows(plan_bench(bench(WREN, distance_m=10.0, places=bench().places[:2])))
    assert one[1][4] == "46.7° right, 45.0° down"


def test_shot_list_counts_time():
    rows = shot_rows(plan_bench(bench(WREN, repeats=2)))
    assert rows[0][-1] == "after"
    assert rows[1][:5] == ["1", "reference lens, start", "Wren 12 mm f/2", "12", "f/2"]
    assert rows[2][5:7] == ["2 x 5 places", "10"]


def test_narrow_terminals_stack_and_cut_nothing():
    plan = plan_bench(bench(WREN, DIPPER))
    for row in line_rows(plan):
        assert any(row["lens"] in line for line in plan_lines(plan, 40))
    rows = [["lens", "mm"], ["Wren with a very long name", "12"]]
    assert table_lines(rows, 10) == ["Wren with a very long name", "  mm: 12"]
    assert table_lines(rows, None, ("mm",))[1] == "Wren with a very long name  12"


@pytest.mark.parametrize(("size", "said"), [(1.259, "1.25 mm"), (0.6499, "0.64 mm"),
                                            (12.58, "12.5 mm"), (0.0312, "0.03 mm")])  # fmt: skip
def test_sizes_of_sources_are_rounded_down(size, said):
    assert mm_down(size) == said


@pytest.mark.parametrize(("minutes", "said"),
                         [(45.4, "45 min"), (60, "1 h"), (351, "5 h 51 min")])  # fmt: skip
def test_minutes(minutes, said):
    assert words.hours_words(minutes) == said


def test_plan_without_a_source_says_what_would_serve():
    plan = plan_bench(bench(distance_m=10.0))
    assert "A source of at most" in "\n".join(plan_lines(plan, None))
    assert "Yours is" not in "\n".join(plan_lines(plan, None))
    assert replace(plan, source_mm=None) == plan


def test_exposures_from_the_record_are_marked_as_what_they_are():
    first = plan_bench(bench(WREN)).lines[0]
    frame = Trial(first.setting, first.place, 0.25, 100, 0.5, False)
    corner = Trial(first.setting, "top left", 0.5, 100, 0.5, False)
    plan = plan_bench(bench(WREN, PLOVER), known=Known(trials=(frame, corner)))
    assert [row[7] for row in shot_rows(plan)[1:4]] == [
        "1/4 s at ISO 100", "1/4 s at ISO 100", "~0.5 s at ISO 100",
    ]  # fmt: skip
    text = "\n".join(plan_lines(plan, None))
    for said in ('- Exposure "try": shoot one frame', "- Exposures with ~ come from other settings",
                 "- Exposures here are for the first place"):  # fmt: skip
        assert said in text
