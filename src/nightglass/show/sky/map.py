"""The whole frame in one picture: each zone's typical star enlarged at its place.

The lens's own star is a filled outline of solid lines, the trail a dashed line with bars at its
ends: told apart by stroke and shape, so that print, grey and every eye can read it.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from nightglass.optics.arrays import Floats
from nightglass.optics.extent import APERTURE_LEAST_PX, APERTURE_LENGTHS
from nightglass.show.sky.head import HEAD, MARGIN, WIDTH, draw_head
from nightglass.show.sky.panel import draw_panel, other_motion, panel_height, wrapped
from nightglass.show.sky.spot_outline import outline
from nightglass.show.sky.style import CORE, FILL, INK, LINE, SOFT, TRAIL
from nightglass.show.sky.words.field import zone_reason_words
from nightglass.show.svg import LETTER_WIDTH, Picture
from nightglass.sky.zones.codes import SideVerdict, ZoneReason
from nightglass.sky.zones.field import IMAGE_SAMPLES_PER_PX, Field
from nightglass.sky.zones.field_hints import side_verdict, turn_of
from nightglass.sky.zones.zone import ZONE_COLUMNS, ZONE_ROWS, Zone

TALLEST = 900.0
"""Of a portrait frame; the numbers then stand beside it."""
PANEL_WIDTH = 520.0
STAR_SHARE = 0.72
"""Of a zone's smaller side that its star with its trail may take."""
LEAST_LENS_SHARE = 0.3
"""The same for the largest lens alone: a longer trail is cut, and its ends become arrows."""
MOST_REACH = 0.46
"""Of a zone's smaller side, from the star's place to the end of its outline."""
OUTER, INNER = 0.9, 0.5
"""Shares of the light that the two outlines hold."""
Point = tuple[float, float]
BARS_PX = (0.5, 1.0, 2.0, 5.0, 10.0, 20.0, 50.0, 100.0)


@dataclass(frozen=True)
class _Place:
    """Where the frame lies in the picture."""

    x: float
    y: float
    scale: float
    """Picture units per raw pixel."""
    cell: tuple[float, float]
    """Width and height of a zone."""


def sky_map_svg(
    field: Field,
    title: str,
    subtitle: str = "",
    notes: Sequence[str] = (),
    up_side: str | None = None,
) -> str:
    """Return the map of a frame as SVG text; all stars have one enlargement, stated in it.

    up_side: side of the raw frame toward which the zenith lies, if known; the frame itself is
    never turned.
    Raises ValueError when no zone was measured.
    """
    if not field.measured:
        raise ValueError("no zone was measured: nothing to draw")
    portrait = field.height_px > field.width_px
    scale = TALLEST / field.height_px if portrait else (WIDTH - 2 * MARGIN) / field.width_px
    wide, high = field.width_px * scale, field.height_px * scale
    panel_x = 2 * MARGIN + wide if portrait else MARGIN
    total = panel_x + PANEL_WIDTH + MARGIN if portrait else WIDTH
    panel = PANEL_WIDTH if portrait else WIDTH - 2 * MARGIN
    place = _Place(MARGIN, HEAD, scale, (wide / ZONE_COLUMNS, high / ZONE_ROWS))
    enlarged = _enlargement(field, place)
    key = _key(enlarged, place, field)
    below = panel_height(field, panel, key, notes)
    height = HEAD + (max(high, below) if portrait else high + MARGIN + below) + MARGIN
    picture = Picture(total, height, f"Map of {title}")
    draw_head(picture, title, subtitle)
    _frame(picture, field, place)
    _softer_side(picture, field, place)
    _up(picture, up_side, place)
    for zone in field.zones:
        _star(picture, field, zone, place, enlarged)
    top = HEAD if portrait else HEAD + high + MARGIN
    draw_panel(picture, field, (panel_x, top, panel), key, notes)
    return picture.svg()


def _enlargement(field: Field, place: _Place) -> float:
    """Picture units per raw pixel of star over those of the frame."""
    room = min(place.cell[0], 0.8 * place.cell[1])
    lens = max(zone.length_px or 0.0 for zone in field.measured)
    whole = max(math.hypot(zone.length_px or 0.0, _trail(zone)) for zone in field.measured)
    wanted = min(STAR_SHARE * room / max(lens, 1.0), STAR_SHARE * room / whole)
    drawn = max(wanted, LEAST_LENS_SHARE * room / max(lens, 1.0))
    # A tail reaches farther than the length: all outlines stay in their own cells.
    reach = max(float(np.abs(_outer(zone)).max()) for zone in field.measured)
    return min(drawn, MOST_REACH * room / max(reach, 0.5)) / place.scale


