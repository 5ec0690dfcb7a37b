"""What is said of a patch that two settings recorded."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import Any

from nightglass.patch.look import BlindPair, Looked
from nightglass.show.ranking.pair_text import pair_name, pair_sentences
from nightglass.show.ranking.tables import finite
from nightglass.show.words import seconds


def looked_sentences(found: Looked) -> Iterator[str]:
    """Yield which setting is ahead and whether that shows, with the frames that were stacked."""
    yield from list(pair_sentences(found.pair))[:2]
    if found.wish.frames != (1, 1):
        yield (
            f"Drawn from {found.wish.frames[0]} and {found.wish.frames[1]} stacked frames; the "
            "sentence above is about one frame each."
        )


def place_sentence(found: Looked) -> str:
    """Return what is drawn: where in the sky and in the frame, and which stars are real."""
    wish = found.wish
    made_up = found.stars - found.from_catalogue
    times = " and ".join(
        seconds(w.times.chosen.shown_s(w.release)) for w in (found.pair.one, found.pair.other)
    )
    return (
        f"{wish.side_degrees:g} by {wish.side_degrees:g} degrees about {wish.ra_degrees:.1f}, "
        f"{wish.dec_degrees:+.1f} (right ascension and declination), at {wish.place.name} of the "
        f"frame, {times}. {found.from_catalogue} stars are the catalogue's, to G 9.5; {made_up} "
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
    if found.pair.hardly_visible:
        yield (
            "The bench expects that you can't tell them apart: the better one is ahead by less "
            "than a third of a stop."
        )
    else:
        yield f"The bench expects that you find {pair_name(found.pair, found.pair.better)} better."
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
    """Return the same as plain data."""
    document: dict[str, Any] = finite(
        {
            "gain_percent": found.pair.gain_percent.value,
            "hardly_visible": found.pair.hardly_visible,
            "ra_degrees": found.wish.ra_degrees,
            "dec_degrees": found.wish.dec_degrees,
            "side_degrees": found.wish.side_degrees,
            "place": found.wish.place.name,
            "frames": list(found.wish.frames),
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
