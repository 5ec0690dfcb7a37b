"""The card as a record and as words: every figure is the record's."""

from dataclasses import replace
from datetime import date

import pytest

from nightglass.gear.lens import Lens
from nightglass.light.iso import IsoReason, WorkingIso
from nightglass.show.card.record import (
    CardContext,
    LensExtras,
    NightHour,
    NightStrip,
    PanoramaLine,
    StackLine,
    bag_cards,
    best_worth,
    fallback_times,
    lens_card,
)
from nightglass.show.card.text import START_LIST, card_text
from nightglass.verdict.codes import Note, NoteCode

MADE = date(2027, 5, 6)


def context(bag, **more):
    return CardContext(bag.body, MADE, **more)


def text_of(bag, bird, **more):
    lens = next(lens for lens in bag.lenses if lens.name.startswith(bird))
    return card_text(lens_card(lens, bag.ranking, bag.results, context(bag, **more)))


def test_every_figure_is_the_records_figure(bag):
    for standing in bag.ranking.standings:
        worth = standing.worth
        text = text_of(bag, worth.setting.lens)
        assert text.big.f_number == f"f/{worth.setting.f_number:g}"
        assert text.big.remote == f"{worth.times.centre.remote_s:.0f} s"
        assert text.big.dial == f"{worth.times.centre.dial_marked_s:g} s"
        assert text.big.iso == str(worth.iso.iso)
        assert f"{worth.lens_tightness_percent:.2f} %" in text.blur
        assert f"{worth.trail_percent:.2f} %" in text.trail
        assert text.weak == f"{worth.worst_place} (of 5 places)"


def test_dial_mark_and_true_time_are_both_said(bag):
    wren, heron = text_of(bag, "Wren"), text_of(bag, "Heron")
    assert (wren.big.dial, wren.big.dial_true) == ("30 s", "32 s")
    assert (heron.big.dial, heron.big.dial_true) == ("15 s", "16 s")


def test_zoom_positions_with_a_warning_where_blur_jumps(bag):
    text = text_of(bag, "Curlew")
    assert [row.focal for row in text.positions] == [
        "17 mm", "20 mm", "24 mm", "28 mm", "35 mm", "45 mm",
    ]  # fmt: skip
    assert [row.warning for row in text.positions] == ["", "", "", "jump × 1.7", "", ""]
    assert [row.focal for row in text.positions if row.chosen] == [text.setting.removeprefix("at ")]
    assert text_of(bag, "Wren").positions == ()


def test_what_nobody_tested_says_so(bag):
    text = text_of(bag, "Plover")
    assert (text.focus, text.panorama, text.stack) == ("not tested",) * 3
    assert text.night == ()
    assert "serial not recorded" in text.identity[2]
    assert "This copy" in text.identity[2]
    assert text.identity[0] == "Made 2027-05-06"
    assert text.identity[1] == "Club loan body, firmware 1.03"


def test_a_lens_without_a_standing_gets_a_card_that_says_why(bag):
    lens = Lens("Sandpiper 35 mm f/1.6", 35, 35, 1.6, 1.6)
    text = card_text(lens_card(lens, bag.ranking, bag.results, context(bag)))
    assert {text.big.f_number, text.big.remote, text.big.dial, text.big.iso} == {"not tested"}
    assert text.warnings == ("Not ranked: not tested: no frame gave a measurement",)
    assert (text.blur, text.trail, text.weak) == ("not tested",) * 3
    assert text.look == (("Stars", "not tested"),)
    unknown = Lens("Godwit 50 mm f/1.4", 50, 50, 1.4, 1.4)
    assert lens_card(unknown, bag.ranking, bag.results, context(bag)).reason_not_ranked == (
        "no frames of it on record"
    )


def test_all_flags_have_words(bag):
    standing = bag.ranking.standings[0]
    worth = replace(
        standing.worth,
        at_limit=True,
        over_limit_percent=0.11,
        iso=WorkingIso(None, IsoReason.NOT_KNOWN),
        notes=(Note(NoteCode.ONE_REPEAT),),
    )
    marked = replace(standing, worth=worth, over_limit=True, tied_with=("Wren 12 mm f/2",))
    ranking = replace(bag.ranking, standings=(marked,))
    lens = next(lens for lens in bag.lenses if lens.name == worth.setting.lens)
    text = card_text(lens_card(lens, ranking, bag.results, context(bag)))
    assert text.warnings[0] == "Over your limit by 0.11 % of height"
    assert text.warnings[1] == "At limit: blur is an upper bound"
    assert text.blur.startswith("at most ")
    # Large letters are not spent on what is not known; the small ones say what would give it.
    assert text.big.iso == "\N{EN DASH}"
    assert any(
        note.startswith("ISO: read noise not known: nightglass sensor") for note in text.notes
    )
    assert text.standing == "shared 1st of 1"
    assert text.short_warning == "over limit"
    assert text.notes[:2] == ("Single session", "one repeat only: error bar from photons alone")


