"""One self-contained page on frames of the sky: maps, actual stars, numbers with their sources."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from html import escape
from pathlib import Path

from nightglass.show.page import bullets, facts_table, head_row, page_html, write_page
from nightglass.show.sky.field_words import (
    colour_numbers,
    falloff_words,
    focus_words,
    lean_number,
    trail_words,
    turn_words,
    uneven_words,
    unknown_words,
    zone_name,
)
from nightglass.show.sky.filter_chart import filter_svg
from nightglass.show.sky.map import sky_map_svg
from nightglass.show.sky.sheet import SkySheet
from nightglass.show.sky.stars import star_crops_svg
from nightglass.show.svg import write_svg_png
from nightglass.sky.photometry.filtering import Filtering
from nightglass.sky.zones.field import PLACES, Field
from nightglass.sky.zones.zone import Zone

PAGE, TITLE = "sky.html", "Frames of the sky"
HEADS = (
    ("zone", ""), ("stars", "number"), ("length, %", "number"), ("px", "number"),
    ("width, px", "number"), ("points", ""), ("lean", "number"), ("red, px", "number"),
    ("blue, px", "number"), ("trail, px", "number"),
    ("the sky's", "number"),
)  # fmt: skip


@dataclass(frozen=True)
class Section:
    """One frame as the page has it; small enough to keep for a hundred frames."""

    title: str
    glance: tuple[str, ...]
    """Setting, centre, edges, corners, sky."""
    html: str


def pictures(sheet: SkySheet) -> dict[str, str]:
    """Return the pictures of a frame as SVG text by name, where there are any: map and stars."""
    found = {}
    if sheet.field is not None and sheet.field.measured:
        notes = sheet.notes[: sheet.on_map]
        head = sheet.title, sheet.subtitle
        found["map"] = sky_map_svg(sheet.field, *head, notes, sheet.up_side)
    if sheet.field is not None and sheet.crops:
        title = f"Stars of {sheet.title}"
        found["stars"] = star_crops_svg(sheet.field, sheet.crops, title, sheet.subtitle)
    return found


def write_pictures(svgs: Mapping[str, str], folder: Path, stem: str) -> list[Path]:
    """Write pictures as SVG and PNG, their name before the stem, into a folder; return the paths.

    The folder is made if need be. Raises OSError where it can't be written.
    """
    written: list[Path] = []
    for name, svg in svgs.items():
        path = folder / f"{name}_{stem}"
        written += write_svg_png(svg, path.with_name(f"{path.name}.svg"),
                                 path.with_name(f"{path.name}.png"))  # fmt: skip
    return written


def section_of(sheet: SkySheet, svgs: Mapping[str, str]) -> Section:
    """Return a frame's section of the page with its pictures (of `pictures`) in it."""
    parts = [f"<h2>{escape(sheet.title)}</h2>", f'<p class="soft">{escape(sheet.subtitle)}</p>']
    parts += [f'<figure class="map">{svg}</figure>' for svg in svgs.values()]
    if sheet.field is not None and sheet.field.measured:
        parts += _field_html(sheet.field)
    for heading, facts in sheet.groups:
        rows = [(fact.name, fact.value, fact.source) for fact in facts]
        parts += [f"<h3>{escape(heading)}</h3>", facts_table(rows)]
    parts += ["<h3>Notes</h3>", bullets(sheet.notes)] if sheet.notes else []
    return Section(sheet.title, _glance(sheet), "\n".join(parts))


def report_html(
    sections: Sequence[Section],
    verdicts: Sequence[Filtering] = (),
    title: str = TITLE,
) -> str:
    """Return the page: a section per frame, then what dark frames say of raw filtering.

    Everything that a person typed is escaped. Raises ValueError with nothing to show.
    """
    if not sections and not verdicts:
        raise ValueError("nothing to report: no frame was read")
    parts = [_contents(sections, verdicts)]
    for k, section in enumerate(sections, start=1):
        first = " class=first" if k == 1 and len(sections) == 1 else ""
        parts.append(f'<section id="frame-{k}"{first}>{section.html}</section>')
    parts += [filtering_html(verdicts)] if verdicts else []
    return page_html(title, parts)


def filtering_html(verdicts: Sequence[Filtering]) -> str:
    """Return the section on raw filtering: a verdict per mode and time, with its picture."""
    lines = "".join(
        f'<li><span class="verdict">{escape(v.time_words)}: {escape(v.verdict)}.</span> '
        f"{escape(v.words)}</li>"
        for v in verdicts
    )
    return (
        '<section id="filtering"><h2>Does the body erase small stars in its raw files?</h2>'
        f'<ul>{lines}</ul><figure class="map">{filter_svg(verdicts)}</figure></section>'
    )


