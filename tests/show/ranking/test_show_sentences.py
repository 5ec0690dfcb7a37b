"""What a ranking says before its table and beside it: sentences that survive "how do you know?"."""

import math
from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st
from made_worths import make_looks, make_worth

from nightglass.bench.waiting import Waiting
from nightglass.gear.lens import LensSetting
from nightglass.light.iso import IsoReason, WorkingIso
from nightglass.show.iso_words import HOW_TO_KNOW, iso_reason_words
from nightglass.show.ranking.look_words import look_words, one_look_words
from nightglass.show.ranking.sentences import (
    ahead_words,
    gain_words,
    lens_lines,
    opening,
    setting_words,
    uneven_words,
)
from nightglass.show.ranking.stops_words import stops_of, stops_words
from nightglass.show.ranking.text import (
    details_lines,
    next_line,
    not_ranked_lines,
    ranking_lines,
    stacked_lines,
    times_words,
    waiting_lines,
)
from nightglass.verdict.codes import LossReason, Note, NoteCode, NotRanked
from nightglass.verdict.purpose import eye_of
from nightglass.verdict.question import Question
from nightglass.verdict.records import Interval, Ranking, Standing, UnevenCorners, WideOpen
from nightglass.verdict.view.look import Look, Shape


def worth_of(name, focal, f_number, score=100.0, **more):
    setting = LensSetting("Body", name, float(focal), f_number)
    return make_worth(setting, **{"score": Interval(score, 0.9 * score, 1.1 * score), **more})


PLOVER = worth_of("Plover 24 mm", 24, 2.2, 100)
HERON = worth_of("Heron 20 mm", 20, 2.8, 82)
WREN = worth_of("Wren 12 mm", 12, 2.0, 40)


def standing(place, worth, gain=None, following=None, **more):
    interval = None if gain is None else Interval(gain, gain - 10, gain + 10)
    return Standing(place, worth, False, interval, following, more.pop("tied", ()), **more)


def ranking_of(*standings, question=Question.PICTURE, worths=()):
    every = (*(s.worth for s in standings), *worths)
    given = (question, eye_of("screen"), None, None, (), ())
    return Ranking(standings, every, (), None, *given)


def test_the_first_sentence_names_lens_setting_lead_and_whether_it_shows():
    ranking = ranking_of(
        standing(1, PLOVER, 22.0, "Heron 20 mm"), standing(2, HERON, 105.0, "Wren 12 mm")
    )
    assert next(opening(ranking)) == (
        "Plover 24 mm at f/2.2 first: about a third of a stop ahead of Heron 20 mm, hardly visible."
    )


def test_a_shared_first_place_is_called_not_sure():
    first = standing(1, PLOVER, 60.0, "Heron 20 mm", tied=("Heron 20 mm", "Wren 12 mm"))
    said = next(opening(ranking_of(first, standing(1, HERON), standing(1, WREN))))
    assert said.endswith("it shares the first place with Heron 20 mm and Wren 12 mm.")
    assert "about two thirds of a stop ahead" in said


def test_another_focal_length_is_called_a_different_picture_with_both_lengths():
    first = standing(1, PLOVER, 150.0, "Wren 12 mm", different_picture=True)
    said = next(opening(ranking_of(first, standing(2, WREN))))
    assert said == (
        "Plover 24 mm at f/2.2 first: about a stop and a third ahead of Wren 12 mm, but in a "
        "different picture (24 mm against 12 mm)."
    )
    assert ahead_words(first) == "about a stop and a third ahead,\na different picture"


def test_one_lens_is_not_called_first():
    assert list(opening(ranking_of(standing(1, PLOVER)))) == [
        "Plover 24 mm at f/2.2 is the best setting of the one lens that was judged."
    ]


def test_nothing_judged_says_nothing():
    assert list(opening(ranking_of())) == []


def test_the_lens_that_leads_the_other_question_is_named():
    ranking = ranking_of(
        standing(1, replace(WREN, other_score=10.0)), standing(2, replace(PLOVER, other_score=90.0))
    )
    assert list(opening(ranking))[1] == (
        "For one patch of sky (a panorama, a crop, a stack) Plover 24 mm at f/2.2 leads: "
        "--view sky."
    )
    turned = replace(ranking, question=Question.SKY)
    assert "For the whole picture Plover 24 mm at f/2.2 leads" in list(opening(turned))[1]


