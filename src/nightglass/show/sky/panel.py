"""The numbers beside the map of a frame: sizes, sides, what the strokes mean, notes."""

from __future__ import annotations

import math
import textwrap
from collections.abc import Sequence

from nightglass.show.sky.falloff_curve import CURVE_HEIGHT, draw_falloff
from nightglass.show.sky.style import CORE, FILL, INK, LINE, SOFT, TRAIL
from nightglass.show.sky.words.field import hint_words, verdict_words
from nightglass.show.svg import LETTER_WIDTH, Picture
from nightglass.sky.zones.field import Field
from nightglass.sky.zones.zone import Zone

ROW, SIZE, GAP = 23.0, 15.0, 44.0
WIDE = 900.0
"""From this width on the light stands beside the sizes, else below them."""
TABLE_HEAD = 56.0
BETWEEN = 26.0
LEAST_OTHER_PX = 1.0
Box = tuple[float, float, float]
"""x, y, width."""
Key = tuple[float, str]
"""Length of the scale bar in the picture, and the words for it."""


def panel_height(field: Field, width: float, key: Key, notes: Sequence[str]) -> float:
    """Return the height that draw_panel takes."""
    tables = TABLE_HEAD + ROW * len(field.readings) + BETWEEN
    tables += TABLE_HEAD + ROW * max(len(field.uneven), 1)
    height = max(tables, CURVE_HEIGHT) if width >= WIDE else tables + BETWEEN + CURVE_HEIGHT
    lines = [wrapped(words, width - 130) for _, words in _strokes_words(field, key)]
    height += BETWEEN + 12 + sum(len(part) * ROW + 3 for part in lines)
    sentences = [wrapped(line, width) for line in _sentences(field, notes)]
    return height + sum(len(part) * ROW + 6 for part in sentences)


def draw_panel(picture: Picture, field: Field, box: Box, key: Key, notes: Sequence[str]) -> None:
    """Draw numbers, light, key and notes into a box (x, y, width)."""
    x, y, width = box
    wide = width >= WIDE
    column = (width - GAP) / 2 if wide else width
    low = _sizes(picture, field, (x, y, column))
    low = _sides(picture, field, (x, low + BETWEEN, column))
    if wide:
        draw_falloff(picture, field, (x + column + GAP, y, column))
        low = max(low, y + CURVE_HEIGHT)
    else:
        draw_falloff(picture, field, (x, low + BETWEEN, column))
        low += BETWEEN + CURVE_HEIGHT
    low = _strokes(picture, field, (x, low + BETWEEN, width), key)
    for sentence in _sentences(field, notes):
        low = _paragraph(picture, (x, low, width), sentence) + 6


def wrapped(words: str, width: float, size: float = SIZE) -> list[str]:
    """Return words in lines that fit into a width at a font size."""
    return textwrap.wrap(words, max(int(width / (LETTER_WIDTH * size)), 8)) or [""]


def _paragraph(picture: Picture, box: Box, words: str) -> float:
    x, y, width = box
    for line in wrapped(words, width):
        picture.text(x, y, line, SIZE, INK)
        y += ROW
    return y


def _sentences(field: Field, notes: Sequence[str]) -> list[str]:
    found = (*hint_words(field), *notes)
    return [f"{line[0].upper()}{line[1:]}." for line in found if line]


def _head(
    picture: Picture, box: Box, title: str, columns: Sequence[tuple[float, str, str]]
) -> float:
    x, y, _ = box
    picture.text(x, y + 16, title, 17, INK, 'font-weight="bold"')
    for place, words, anchor in columns:
        picture.text(place, y + 44, words, 13, SOFT, f'text-anchor="{anchor}"')
    return y + TABLE_HEAD - 5


def _row(picture: Picture, box: Box, name: str) -> float:
    """Draw a rule and a row's name; return the base line of its text."""
    x, y, width = box
    picture.line([(x, y), (x + width, y)], LINE, 1, "")
    picture.text(x, y + 17, name, SIZE, INK)
    return y + 17


