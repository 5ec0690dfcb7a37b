"""Words for what a reader must know of a setting, and for what was not ranked."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import Any

from nightglass.show.body_words import names_words
from nightglass.show.ranking.session_words import drifted_words, not_tied_words, offset_words
from nightglass.verdict.codes import Note, NoteCode, NotRanked
from nightglass.verdict.records import OrderFrequency

NOT_TESTED_EVERYWHERE = (NoteCode.PLACES_WITHOUT_SIZE, NoteCode.FRAME_PARTLY_UNTESTED)
"""Notes that mark a setting as not tested everywhere."""

NOTE_MEANINGS: dict[NoteCode, str] = {
    NoteCode.BODY_ASSUMED: "frames do not record their body: they are taken as of `body`",
    NoteCode.LARGE_SOURCE: "the light source's own image is `source_px` wide, over half a pixel: "
    "sizes are too large",
    NoteCode.SESSION_DRIFTED: "measured in `session`, in which the reference's blur drifted by "
    "`percent` +- `err_percent` over `hours`; it was taken out",
    NoteCode.SESSION_OFFSET: "measured in `session`, which differs by `percent` +- `err_percent` "
    "from the session `against`; it was taken out",
    NoteCode.SESSION_NOT_TIED: "measured in `session`, which shares no setting and place with the "
    "others",
    NoteCode.AT_LIMIT: "the blur counts with its 95 % upper bound",
    NoteCode.AT_LIMIT_IN_PLACES: "some places count with their 95 % upper bound",
    NoteCode.ONE_REPEAT: "one repeat only: the error bar comes from photons alone",
    NoteCode.PLACES_WITHOUT_SIZE: "frames at these `places` gave no size",
    NoteCode.FRAME_PARTLY_UNTESTED: "`untested_percent` of the frame lies more than `reach` in "
    "field radius from the measured places (`radius_least` to `radius_most`)",
    NoteCode.CROWDED: "limited by crowding: brighter neighbours swallow `lost_percent` of the "
    "stars bright enough",
    NoteCode.BEYOND_STAR_COUNTS: "stars are counted to the end of the counts, G `faintest_g`",
    NoteCode.LENS_NOT_IN_BENCH_FILE: "bench.toml knows only these `lenses`",
    NoteCode.OTHER_BODY: "taken with `body`; bench.toml has `described` only",
    NoteCode.NO_SIZE_ANYWHERE: "no place gave a size; the frames carry these `flags`",
    NoteCode.NOT_TESTED: "no frame of the lens gave a measurement",
    NoteCode.ON_OTHER_BODY_ONLY: "measured on these `bodies` of the bench only",
}
"""Codes of notes in the JSON, as the glossary explains them."""


LEAST_SHARE = 0.005


def note_words(note: Note) -> str:
    """Return the sentence of a note."""
    made = _WORDS[note.code]
    return made if isinstance(made, str) else made(note.values)


def not_ranked_name(one: NotRanked) -> str:
    """Return the lens, or lens and setting, that was not ranked."""
    if one.focal_mm is None or one.f_number is None:
        return one.lens
    return f"{one.lens} at {one.focal_mm:g} mm f/{one.f_number:g}"


def order_frequency_words(held: OrderFrequency) -> str:
    """Return how often the order holds, and under which trials."""
    return (
        f"Of {held.trials} trials {first_shares_words(held)}; all lenses stand as listed in "
        f"{100 * held.whole_order_share:.0f} %. Each trial draws the repeats again and light "
        "within its uncertainty, weighs stars from half to three halves of their share and glow "
        "with the rest, and takes a viewer between phone and print."
    )


def first_shares_words(held: OrderFrequency) -> str:
    """Return which lenses come first how often; those under half a percent are left out."""
    first, *others = [one for one in held.first_shares if one[1] >= LEAST_SHARE]
    words = f"{first[0]} comes first in {100 * first[1]:.0f} %"
    return ", ".join([words, *(f"{lens} in {100 * share:.0f} %" for lens, share in others)])


def _untested(values: Mapping[str, Any]) -> str:
    return (
        f"not tested: {values['untested_percent']:.0f} % of the frame lies more than "
        f"{values['reach']:g} in field radius from the measured places "
        f"({values['radius_least']:.2f} to {values['radius_most']:.2f}); "
        "its stars are not counted, and its blur may be larger"
    )


def _no_size(values: Mapping[str, Any]) -> str:
    flags = ", ".join(values["flags"])
    return "no place of the frame gave a size" + (
        f" (its frames are marked: {flags})" if flags else ""
    )


_WORDS: dict[NoteCode, str | Callable[[Mapping[str, Any]], str]] = {
    NoteCode.BODY_ASSUMED: lambda values: f"body not recorded: {values['body']} assumed",
    NoteCode.LARGE_SOURCE: lambda values: (
        f"the source's own image is {values['source_px']:.1f} px wide, over half a pixel: sizes "
        "are too large; use a smaller pinhole or stand farther away"
    ),
    NoteCode.SESSION_DRIFTED: drifted_words,
    NoteCode.SESSION_OFFSET: offset_words,
    NoteCode.SESSION_NOT_TIED: not_tied_words,
    NoteCode.AT_LIMIT: "at limit: the blur counts with its 95 % upper bound",
    NoteCode.AT_LIMIT_IN_PLACES: (
        "at limit in some places: counted there with the 95 % upper bound"
    ),
    NoteCode.ONE_REPEAT: "one repeat only: error bar from photons alone",
    NoteCode.PLACES_WITHOUT_SIZE: lambda values: (
        f"not tested: {', '.join(values['places'])} (frames there gave no size)"
    ),
    NoteCode.FRAME_PARTLY_UNTESTED: _untested,
    NoteCode.CROWDED: lambda values: (
        f"limited by crowding: {values['lost_percent']:.0f} % of the stars bright enough are "
        "swallowed by brighter ones"
    ),
    NoteCode.BEYOND_STAR_COUNTS: lambda values: (
        f"deeper than the star counts reach: counted to their end, G {values['faintest_g']:g}"
    ),
    NoteCode.LENS_NOT_IN_BENCH_FILE: lambda values: (
        f"this lens is not in bench.toml (there are: {', '.join(values['lenses'])}); add a [[lens]]"
    ),
    NoteCode.OTHER_BODY: lambda values: (
        f"taken with {values['body']}; bench.toml describes {values['described']} only"
    ),
    NoteCode.NO_SIZE_ANYWHERE: _no_size,
    NoteCode.NOT_TESTED: "not tested: no frame gave a measurement",
    NoteCode.ON_OTHER_BODY_ONLY: lambda values: f"measured on {names_words(values['bodies'])} only",
}