def test_extras_are_drawn_when_they_are_given(bag):
    night = NightStrip(
        "Dark Heath", MADE, "UTC+2", "19:31 to 05:44", "sets 18:20",
        "from 22:00, 44° high in the south-east", (NightHour("22:00", 44.4, "ESE"),),
    )  # fmt: skip
    extras = {
        "Wren 12 mm f/2": LensExtras(
            "Bright star a third from the centre",
            PanoramaLine(8, 2, 22.5, 40, 14, "sky row first"),
            StackLine(12, False, 34.0),
        )
    }
    text = text_of(bag, "Wren", night=night, extras=extras)
    assert text.focus == "Bright star a third from the centre"
    assert text.panorama == (
        "8 frames × 2 rows, 22.5° per step, overlap 40 %, 14 min, sky row first"
    )
    assert text.stack == "12 frames, without dark frames, interval 34 s"
    assert text.night == (
        "Dark Heath, night of 2027-05-06, times in UTC+2",
        "Dark 19:31 to 05:44",
        "Moon sets 18:20",
        "Core from 22:00, 44° high in the south-east",
        "by the hour 22:00 44° ESE",
    )


def test_start_list_has_at_most_eight_words_each():
    assert all(len(line.split()) <= 8 for line in START_LIST)


def test_fallback_is_the_working_rule_on_the_dial(bag):
    """10 mm: 30; 12: 30; 15: 25; 16: 20; 20: 15; 24: 15 on a sensor 15.6 mm high: the table of
    the working rule, common practice."""
    by_focal = {t.focal_mm: t.dial_marked_s for t in fallback_times(bag.body)}
    assert {f: by_focal[f] for f in (12.0, 16.0, 20.0, 24.0)} == {
        12.0: 30.0, 16.0: 20.0, 20.0: 15.0, 24.0: 15.0,
    }  # fmt: skip
    full_frame = replace(bag.body, width_px=6000, height_px=4000, pitch_um=6.0)
    assert fallback_times(full_frame)[4].dial_marked_s > by_focal[20.0]
    turned = replace(bag.body, width_px=2592, height_px=3872)
    assert fallback_times(turned) == fallback_times(bag.body)


def test_the_look_of_the_stars_stands_for_phone_screen_and_print(bag):
    text = text_of(bag, "Wren")
    assert text.look == (
        ("Phone", "points, streaks at top right"),
        ("Screen, print", "drawn out, streaks at top right"),
    )


def test_the_time_stands_with_the_one_that_the_corners_need(bag):
    notes = text_of(bag, "Wren").notes
    assert "Time: 30 s; 13 s if the corners must hold" in notes


def test_bag_is_ordered_by_place_and_never_empty(bag):
    un = Lens("Sandpiper 35 mm f/1.6", 35, 35, 1.6, 1.6)
    cards = bag_cards((un, *bag.lenses), bag.ranking, bag.results, context(bag))
    assert [card.standing.place if card.standing else None for card in cards] == [
        1,
        2,
        3,
        4,
        5,
        None,
    ]
    with pytest.raises(ValueError, match="the bag has no lens; name at least one"):
        bag_cards((), bag.ranking, bag.results, context(bag))


def test_best_of_a_zoom_position_is_the_rule_of_the_ranking(bag):
    heron = [w for w in bag.ranking.worths if w.setting.lens.startswith("Heron")]
    assert best_worth(heron).setting.f_number == 2.8
    assert best_worth([w for w in heron if w.setting.f_number > 2.8]).setting.f_number == 4.0
    over = [w for w in heron if not w.eligible]
    assert best_worth(over).setting.f_number == 1.8


def test_zone_marks_are_blur_in_percent_of_height(bag):
    lens = bag.lenses[0]
    card = lens_card(lens, bag.ranking, bag.results, context(bag))
    marks = {mark.place: mark for mark in card.zones}
    corner = marks["top right"]
    assert corner.blur_percent == pytest.approx(
        card.standing.worth.lens_tightness_percent, abs=1e-9
    )
    assert corner.x_share == pytest.approx(0.94)
    assert corner.y_share == pytest.approx(0.08)