def write_report(page: str, folder: Path) -> Path:
    """Write the page as sky.html into a folder that is made if need be; return its path.

    Raises OSError where the folder can't be written.
    """
    return write_page(page, folder / PAGE)


def _contents(sections: Sequence[Section], verdicts: Sequence[Filtering]) -> str:
    """The frames in a table that leads to them; none for a page of one section."""
    if len(sections) + bool(verdicts) < 2:
        return ""
    places = (f"{place}, % of height" for place in PLACES)
    heads = (*places, "sky, G mag per arcsec²", "limit, G mag")
    rows = [
        f'<tr><td><a href="#frame-{k}">{escape(section.title)}</a><br>'
        f'<span class="soft">{escape(section.glance[0])}</span></td>'
        + "".join(map(_named_cell, heads, section.glance[1:]))
        + "</tr>"
        for k, section in enumerate(sections, start=1)
    ]
    head = head_row([("frame", ""), *((name, "number") for name in heads)])
    table = f"{head}{''.join(rows)}"
    more = '<p><a href="#filtering">Raw filtering</a></p>' if verdicts else ""
    about = '<p class="soft">Length of the lens\'s own stars, % of picture height.</p>'
    return f'<nav><table class="glance">{table}</table>{about}{more}</nav>'


def _named_cell(name: str, cell: str) -> str:
    """A cell that carries its column's name: on a phone each row is a card of its own."""
    return f'<td class="number" data-name="{escape(name)}">{escape(cell)}</td>'


def _glance(sheet: SkySheet) -> tuple[str, ...]:
    """Setting, centre, edges, corners and sky of a frame."""
    sizes = [sheet.no_field] + [""] * (len(PLACES) - 1)
    if sheet.field is not None:
        percent = sheet.field.percent
        sizes = [
            "not tested"
            if r.length_px is None
            else f"{r.length_px * percent:.3f} ± {(r.length_px_err or 0) * percent:.3f}"
            for r in sheet.field.readings
        ]
    return (sheet.subtitle, *sizes, *sheet.sky)


def _field_html(field: Field) -> Iterator[str]:
    yield "<h3>The lens in words</h3>"
    lines = [uneven_words(found, field) for found in field.uneven]
    yield bullets([*lines, falloff_words(field), *focus_words(field)])
    rows = "".join(_zone_row(zone, field.percent) for zone in field.zones)
    yield f'<div class="wide"><h3>Zone by zone</h3><table>{head_row(HEADS)}{rows}</table></div>'
    yield (
        '<p class="soft">The lens alone: trail and camera motion taken out by a fit to all stars '
        "of the zone. Length: along the long axis, the central 90 % of the light, in % of picture "
        "height and px; width across. "
        "Lean: how far the light's tail reaches to one side, from 0 to 1; + away from the optical "
        "centre. Red and blue: their light's centre from that of green. Errors are 1-sigma: two "
        "of three hold the truth. Zones lie as in the raw file, never turned: the middle one is "
        "the centre, those in its four corners the corners, all others the edges. Trails come from "
        "one fit to the whole frame.</p>"
    )


def _zone_row(zone: Zone, percent: float) -> str:
    head = f'<td class="name">{zone_name(zone)}</td><td class="number">{zone.stars}</td>'
    if zone.length_px is None or zone.width_px is None:
        return f'<tr>{head}<td colspan="9">{escape(unknown_words(zone))}</td></tr>'
    err, width_err = zone.length_px_err or 0.0, zone.width_px_err or 0.0
    numbers = (
        f"{zone.length_px * percent:.3f} ± {err * percent:.3f}",
        f"{zone.length_px:.2f} ± {err:.2f}",
        f"{zone.width_px:.2f} ± {width_err:.2f}",
    )
    cells = "".join(f'<td class="number">{number}</td>' for number in numbers)
    cells += f"<td>{turn_words(zone)}</td>"
    for number in (lean_number(zone), *colour_numbers(zone), trail_words(zone)):
        cells += f'<td class="number">{number}</td>'
    sky = math.hypot(*(zone.trail_expected_px or (0.0, 0.0)))
    return f'<tr>{head}{cells}<td class="number">{sky:.1f}</td></tr>'