def _frame(picture: Picture, field: Field, place: _Place) -> None:
    wide, high = field.width_px * place.scale, field.height_px * place.scale
    # Zones of two columns reach from the edge inward.
    joined = {(z.row, max(z.column, 1)) for z in field.zones if z.columns > 1}
    for row, column in np.ndindex(ZONE_ROWS, ZONE_COLUMNS):
        if column == 0 or (row, column) in joined:
            continue
        x, y = place.x + column * place.cell[0], place.y + row * place.cell[1]
        dots = f'stroke-dasharray="1 5" data-left-of="{row},{column}"'
        picture.line([(x, y), (x, y + place.cell[1])], LINE, 1, dots)
    for row in range(1, ZONE_ROWS):
        y = place.y + row * place.cell[1]
        picture.line([(place.x, y), (place.x + wide, y)], LINE, 1, 'stroke-dasharray="1 5"')
    picture.rect(
        place.x,
        place.y,
        wide,
        high,
        "none",
        f'stroke="{SOFT}" stroke-width="1.5" data-part="frame"',
    )


def _sides(place: _Place) -> dict[str, tuple[list[Point], Point, int]]:
    """Per side of the frame: a line along it, where words along it have their middle, their turn;
    all of them outside of the frame."""
    left, top = place.x, place.y
    right, bottom = left + place.cell[0] * ZONE_COLUMNS, top + place.cell[1] * ZONE_ROWS
    across, down = (left + right) / 2, (top + bottom) / 2
    return {
        "right": ([(right + 6, top), (right + 6, bottom)], (right + 16, down), 90),
        "left": ([(left - 6, top), (left - 6, bottom)], (left - 16, down), -90),
        "top": ([(left, top - 6), (right, top - 6)], (across, top - 14), 0),
        "bottom": ([(left, bottom + 6), (right, bottom + 6)], (across, bottom + 25), 0),
    }


def _softer_side(picture: Picture, field: Field, place: _Place) -> None:
    """A thick bar with a word along each side of the frame whose stars are larger for certain."""
    sides = _sides(place)
    for found in field.uneven:
        verdict = side_verdict(found, field)
        if found.softer not in sides or verdict is not SideVerdict.SOFTER:
            continue
        bar, at, turn = sides[found.softer]
        picture.line(bar, INK, 6, f'data-softer="{found.softer}"')
        words = f"softer side: {max(found.ratio, 1 / found.ratio):.2f} times the other"
        _along(picture, at, words, turn, 'font-weight="bold"')


def _up(picture: Picture, up_side: str | None, place: _Place) -> None:
    """A word at the side toward which the zenith lies, a quarter of the way along it."""
    if up_side is None:
        return
    _, (x, y), turn = _sides(place)[up_side]
    if up_side in ("top", "bottom"):
        x -= 0.34 * place.cell[0] * ZONE_COLUMNS
    else:
        y -= 0.34 * place.cell[1] * ZONE_ROWS
    arrow = "▼" if up_side == "bottom" else "▲"
    _along(picture, (x, y), f"{arrow} toward the zenith", turn, f'data-up="{up_side}"')


def _along(picture: Picture, at: Point, words: str, turn: int, more: str) -> None:
    turned = f'text-anchor="middle" transform="rotate({turn} {at[0]:.1f} {at[1]:.1f})"'
    picture.text(*at, words, 14, INK, f"{turned} {more}")


def _star(picture: Picture, field: Field, zone: Zone, place: _Place, enlarged: float) -> None:
    x = place.x + (zone.x_px + 0.5) * place.scale
    y = place.y + (zone.y_px + 0.5) * place.scale
    if zone.reason is ZoneReason.JOINED:
        return
    if zone.length_px is None or zone.width_px is None:
        picture.text(x, y - 12, "not tested", 15, SOFT, 'text-anchor="middle"')
        reason = zone_reason_words(zone.reason, zone.stars)
        for k, line in enumerate(wrapped(reason, place.cell[0] - 16, 12)[:5]):
            picture.text(x, y + 8 + 16 * k, line, 12, SOFT, 'text-anchor="middle"')
        return
    y -= 0.1 * place.cell[1]
    size = place.scale * enlarged
    _lens(picture, zone, (x, y), size)
    _motion(picture, zone, (x, y), size, place)
    percent = field.percent
    below = place.y + (zone.row + 1) * place.cell[1] - 30
    error = (zone.length_px_err or 0.0) * percent
    large, small = (min(most, place.cell[0] / (0.56 * 17)) for most in (16.0, 13.0))
    words = f"{zone.length_px * percent:.3f} ± {error:.3f} %"
    picture.text(x, below, words, large, INK, 'text-anchor="middle" font-weight="bold"')
    about = f"{zone.length_px:.1f} × {zone.width_px:.1f} px, {turn_of(zone)}"
    small = min(small, place.cell[0] / (LETTER_WIDTH * (len(about) + 1)))
    picture.text(x, below + 19, about, small, SOFT, 'text-anchor="middle"')


