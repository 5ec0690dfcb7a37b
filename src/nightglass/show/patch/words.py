"""What is said of a patch that two settings recorded."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import Any

from nightglass.patch.look import BlindPair, Looked
from nightglass.patch.made import Made, MadeAs
from nightglass.show.ranking.pair_text import pair_name, pair_sentences
from nightglass.show.ranking.stops_words import stops_of, stops_words
from nightglass.show.ranking.tables import finite
from nightglass.show.words import seconds
from nightglass.verdict.order.pair import hardly_shows
from nightglass.verdict.records import Worth


def looked_sentences(found: Looked) -> Iterator[str]:
    """Yield of what the pictures are made, which is ahead, and whether that shows."""
    if found.wish.same is not None:
        yield made_sentence(found)
        yield from _one_field_sentences(found)
        yield expected_sentence(found)
        return
    yield from list(pair_sentences(found.pair))[:2]
    if found.wish.frames != (1, 1):
        yield (
            f"Drawn from {found.wish.frames[0]} and {found.wish.frames[1]} stacked frames; the "
            "sentence above is about one frame each."
        )
        yield expected_sentence(found)


def made_sentence(found: Looked) -> str:
    """Return what each setting makes of the same minutes."""
    minutes = 0.0 if found.wish.same is None else found.wish.same.minutes
    each = "; ".join(
        f"{pair_name(found.pair, worth)} as {_made_words(made, worth)}"
        for worth, made in _sides(found)
    )
    return f"In {_many(minutes, 'minute')}: {each}."


def expected_sentence(found: Looked) -> str:
    """Return which picture the bench puts ahead as they are made, and whether that shows."""
    gain = found.expected_gain_percent
    better, weaker = found.pair.one, found.pair.other
    if gain < 0:
        better, weaker = weaker, better
    shows = "hardly visible" if hardly_shows(gain) else "a difference that shows"
    return (
        f"So made, {pair_name(found.pair, better)} is ahead of {pair_name(found.pair, weaker)} by "
        f"{stops_words(stops_of(1 + gain / 100))}: {shows}."
    )


def _one_field_sentences(found: Looked) -> Iterator[str]:
    """That a panorama is shown as the other's picture; that one frame holds the other's field."""
    (one, first), (other, second) = _sides(found)
    for worth, made, against, kept in (
        (one, first, other, found.kept[0]), (other, second, one, found.kept[1]),
    ):  # fmt: skip
        name, field = pair_name(found.pair, worth), pair_name(found.pair, against)
        if made.one_holds_all:
            yield (
                f"One frame of {name} already holds the field of {field}: a panorama needs one "
                "panel only, so it is a stack, in a picture of its own."
            )
        if made.made_as is MadeAs.PANORAMA:
            yield (
                f"The panorama covers the field of {field}, and both are shown at the same scale "
                "on the sky. It is judged as one patch of sky."
            )
        if not kept:
            yield (
                f"Inside the panorama no panel shows {found.wish.place.name} of its frame: the "
                f"seams use the middle {100 * made.usable_share:.0f} % of each side."
            )


def _sides(found: Looked) -> tuple[tuple[Worth, Made], tuple[Worth, Made]]:
    return (found.pair.one, found.made[0]), (found.pair.other, found.made[1])


def _made_words(made: Made, worth: Worth) -> str:
    time = seconds(worth.times.chosen.shown_s(worth.release))
    if made.made_as is MadeAs.SINGLE:
        return f"a single frame of {time}"
    frames = f"{_many(made.frames, 'frame')} of {time}"
    if made.made_as is MadeAs.STACK:
        return f"a stack of {frames}"
    return f"a panorama of {_many(made.panels, 'panel')} of {frames}"


def _many(count: float, noun: str) -> str:
    return f"{count:g} {noun}{'' if count == 1 else 's'}"


def place_sentence(found: Looked) -> str:
    """Return what is drawn: where in the sky and in the frame, and which stars are real."""
    wish = found.wish
    made_up = found.stars - found.from_catalogue
    times = " and ".join(
        seconds(w.times.chosen.shown_s(w.release)) for w in (found.pair.one, found.pair.other)
    )
    of = "frame"
    if any(made.made_as is MadeAs.PANORAMA for made in found.made):
        of = "frame (of the panorama: of a panel)"
    return (
        f"{wish.side_degrees:g} by {wish.side_degrees:g} degrees about {wish.ra_degrees:.1f}, "
        f"{wish.dec_degrees:+.1f} (right ascension and declination), at {wish.place.name} of the "
        f"{of}, {times}. {found.from_catalogue} stars are the catalogue's, to G 9.5; {made_up} "
        "fainter ones stand at random in the mean sky's number. The Milky Way's even light lies "
        "over the lower half."
    )


def answers(found: Looked, rows: Sequence[BlindPair]) -> Iterator[str]:
    """Yield the answers of a blind sheet, and what the bench expected."""
    one, other = pair_name(found.pair, found.pair.one), pair_name(found.pair, found.pair.other)
    for k, row in enumerate(rows, start=1):
        left, right = (one, other) if row.left_is_one else (other, one)
        yield f"Pair {k}: left {left}, right {right}."
    yield ""
    if hardly_shows(found.expected_gain_percent):
        yield (
            "The bench expects that you can't tell them apart: the better one is ahead by less "
            "than a third of a stop."
        )
    else:
        better = other if found.expected_gain_percent < 0 else one
        yield f"The bench expects that you find {better} better."
    yield (
        f"Guessing alone chooses the same lens in all {len(rows)} pairs once in "
        f"{2 ** len(rows) // 2} times, and in {len(rows) - 1} of {len(rows)} or more once in "
        f"{2 ** len(rows) / (2 * (len(rows) + 1)):.0f} times."
    )


def look_lines(found: Looked) -> Iterator[str]:
    """Yield what the terminal says."""
    yield from looked_sentences(found)
    yield ""
    yield place_sentence(found)
    for letter, patch in zip("AB", found.recorded, strict=True):
        bound = ", its spot counted with an upper bound" if patch.at_limit else ""
        yield (
            f"{letter}: the sky gives {patch.sky_e:.0f} electrons a pixel and frame, read noise "
            f"{patch.read_noise_e:.1f}{bound}"
        )


def look_data(found: Looked) -> dict[str, Any]:
    """Return the same as plain data; frames are those of each panel."""
    document: dict[str, Any] = finite(
        {
            "gain_percent": found.pair.gain_percent.value,
            "hardly_visible": found.pair.hardly_visible,
            "ra_degrees": found.wish.ra_degrees,
            "dec_degrees": found.wish.dec_degrees,
            "side_degrees": found.wish.side_degrees,
            "place": found.wish.place.name,
            "minutes": None if found.wish.same is None else found.wish.same.minutes,
            "made_as": [made.made_as for made in found.made],
            "frames": [made.frames for made in found.made],
            "panels": [made.panels for made in found.made],
            "usable_share": [made.usable_share for made in found.made],
            "place_kept": list(found.kept),
            "one_holds_all": [made.one_holds_all for made in found.made],
            "expected_gain_percent": found.expected_gain_percent,
            "stars_of_the_catalogue": found.from_catalogue,
            "stars_at_random": found.stars - found.from_catalogue,
            "recorded": [
                {
                    "sky_e": patch.sky_e,
                    "read_noise_e": patch.read_noise_e,
                    "pixels_per_degree": patch.pixels_per_degree,
                    "at_limit": patch.at_limit,
                }
                for patch in found.recorded
            ],
            "eyes": [{"purpose": eye.words, "eye_percent": eye.eye_percent} for eye in found.eyes],
        }
    )
    return document