def _sizes(picture: Picture, field: Field, box: Box) -> float:
    """The lens alone in centre, edges and corners; return where the table ends."""
    x, y, width = box
    ends = [x + width * share for share in (0.42, 0.66, 1.0)]
    heads = zip(ends, ("% of height", "px", "zones, from to %"), ("end",) * 3, strict=True)
    y = _head(picture, box, "The lens alone: length of its stars", list(heads))
    right = 'text-anchor="end"'
    for reading in field.readings:
        base = _row(picture, (x, y, width), reading.place)
        y += ROW
        if reading.length_px is None or reading.length_px_err is None:
            picture.text(ends[0], base, "not tested", SIZE, SOFT, right)
            continue
        value, err, percent = reading.length_px, reading.length_px_err, field.percent
        words = f"{value * percent:.3f} ± {err * percent:.3f}"
        picture.text(ends[0], base, words, SIZE, INK, f'{right} font-weight="bold"')
        picture.text(ends[1], base, f"{value:.2f} ± {err:.2f}", SIZE, INK, right)
        words = f"{reading.zones} of {reading.of_zones}"
        if reading.zones > 1 and reading.least_px is not None and reading.most_px is not None:
            words += f", {reading.least_px * percent:.3f} to {reading.most_px * percent:.3f}"
        picture.text(ends[2], base, words, SIZE, INK, right)
    return y + 5


def _sides(picture: Picture, field: Field, box: Box) -> float:
    """Decentring: sides and corners against each other; return where the table ends."""
    x, y, width = box
    places = [x + width * share for share in (0.42, 0.63, 0.665)]
    heads = zip(places, ("times", "95 %", "is it real?"), ("end", "end", "start"), strict=True)
    y = _head(picture, box, "Decentring: size of stars, side over side", list(heads))
    right = 'text-anchor="end"'
    if not field.uneven:
        base = _row(picture, (x, y, width), "not tested: no two zones mirror each other")
        return base + 11
    for found in field.uneven:
        base = _row(picture, (x, y, width), f"{found.side} : {found.other}")
        y += ROW
        bold = 'font-weight="bold"' if found.real else ""
        picture.text(places[0], base, f"{found.ratio:.2f}", SIZE, INK, f"{right} {bold}")
        words = f"{found.low:.2f} to {found.high:.2f}"
        picture.text(places[1], base, words, SIZE, INK, right)
        picture.text(places[2], base, verdict_words(found, field), SIZE, INK, bold)
    return y + 5


def other_motion(zone: Zone) -> bool:
    """Whether a zone's trail is another than the sky's, beyond its errors and a pixel."""
    if zone.trail_seen_px is None or zone.trail_expected_px is None:
        return False
    apart = math.dist(zone.trail_seen_px, zone.trail_expected_px)
    return apart > max(LEAST_OTHER_PX, 3 * math.hypot(*(zone.trail_err_px or (0.0, 0.0))))


def _strokes_words(field: Field, key: Key) -> list[tuple[str, str]]:
    """Kinds of strokes and what they mean."""
    lines = [
        (
            "star",
            "The lens alone: outlines hold 90 and 50 % of its light. Number: the length along its "
            "long axis that holds the central 90 %",
        ),
        ("trail", "The star's trail during the exposure (arrows: it goes on)"),
    ]
    if any(other_motion(zone) for zone in field.measured):
        lines.append(("sky", "The trail that the sky's own motion would have drawn"))
    return [*lines, ("scale", key[1])]


def _strokes(picture: Picture, field: Field, box: Box, key: Key) -> float:
    """What each stroke means, and the scale bar; return the base line of the text after it."""
    x, y, width = box
    picture.line([(x, y), (x + width, y)], LINE, 1, "")
    y += 27
    left = x + 4
    for kind, words in _strokes_words(field, key):
        if kind == "star":
            rim, core = f'stroke="{INK}" stroke-width="2.6"', f'stroke="{INK}" stroke-width="1.3"'
            picture.circle(left + 42, y - 5, 12, FILL, rim)
            picture.circle(left + 42, y - 5, 6, CORE, core)
        elif kind == "trail":
            _bar(picture, (left, y - 5, 84), TRAIL, 'stroke-dasharray="7 4"')
        elif kind == "sky":
            dots = 'stroke-dasharray="0.1 5" stroke-linecap="round"'
            picture.line([(left, y - 5), (left + 84, y - 5)], INK, 2.2, dots)
            for end in (left, left + 84):
                picture.circle(end, y - 5, 4.5, "#ffffff", f'stroke="{INK}" stroke-width="1.6"')
        else:
            _bar(picture, (left, y - 5, key[0]), INK, "")
        y = _paragraph(picture, (x + 130, y, width - 130), words) + 3
    return y + 12


def _bar(picture: Picture, box: Box, stroke: str, dashes: str) -> None:
    x, y, long = box
    picture.line([(x, y), (x + long, y)], stroke, 2.2, dashes)
    for end in (x, x + long):
        picture.line([(end, y - 7), (end, y + 7)], stroke, 2.4, "")
