"""Numbers as words on cards, charts and tables: one way to write each quantity."""

from __future__ import annotations

import re

from nightglass.gear.lens import LensSetting

NOT_TESTED = "not tested"
NOT_RECORDED = "not recorded"


def seconds(time_s: float) -> str:
    """Return a shutter time as a photographer reads it: 20 s, 1.3 s, 1/60 s, or "no limit".

    Raises ValueError for a time of 0 or less, or not a number.
    """
    if not time_s > 0:
        raise ValueError(f"time_s is {time_s:g}; a shutter time is above 0 seconds")
    if time_s == float("inf"):
        return "no limit"
    if time_s < 0.295:
        return f"1/{round(1 / time_s)} s"
    return f"{round(time_s, 1) if time_s < 9.95 else round(time_s):g} s"


def f_number(value: float) -> str:
    """Return f/2.8 for 2.8."""
    return f"f/{value:g}"


def focal(focal_mm: float) -> str:
    """Return a focal length with its unit: 24 mm, 17.5 mm."""
    return f"{round(focal_mm, 1):g} mm"


def title_of(lens: str, focal_mm: float) -> str:
    """Return a lens with its focal length, which a name that says it already does not repeat.

    The ends of a zoom are no such name: 11-18 mm.
    """
    said = re.search(rf"(?<![\d.\u2013-]){re.escape(focal(focal_mm))}", lens)
    return lens if said else f"{lens}, {focal(focal_mm)}"


def setting_title(setting: LensSetting) -> str:
    """Return a setting as a person says it: lens, f-number, focal length if the name lacks it."""
    return f"{title_of(setting.lens, setting.focal_mm)}, {f_number(setting.f_number)}"


def percent(value: float) -> str:
    """Return a share of the picture height with two significant places: 0.17 %, 0.055 %."""
    if value == 0:
        return "0 %"
    return f"{value:.2f} %" if abs(value) >= 0.1 else f"{value:.3f} %"


def signed_percent(value: float) -> str:
    """Return a gain with its sign: +12 %, \N{MINUS SIGN}3 %."""
    sign = "+" if value >= 0 else "\N{MINUS SIGN}"
    return f"{sign}{abs(value):.0f} %"


def ordinal(place: int) -> str:
    """Return 1st, 2nd, 3rd, 11th."""
    tail = "th" if 10 <= place % 100 <= 20 else {1: "st", 2: "nd", 3: "rd"}.get(place % 10, "th")
    return f"{place}{tail}"


def file_stem(name: str, taken: set[str]) -> str:
    """Return a file name for a lens: letters and digits of any script, else hyphens; unique.

    taken: stems in use (compared without case, as some disks do); the new one is added.
    """
    kept = "".join(c if c.isalnum() else "-" for c in name)
    stem = "-".join(part for part in kept.split("-") if part)[:60].rstrip("-") or "lens"
    number, base = 2, stem
    while stem.casefold() in taken:
        stem, number = f"{base}-{number}", number + 1
    taken.add(stem.casefold())
    return stem