def _lens(picture: Picture, zone: Zone, at: tuple[float, float], size: float) -> None:
    """The lens's own star: outlines of its fitted image, an ellipse where there is none."""
    name = f'data-zone="{zone.row},{zone.column}" stroke="{INK}" stroke-linejoin="round"'
    for share, fill, width in ((OUTER, FILL, 2.6), (INNER, CORE, 1.3)):
        if share == OUTER:
            points = _outer(zone)
        elif zone.image is not None:
            points = outline(_aperture_of(zone), share, IMAGE_SAMPLES_PER_PX)
        else:
            continue
        picture.polygon(points * size + np.array(at), fill, f'{name} stroke-width="{width}"')


def _outer(zone: Zone) -> Floats:
    """The outer outline of a zone's star [px], about the star's place."""
    if zone.image is None:
        return _ellipse(zone)
    return outline(_aperture_of(zone), OUTER, IMAGE_SAMPLES_PER_PX)


def _aperture_of(zone: Zone) -> Floats:
    """A zone's image inside its aperture: only that is the star's light, by definition."""
    image = np.asarray(zone.image, dtype=np.float64)
    radius = max(APERTURE_LEAST_PX, APERTURE_LENGTHS * (zone.length_px or 0.0))
    rows, columns = np.indices(image.shape)
    away = np.hypot(rows - image.shape[0] // 2, columns - image.shape[1] // 2)
    return np.where(away <= radius * IMAGE_SAMPLES_PER_PX, image, 0.0)


def _ellipse(zone: Zone) -> Floats:
    turn = np.linspace(0, 2 * np.pi, 72, endpoint=False)
    long, short = (zone.length_px or 0.0) / 2, (zone.width_px or 0.0) / 2
    angle = math.radians(zone.angle_degrees or 0.0)
    x, y = long * np.cos(turn), short * np.sin(turn)
    return np.column_stack(
        [x * math.cos(angle) - y * math.sin(angle), x * math.sin(angle) + y * math.cos(angle)]
    )


def _motion(
    picture: Picture, zone: Zone, at: tuple[float, float], size: float, place: _Place
) -> None:
    """The trail: dashes, bars at its ends, or arrows where it goes on beyond the zone."""
    if zone.trail_seen_px is None or (_trail(zone) * size < 4 and not other_motion(zone)):
        return
    if other_motion(zone) and zone.trail_expected_px is not None:
        _sky_path(picture, np.array(zone.trail_expected_px) / 2 * size, at, place)
    half = np.array(zone.trail_seen_px) / 2 * size
    long = max(float(np.hypot(*half)), 1e-6)
    most = 0.46 * min(place.cell[0], 0.8 * place.cell[1])
    goes_on = long > most
    half = half * min(1.0, most / long)
    along = half / max(float(np.hypot(*half)), 1e-6)
    across = np.array([-along[1], along[0]])
    style = f'data-trail="{zone.row},{zone.column}"'
    start, end = np.array(at) - half, np.array(at) + half
    ends = [start.tolist(), end.tolist()]
    picture.line(ends, "#ffffff", 5, 'stroke-opacity="0.8"')
    picture.line(ends, TRAIL, 2.2, f'{style} stroke-dasharray="7 4"')
    for tip, outward in ((start, -along), (end, along)):
        if goes_on:
            points = [tip - 9 * outward + 6 * across, tip, tip - 9 * outward - 6 * across]
        else:
            points = [tip + 7 * across, tip - 7 * across]
        picture.line([p.tolist() for p in points], TRAIL, 2.4, "")


def _sky_path(picture: Picture, half: Floats, at: tuple[float, float], place: _Place) -> None:
    """The path that the sky alone would have drawn: dots with rings at the ends."""
    most = 0.46 * min(place.cell[0], 0.8 * place.cell[1])
    half = half * min(1.0, most / max(float(np.hypot(*half)), 1e-6))
    ends = [(np.array(at) + sign * half).tolist() for sign in (-1, 1)]
    picture.line(ends, "#ffffff", 5, 'stroke-opacity="0.8"')
    picture.line(ends, INK, 2.2, 'stroke-dasharray="0.1 5" stroke-linecap="round" data-sky="1"')
    for x, y in ends:
        picture.circle(x, y, 4.5, "#ffffff", f'stroke="{INK}" stroke-width="1.6"')


def _key(enlarged: float, place: _Place, field: Field) -> tuple[float, str]:
    """Length of the scale bar in the picture, and the words on the enlargement."""
    size = place.scale * enlarged
    bar = max((b for b in BARS_PX if b * size <= 110), default=BARS_PX[0])
    words = (
        f"{bar:g} px = {bar * field.percent:.3f} % of picture height; stars are drawn "
        f"{enlarged:.0f} times as large as the frame"
    )
    return bar * size, words


def _trail(zone: Zone) -> float:
    return 0.0 if zone.trail_seen_px is None else math.hypot(*zone.trail_seen_px)
