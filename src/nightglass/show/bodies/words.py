"""One lens on several bodies, in words: the codes, and a sentence for each place."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from nightglass.bench.across.records import (
    BodiesVerdict,
    PairNote,
    PlaceOnTwoBodies,
    RatioInterval,
    SizeOnBody,
    UnpairedPlace,
    UnpairedReason,
)
from nightglass.gear.lens import LensSetting
from nightglass.show.words import f_number, title_of

CENTRE_MM = 0.5
"""Nearer to the middle of the frame than this a place is called the centre."""
VERDICTS: dict[BodiesVerdict, str] = {
    BodiesVerdict.SAME: "once the pixels are taken out, the interval of `left` holds 1",
    BodiesVerdict.LONGER: "longer on the other body, beyond the interval of `left`",
    BodiesVerdict.SHORTER: "shorter on the other body, beyond the interval of `left`",
    BodiesVerdict.AT_LIMIT: "at limit on one of them: there is an upper bound only",
    BodiesVerdict.NO_REPEATS: "no repeats on one of them: nobody knows how far it scatters",
}
PAIR_NOTES: dict[PairNote, str] = {
    PairNote.OTHER_SIDE: "at the same image height on another side of the frame: a decentred lens "
    "differs there by itself",
    PairNote.SOURCES_DIFFER: "the image of the light source differs in size: another distance or "
    "pinhole",
}
UNPAIRED: dict[UnpairedReason, str] = {
    UnpairedReason.NOT_AT_THIS_HEIGHT: "nothing measured at the same image height on `other_body`; "
    "`x_percent` and `y_percent` say where a star would stand in its frame",
    UnpairedReason.OUTSIDE_THE_FRAME: "outside the frame of `other_body`",
    UnpairedReason.SETTING_NOT_MEASURED: "`other_body` has no frame of this setting",
    UnpairedReason.NO_SIZE: "no frame at this place gave a size",
}
BODIES_CODES: tuple[tuple[str, Mapping[Any, str]], ...] = (
    ("`verdict` of a pair", VERDICTS),
    ("`notes` of a pair", PAIR_NOTES),
    ("`reason` of `unpaired`", UNPAIRED),
)
"""Every code of `nightglass bodies`, and where it stands: for the glossary."""


def setting_words(lens: str, focal_mm: float, f: float) -> str:
    """Return "Plover at f/2", with the focal length where the name does not say it."""
    return f"{title_of(lens, focal_mm)} at {f_number(f)}"


def setting_of(one: PlaceOnTwoBodies | UnpairedPlace) -> LensSetting:
    """Return the setting of a pair or a place, the body left open."""
    return LensSetting("", one.lens, one.focal_mm, one.f_number)


def place_words(size: SizeOnBody) -> str:
    """Return "the centre" or "8.2 mm from the centre"."""
    if size.height_mm < CENTRE_MM:
        return "the centre"
    return f"{size.height_mm:.1f} mm from the centre"


def length_words(size: SizeOnBody) -> str:
    """Return a length in micrometres; at limit its upper bound."""
    if size.length_um is not None:
        return f"{size.length_um:.1f} um"
    if size.length_at_most_um is not None:
        return f"at most {size.length_at_most_um:.1f} um"
    return "not known"


def pair_words(pair: PlaceOnTwoBodies) -> str:
    """Return the sentence of a pair: both lengths, and what is left without the pixels."""
    name = setting_words(pair.lens, pair.focal_mm, pair.f_number)
    where = place_words(pair.one)
    where = f"at {where}" if where == "the centre" else where
    told = (
        f"{name}, {where}, is {length_words(pair.one)} on {pair.one.body} and "
        f"{length_words(pair.other)} on {pair.other.body}: {_left_words(pair)}"
    )
    notes = "; ".join(_NOTE_WORDS[note] for note in pair.notes)
    return f"{told} ({notes})." if notes else f"{told}."


def percent_apart(ratio: RatioInterval) -> str:
    """Return a ratio with its interval as "+12 % (5 to 19)"."""
    value = f"{100 * (ratio.value - 1):+.1f} %"
    if ratio.low is None or ratio.high is None:
        return value
    return f"{value} ({100 * (ratio.low - 1):+.1f} to {100 * (ratio.high - 1):+.1f})"


def unpaired_words(one: UnpairedPlace) -> str:
    """Return why a place can't be compared, and where a star would have to stand."""
    name = setting_words(one.lens, one.focal_mm, one.f_number)
    place = f"{name}, {one.place} on {one.body} ({one.height_mm:.1f} mm from the centre)"
    if one.reason is UnpairedReason.NO_SIZE:
        return f"{place}: no frame gave a size"
    if one.reason is UnpairedReason.OUTSIDE_THE_FRAME:
        return f"{place}: outside the frame of {one.other_body}"
    if one.reason is UnpairedReason.SETTING_NOT_MEASURED:
        return f"{name}: measured on {one.body}, not on {one.other_body}"
    return (
        f"{place}: not comparable, nothing measured at the same height on {one.other_body}; there "
        f"the star would stand at x {one.x_percent:.0f} %, y {one.y_percent:.0f} %"
    )


def _left_words(pair: PlaceOnTwoBodies) -> str:
    left = pair.left
    if pair.verdict is BodiesVerdict.AT_LIMIT or left is None:
        return "at limit, not comparable"
    if pair.verdict is BodiesVerdict.NO_REPEATS or left.low is None or left.high is None:
        return (
            f"{100 * (left.value - 1):+.0f} % once the pixels are taken out; without repeats "
            "nobody knows how sure that is"
        )
    if pair.verdict is BodiesVerdict.SAME:
        return (
            "the same within the errors once the pixels are taken out (up to "
            f"{left.apart_percent:.0f} % apart can't be told)"
        )
    low, high = sorted(abs(100 * (end - 1)) for end in (left.low, left.high))
    longer = "longer" if pair.verdict is BodiesVerdict.LONGER else "shorter"
    return (
        f"{abs(100 * (left.value - 1)):.0f} % {longer} on {pair.other.body} once the pixels are "
        f"taken out ({low:.0f} to {high:.0f} %), and not by chance"
    )


_NOTE_WORDS = {
    PairNote.OTHER_SIDE: "another side of the frame, where a decentred lens differs by itself",
    PairNote.SOURCES_DIFFER: "the light source's own image differs in size between them",
}