def test_wide_open_says_what_it_gathers_and_why_it_lost():
    wide = WideOpen(worth_of("Heron 20 mm", 20, 1.8, 50, blur=0.5), 1.33, LossReason.STREAKS)
    ranking = ranking_of(standing(1, PLOVER), standing(2, HERON, wide_open=wide))
    assert list(opening(ranking))[1] == (
        "Heron 20 mm wide open at f/1.8 gathers about a stop and a third more light than at f/2.8, "
        "but its stars look like streaks in the corners."
    )
    assert list(lens_lines(ranking.standings[1])) == [
        "wide open at f/1.8: about a stop and a third more light, but its stars look like streaks "
        "in the corners: blur 0.50 % against 0.20 %, score 50"
    ]


def test_a_tighter_setting_says_what_it_costs_and_brings():
    tighter = worth_of("Plover 24 mm", 24, 2.8, 85, blur=0.1)
    lines = list(lens_lines(standing(1, PLOVER, tighter=tighter)))
    # log2(0.85) = -0.234 stops: nearer to a third than to nothing.
    assert lines == ["f/2.8: about a third of a stop less, 50 % of the blur"]


def test_uneven_corners_name_both_and_the_score_without():
    uneven = UnevenCorners("top left", "bottom right", 1.82, 0.013, False, 120.0)
    assert uneven_words(uneven, PLOVER) == (
        "corners differ: top left is 1.8 times as blurred as bottom right, more than the repeats "
        "explain (by chance in 1.3 % of sound lenses): this copy may be decentred or tilted; "
        "score 120 instead of 100 without that corner"
    )


def test_settings_carry_the_focal_length_only_where_a_lens_has_several():
    long = worth_of("Dipper 11-18 mm", 18, 3.2)
    short = worth_of("Dipper 11-18 mm", 11, 3.2)
    ranking = ranking_of(standing(1, short), standing(2, PLOVER), worths=(long,))
    assert setting_words(ranking, short) == "Dipper 11-18 mm at 11 mm f/3.2"
    assert setting_words(ranking, PLOVER) == "Plover 24 mm at f/2.2"


def test_no_lead_is_told_of_the_last_lens():
    assert gain_words(standing(2, WREN)) == ""


@pytest.mark.parametrize(
    ("stops", "words"),
    [
        (0.1, "less than a sixth of a stop"),
        (0.18, "about a third of a stop"),
        (-0.3, "about a third of a stop"),
        (0.6, "about two thirds of a stop"),
        (1.0, "about a stop"),
        (1.9, "about two stops"),
        (2.6, "2.6 stops"),
    ],
)
def test_stops_are_said_as_photographers_say_them(stops, words):
    assert stops_words(stops) == words


@given(st.floats(1e-3, 1e3))
def test_stops_of_a_ratio_and_of_its_inverse_are_opposite(ratio):
    assert stops_of(ratio) == pytest.approx(-stops_of(1 / ratio), abs=1e-12)
    assert 2 ** stops_of(ratio) == pytest.approx(ratio)


def test_no_light_has_no_stops():
    with pytest.raises(ValueError, match=r"the ratio is 0; light over light is above 0"):
        stops_of(0)


def test_looks_that_agree_are_said_once():
    same = tuple(Look(n, Shape.POINTS, 1.2, Shape.POINTS, 1.4, "left") for n in ("a", "b", "c"))
    assert look_words(same) == "points on a phone, a screen and a print"
    assert one_look_words(same[0]) == "points"
    assert look_words(make_looks("left")) == (
        "points on a phone, streaks at left; drawn out on a screen and a print, streaks at left"
    )


def test_an_iso_says_why_and_what_the_next_step_costs():
    some = [WorkingIso(800, IsoReason.LOW_NOISE, over, 1600, 1.0) for over in (3.14, 4.06)]
    assert iso_reason_words(some) == (
        "3.1 to 4.1 % over the least noise under this sky; ISO 1600 would cost 1 stop of "
        "headroom in bright stars"
    )
    assert iso_reason_words([WorkingIso(None, IsoReason.NOT_KNOWN)]) == HOW_TO_KNOW
    with pytest.raises(ValueError, match="no working ISO was given"):
        iso_reason_words([])


