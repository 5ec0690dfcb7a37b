"""The whole frame in one picture: each zone's typical star enlarged at its place.

The lens's blur is a solid outline, the trail a dashed line with bars at its ends: told apart by
stroke, not only by colour.
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from xml.sax.saxutils import escape

import vl_convert

WIDTH = 1200
MARGIN = 40
FOOT = 150
LARGEST_SHARE = 0.42
"""Of a zone's smaller side that the largest star of the picture takes."""
INK, FAINT, TRAIL = "#1b1b1b", "#8a8a8a", "#0b5fa5"


@dataclass(frozen=True)
class ZoneMark:
    """What one zone shows; sizes in raw pixels, None is not tested."""

    x_px: float
    y_px: float
    field_radius: float
    length_px: float | None = None
    width_px: float | None = None
    angle_degrees: float = 0.0
    trail_px: tuple[float, float] | None = None
    stars: int = 0


def sky_map_svg(
    zones: Sequence[ZoneMark], width_px: int, height_px: int, title: str, notes: Sequence[str] = ()
) -> str:
    """Return the picture as SVG text.

    All stars have one enlargement, stated in the picture. Raises ValueError without zones or
    when no zone was measured.
    """
    measured = [zone for zone in zones if zone.length_px is not None]
    if not measured:
        raise ValueError("no zone was measured: nothing to draw")
    scale = (WIDTH - 2 * MARGIN) / width_px
    height = height_px * scale
    cell = min(_spacing([z.x_px for z in zones]), _spacing([z.y_px for z in zones])) * scale
    largest = max(_reach(zone) for zone in measured)
    enlarged = LARGEST_SHARE * cell / (largest * scale)
    parts = [
        f'<svg xmlns="http://www.w3.org/2000/svg" width="{WIDTH}" '
        f'height="{height + MARGIN + FOOT:.0f}" font-family="sans-serif" font-size="15" '
        f'fill="{INK}">',
        '<rect width="100%" height="100%" fill="white"/>',
        f'<text x="{MARGIN}" y="26" font-size="19">{escape(title)}</text>',
        f'<rect x="{MARGIN}" y="{MARGIN}" width="{WIDTH - 2 * MARGIN}" height="{height:.1f}" '
        f'fill="none" stroke="{FAINT}"/>',
    ]
    percent = 100 / min(width_px, height_px)
    for zone in zones:
        parts += _drawn(zone, scale, enlarged, percent)
    parts += _foot(zones, height, enlarged, percent, notes)
    return "\n".join([*parts, "</svg>"])


def write_sky_map(svg: str, stem: Path) -> tuple[Path, Path]:
    """Write the picture as SVG and PNG beside each other; return both paths.

    Raises OSError where the folder can't be written.
    """
    drawing, picture = stem.with_name(stem.name + ".svg"), stem.with_name(stem.name + ".png")
    drawing.write_text(svg, encoding="utf-8")
    picture.write_bytes(vl_convert.svg_to_png(svg, scale=1.5))
    return drawing, picture


def in_numbers(zones: Sequence[ZoneMark], percent: float) -> list[tuple[str, str]]:
    """Return (place, text) for centre, edges, corners, and left against right.

    percent: % of picture height per pixel.
    """
    groups = (
        ("centre", [z for z in zones if z.field_radius < 0.3]),
        ("edges", [z for z in zones if 0.3 <= z.field_radius < 0.7]),
        ("corners", [z for z in zones if z.field_radius >= 0.7]),
    )
    rows = []
    for name, group in groups:
        lengths = [z.length_px for z in group if z.length_px is not None]
        if not lengths:
            rows.append((name, "not tested"))
            continue
        mean = sum(lengths) / len(lengths)
        text = f"{mean * percent:.3f} % of height ({mean:.1f} px)"
        if len(lengths) > 1:
            text += f", {min(lengths) * percent:.3f} to {max(lengths) * percent:.3f}"
        rows.append((name, text))
    middle = sorted(z.x_px for z in zones)[len(zones) // 2]
    outer = [z for z in zones if z.length_px is not None and z.field_radius >= 0.3]
    left = [z.length_px for z in outer if z.x_px < middle and z.length_px is not None]
    right = [z.length_px for z in outer if z.x_px > middle and z.length_px is not None]
    if left and right:
        ratio = (sum(right) / len(right)) / (sum(left) / len(left))
        rows.append(("right over left", f"{ratio:.2f} (1 for a centred lens)"))
    return rows


def _drawn(zone: ZoneMark, scale: float, enlarged: float, percent: float) -> list[str]:
    x, y = MARGIN + zone.x_px * scale, MARGIN + zone.y_px * scale
    label = f'<text x="{x:.1f}" y="{y + 1:.1f}" text-anchor="middle" font-size="13"'
    if zone.length_px is None or zone.width_px is None:
        return [f'{label} fill="{FAINT}">not tested</text>']
    size = scale * enlarged
    parts = [
        f'<ellipse cx="{x:.1f}" cy="{y:.1f}" rx="{zone.length_px / 2 * size:.1f}" '
        f'ry="{zone.width_px / 2 * size:.1f}" transform="rotate({zone.angle_degrees:.1f} '
        f'{x:.1f} {y:.1f})" fill="#1b1b1b18" stroke="{INK}" stroke-width="2.5"/>'
    ]
    if zone.trail_px is not None:
        dx, dy = zone.trail_px[0] / 2 * size, zone.trail_px[1] / 2 * size
        long = math.hypot(dx, dy)
        style = f'stroke="{TRAIL}" stroke-width="2"'
        parts.append(
            f'<line x1="{x - dx:.1f}" y1="{y - dy:.1f}" x2="{x + dx:.1f}" y2="{y + dy:.1f}" '
            f'{style} stroke-dasharray="6 4"/>'
        )
        if long > 3:
            ex, ey = -dy / long * 6, dx / long * 6
            for side in (-1, 1):
                cx, cy = x + side * dx, y + side * dy
                parts.append(
                    f'<line x1="{cx - ex:.1f}" y1="{cy - ey:.1f}" x2="{cx + ex:.1f}" '
                    f'y2="{cy + ey:.1f}" {style}/>'
                )
    below = y + max(_reach(zone) * size / 2, 10) + 16
    parts.append(
        f'<text x="{x:.1f}" y="{below:.1f}" text-anchor="middle" font-size="13">'
        f"{zone.length_px * percent:.3f} %</text>"
    )
    return parts


def _foot(
    zones: Sequence[ZoneMark],
    height: float,
    enlarged: float,
    percent: float,
    notes: Sequence[str],
) -> list[str]:
    y = MARGIN + height + 24
    rows = [f"{place}: {text}" for place, text in in_numbers(zones, percent)]
    about = (
        "Solid: the lens alone (central 90 % of the light), % of picture height. Dashed: trail. "
        f"Stars {enlarged:.0f} times enlarged."
    )
    lines = [about, " · ".join(rows), *notes]
    return [
        f'<text x="{MARGIN}" y="{y + 20 * k:.0f}" font-size="13">{escape(line)}</text>'
        for k, line in enumerate(lines[:6])
    ]


def _reach(zone: ZoneMark) -> float:
    """Largest extent of a zone's star and trail [px]."""
    trail = 0.0 if zone.trail_px is None else math.hypot(*zone.trail_px)
    return max(zone.length_px or 0.0, trail, 1.0)


def _spacing(places: Sequence[float]) -> float:
    """Distance between neighbouring columns or rows of zones."""
    known = sorted(set(places))
    gaps = [b - a for a, b in itertools.pairwise(known)]
    return min(gaps) if gaps else 2 * max(known[0], 1.0)
