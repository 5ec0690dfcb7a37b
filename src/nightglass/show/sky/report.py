"""One self-contained page on frames of the sky: maps, actual stars, numbers with their sources."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from nightglass.show.outlined import write_picture
from nightglass.show.page import made, render, write_page
from nightglass.show.sky.filter_chart import filter_svg
from nightglass.show.sky.map import sky_map_svg
from nightglass.show.sky.sheet import SkySheet
from nightglass.show.sky.stars import star_crops_svg
from nightglass.show.sky.words.field import (
    colour_numbers,
    falloff_words,
    hint_words,
    lean_number,
    trail_words,
    uneven_words,
    unknown_words,
    zone_name,
)
from nightglass.show.sky.words.filter import VERDICTS, filter_reason_words, taken_words
from nightglass.sky.photometry.filtering import Filtering
from nightglass.sky.zones.field import PLACES, Field
from nightglass.sky.zones.field_hints import turn_of
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
        written += write_picture(svg, path.with_name(f"{path.name}.svg"),
                                 path.with_name(f"{path.name}.png"))  # fmt: skip
    return written


def section_of(sheet: SkySheet, svgs: Mapping[str, str]) -> Section:
    """Return a frame's section of the page with its pictures (of `pictures`) in it."""
    field = sheet.field if sheet.field is not None and sheet.field.measured else None
    groups = [(name, [(f.name, f.value, f.source) for f in facts]) for name, facts in sheet.groups]
    html = render(
        "sky_section.html",
        sheet={
            "title": sheet.title,
            "subtitle": sheet.subtitle,
            "groups": groups,
            "notes": sheet.notes,
        },
        pictures=[made(svg) for svg in svgs.values()],
        lens_words=[] if field is None else _lens_words(field),
        zone_heads=HEADS,
        zones=[] if field is None else [_zone_row(zone, field.percent) for zone in field.zones],
    )
    return Section(sheet.title, _glance(sheet), html)


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
    places = (f"{place}, % of height" for place in PLACES)
    names = (*places, "sky, G mag per arcsec²", "limit, G mag")
    return render(
        "sky_report.html",
        title=title,
        contents=len(sections) + bool(verdicts) >= 2,
        glance_heads=[("frame", ""), *((name, "number") for name in names)],
        sections=[
            {"title": one.title, "glance": one.glance, "html": made(one.html)} for one in sections
        ],
        filtering=made(filtering_html(verdicts)) if verdicts else "",
    )


def filtering_html(verdicts: Sequence[Filtering]) -> str:
    """Return the section on raw filtering: a verdict per mode and time, with its picture."""
    rows = [(taken_words(v), VERDICTS[v.verdict], filter_reason_words(v)) for v in verdicts]
    return render("sky_filtering.html", verdicts=rows, picture=made(filter_svg(verdicts)))


def write_report(page: str, folder: Path) -> Path:
    """Write the page as sky.html into a folder that is made if need be; return its path.

    Raises OSError where the folder can't be written.
    """
    return write_page(page, folder / PAGE)


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


def _lens_words(field: Field) -> list[str]:
    uneven = [uneven_words(found, field) for found in field.uneven]
    return [*uneven, falloff_words(field), *hint_words(field)]


def _zone_row(zone: Zone, percent: float) -> dict[str, Any]:
    """The cells of a zone's row; a reason in place of sizes that are not known."""
    row: dict[str, Any] = {"name": zone_name(zone), "stars": zone.stars, "reason": ""}
    if zone.length_px is None or zone.width_px is None:
        return row | {"reason": unknown_words(zone)}
    err, width_err = zone.length_px_err or 0.0, zone.width_px_err or 0.0
    sky = math.hypot(*(zone.trail_expected_px or (0.0, 0.0)))
    return row | {
        "sizes": (
            f"{zone.length_px * percent:.3f} ± {err * percent:.3f}",
            f"{zone.length_px:.2f} ± {err:.2f}",
            f"{zone.width_px:.2f} ± {width_err:.2f}",
        ),
        "points": turn_of(zone),
        "rest": (lean_number(zone), *colour_numbers(zone), trail_words(zone), f"{sky:.1f}"),
    }