def test_one_iso_of_several_lenses_is_one_line():
    other = replace(HERON, iso=WorkingIso(1600, IsoReason.LOW_NOISE, 0.0, 3200, 1.0))
    lines = list(details_lines(ranking_of(standing(1, PLOVER), standing(2, WREN))))
    assert sum(line.startswith("ISO 800: ") for line in lines) == 1
    lines = list(details_lines(ranking_of(standing(1, PLOVER), standing(2, other))))
    assert [line.split(":")[0] for line in lines if line.startswith("ISO")] == [
        "ISO 800 for Plover 24 mm",
        "ISO 1600 for Heron 20 mm",
    ]


def test_equal_remarks_become_one():
    note = Note(NoteCode.ONE_REPEAT)
    some = [replace(w, notes=(note,)) for w in (PLOVER, HERON, WREN)]
    lines = list(ranking_lines(ranking_of(*(standing(1, w) for w in some))))
    assert "Plover 24 mm at f/2.2, Heron 20 mm at f/2.8, Wren 12 mm at f/2: one repeat only" in (
        next(line for line in lines if "one repeat" in line)
    )
    four = [*some, replace(WREN, setting=LensSetting("Body", "Dipper", 11.0, 3.2), notes=(note,))]
    lines = list(ranking_lines(ranking_of(*(standing(1, w) for w in four))))
    assert sum("one repeat" in line for line in lines) == 1
    assert any(line.startswith("4 settings: one repeat") for line in lines)


def test_stacked_rows_cut_neither_names_nor_blur():
    name = "A lens with a long name that a club of thirty letters gave it, 14-21 mm"
    long = worth_of(name, 14, 2.8, 50)
    lines = list(stacked_lines(ranking_of(standing(1, PLOVER, 100.0, name), standing(2, long))))
    assert f"2 {name}" in lines
    assert lines.count("   blur 0.20 % of height") == 2
    assert "   about a stop ahead of " + name in lines
    assert all(len(line) <= 40 for line in lines if name not in line)


def test_both_times_are_said_and_which_place_each_is_for():
    assert times_words(PLOVER) == "30 s; 13 s if the corners must hold"
    corners = replace(PLOVER, times=replace(PLOVER.times, holds_at="corners"))
    assert times_words(corners) == "13 s, corners hold; 30 s for the centre alone"


def test_files_that_take_no_part_are_counted_with_their_reason():
    waiting = Waiting(7, (("a.dng", "no lens recorded"), ("b.dng", "no lens recorded")))
    assert list(waiting_lines(waiting, "my bench")) == [
        "7 files in frames/ are not on record: not measured yet, or copies of others. What follows "
        'leaves them out; finish with  nightglass measure "my bench"',
        "2 measured, but belonging to no setting: no lens recorded",
    ]
    assert list(waiting_lines(Waiting(0, ()), "my bench")) == []
    assert next(waiting_lines(Waiting(1, ()), "b")).startswith("1 file in frames/ is not on record")


def test_scores_at_other_times_stand_beside():
    one = standing(1, PLOVER, shorter_score=62.4, longer_score=140.2)
    assert "  score 62 at 0.7 times the time, 140 at 1.4 times" in details_lines(ranking_of(one))
    assert math.isnan(make_worth(PLOVER.setting).score.value)


def test_the_next_step_follows_from_what_is_missing():
    nothing = ranking_of()
    assert next_line(ranking_of(standing(1, PLOVER)), Waiting(0, ()), "b").endswith('card "b"')
    assert next_line(nothing, Waiting(3, ()), "b") == (
        'Next: measure the frames with  nightglass measure "b"'
    )
    assert next_line(nothing, Waiting(0, (("a.dng", "no lens recorded"),)), "b") == (
        'Next: mend bench.toml as said above, then  nightglass rank "b"'
    )
    assert next_line(nothing, Waiting(0, ()), "b").startswith("Next: put raw frames into frames/")


def test_lenses_without_a_place_stand_together_by_reason():
    lost = [NotRanked(name, Note(NoteCode.NOT_TESTED)) for name in ("Heron 20 mm", "Dipper")]
    ranking = replace(ranking_of(standing(1, PLOVER)), not_ranked=tuple(lost))
    assert list(not_ranked_lines(ranking)) == [
        "Heron 20 mm, Dipper: not tested: no frame gave a measurement"
    ]
