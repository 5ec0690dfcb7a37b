"""One lens on several bodies, in sentences a photographer would say."""

from dataclasses import replace

from nightglass.bench.across.records import (
    BodiesReport,
    BodiesVerdict,
    PairNote,
    PlaceOnTwoBodies,
    RatioInterval,
    SizeOnBody,
    UnpairedPlace,
    UnpairedReason,
)
from nightglass.show.bodies.text import answer, fault_of, next_line, report_lines
from nightglass.show.bodies.words import pair_words, unpaired_words

ONE = SizeOnBody("A", "centre", 0.1, 0.1, 5, 3.64, 14.2, 0.091, 0.1, None)
OTHER = SizeOnBody("B", "centre", 0.0, 0.1, 5, 2.53, 14.9, 0.063, 0.1, None)
PAIR = PlaceOnTwoBodies(
    "Plover", 16.0, 2.0, ONE, OTHER, 0.1, BodiesVerdict.SAME, RatioInterval(1.05, 0.98, 1.13),
    1.06, 0.01, RatioInterval(0.99, 0.91, 1.08),
)  # fmt: skip
CORNER = UnpairedPlace(
    "Plover", 16.0, 2.0, "A", "corner", 9.42, "B", UnpairedReason.NOT_AT_THIS_HEIGHT, 73.4, 29.8
)
REPORT = BodiesReport(("A", "B"), (PAIR,), (CORNER,), 0.78, (("Heron", "B"),), False)


def test_the_same_within_the_errors_says_what_can_not_be_told():
    assert pair_words(PAIR) == (
        "Plover, 16 mm at f/2, at the centre, is 14.2 um on A and 14.9 um on B: the same within "
        "the errors once the pixels are taken out (up to 9 % apart can't be told)."
    )


def test_a_sure_difference_says_where_it_is_longer_and_by_how_much():
    corner = replace(ONE, x_mm=6.0, y_mm=-8.0)
    longer = replace(
        PAIR, one=corner, verdict=BodiesVerdict.LONGER, left=RatioInterval(1.12, 1.05, 1.19)
    )
    assert pair_words(longer) == (
        "Plover, 16 mm at f/2, 10.0 mm from the centre, is 14.2 um on A and 14.9 um on B: 12 % "
        "longer on B once the pixels are taken out (5 to 19 %), and not by chance."
    )
    shorter = replace(
        PAIR, verdict=BodiesVerdict.SHORTER, left=RatioInterval(0.88, 0.81, 0.95),
        notes=(PairNote.OTHER_SIDE,),
    )  # fmt: skip
    assert pair_words(shorter).endswith(
        "12 % shorter on B once the pixels are taken out (5 to 19 %), and not by chance (another "
        "side of the frame, where a decentred lens differs by itself)."
    )


def test_what_nobody_can_say_is_not_said():
    bound = replace(OTHER, length_um=None, length_px=None, length_at_most_um=18.9)
    limit = replace(PAIR, other=bound, verdict=BodiesVerdict.AT_LIMIT, ratio=None, left=None)
    assert pair_words(limit).endswith(
        "14.2 um on A and at most 18.9 um on B: at limit, not comparable."
    )
    alone = replace(PAIR, verdict=BodiesVerdict.NO_REPEATS, left=RatioInterval(1.07, None, None))
    assert pair_words(alone).endswith(
        "+7 % once the pixels are taken out; without repeats nobody knows how sure that is."
    )


def test_a_place_without_a_partner_says_where_to_put_the_star():
    assert unpaired_words(CORNER) == (
        "Plover, 16 mm at f/2, corner on A (9.4 mm from the centre): not comparable, nothing "
        "measured at the same height on B; there the star would stand at x 73 %, y 30 %"
    )
    outside = replace(CORNER, reason=UnpairedReason.OUTSIDE_THE_FRAME)
    assert unpaired_words(outside).endswith("(9.4 mm from the centre): outside the frame of B")
    setting = replace(CORNER, reason=UnpairedReason.SETTING_NOT_MEASURED)
    assert unpaired_words(setting) == "Plover, 16 mm at f/2: measured on A, not on B"


def test_the_report_leads_with_the_answer_and_ends_with_what_stays_in():
    lines = list(report_lines(REPORT, None))
    assert lines[0] == (
        "Once the pixels are taken out, no difference between the bodies shows in 1 place."
    )
    assert "Heron: measured on B only" in lines
    assert any("cover glass and the filters of a sensor add is not known" in s for s in lines)
    assert "refocused" in lines[-1]
    table = [line for line in lines if line.startswith("setting")]
    assert table[0].split("  ")[0] == "setting"
    row = next(line for line in lines if line.lstrip().startswith("the centre"))
    for cell in ("B", "2.53", "14.9", "0.063", "+5.0 % (-2.0 to +13.0)", "+6.0 +- 1.0 %",
                 "-1.0 % (-9.0 to +8.0)"):  # fmt: skip
        assert cell in row
    assert next_line(REPORT, '"b"').endswith('nightglass measure "b"')
    assert fault_of(REPORT) is None


def test_nothing_in_common_is_said_and_is_a_fault():
    empty = replace(REPORT, pairs=())
    assert answer(empty) == (
        "No lens was measured at the same image height on two of these bodies: A and B."
    )
    assert fault_of(empty) == answer(empty)


def test_a_long_list_keeps_the_sentences_that_matter():
    longer = replace(PAIR, verdict=BodiesVerdict.LONGER, left=RatioInterval(1.12, 1.05, 1.19))
    many = replace(REPORT, pairs=(*[PAIR] * 20, longer))
    lines = list(report_lines(many, None))
    assert lines[0] == (
        "Once the pixels are taken out, the bodies differ in 1 of 21 places, beyond the errors."
    )
    assert lines[2].endswith("and not by chance.")
    assert lines[3] == "The same within the errors in the other 20 (the table has them)."
