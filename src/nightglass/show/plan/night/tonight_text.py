"""Tonight's settings as lines of text and as plain data."""

from __future__ import annotations

import math
from typing import Any

from nightglass.plan.codes import LightCode
from nightglass.plan.night.land import LandExposure, LandFocus
from nightglass.plan.night.tonight import PlaceTime, Tonight
from nightglass.plan.night.wished_tonight import TonightPlan
from nightglass.show.columns import Facts, Part, Table, lines_of
from nightglass.show.iso_words import iso_reason_words
from nightglass.show.plan.caution_words import caution_data, short_cautions
from nightglass.show.plan.frame_words import PLACE_WORDS, gear_note_words, shot_text, time_text
from nightglass.show.plan.night.data import moment_data, place_data
from nightglass.show.plan.night.land_words import exposure_words, focus_words
from nightglass.show.plan.night.text import zone_line
from nightglass.show.plan.night.words import (
    compass,
    look_again_lines,
    place_text,
)
from nightglass.show.words import percent, seconds
from nightglass.verdict.records import Release, Times


def tonight_lines(planned: TonightPlan, width: int | None = None) -> list[str]:
    """Return settings, land and gear as lines; width: of the terminal, None for a file."""
    return list(lines_of(tonight_parts(planned), width))


def tonight_parts(planned: TonightPlan) -> list[Part]:
    """Return settings, land and gear of a frame."""
    lines: list[Part] = [
        *settings_parts(planned.settings),
        "",
        f"  Land: {focus_words(planned.focus)}",
    ]
    if planned.exposure is not None:
        lines.append(f"  {exposure_words(planned.exposure)}")
    lines += [f"  {gear_note_words(note)}" for note in planned.notes]
    return [*lines, "", *short_cautions()]


def light_words(plan: Tonight) -> str:
    """Return what sun and moon do at the moment of a frame."""
    below = f"the sun is {-plan.sun_degrees:.0f}° below the horizon."
    sun = {
        LightCode.SUN_UP: "The sun is up: never aim a lens or a finder at it.",
        LightCode.TWILIGHT: f"Twilight: {below}",
        LightCode.DARK: f"Fully dark: {below}",
    }[plan.light]
    if plan.moon_degrees > 0:
        return f"{sun} The moon is up, {plan.moon_degrees:.0f}° high."
    return f"{sun} The moon is down."


def settings_parts(plan: Tonight) -> list[Part]:
    """Return the settings of a frame and how the common rules would do."""
    pointing = plan.pointing
    return [
        f"{shot_text(plan.shot)}, {plan.at:%A %d %B %Y, %H:%M} at {plan.place.name} "
        f"({place_text(plan.place)})",
        zone_line(plan.place, plan.at),
        *look_again_lines(plan.place),
        f"Aim: azimuth {pointing.azimuth_degrees:.0f}° ({compass(pointing.azimuth_degrees)}), "
        f"{pointing.altitude_degrees:.0f}° high; declination "
        f"{plan.aim.declination_degrees:.0f}° at the centre. {light_words(plan)}",
        "",
        _times_facts(plan),
        "",
        _places_table(plan),
        f"  (trails for {plan.exposure_s:g} s)",
        "",
        _rules_table(plan),
    ]


def _times_facts(plan: Tonight) -> Facts:
    times, chosen = plan.times, plan.times.chosen
    return Facts(
        (
            ("with remote", f"{seconds(chosen.remote_s)}; {_elsewhere(plan, 'remote')}"),
            (
                "on the dial",
                f"{seconds(chosen.dial_marked_s)}; {_elsewhere(plan, 'dial')} (true "
                f"{chosen.dial_true_s:.1f} s, {_signed(chosen.dial_gain_stops)} stops against the "
                "limit)",
            ),
            (
                "tolerance",
                f"a trail of {percent(plan.limit_percent)} of picture height, "
                f"{_HOLDS[times.holds_at]}",
            ),
            ("ISO", f"{plan.iso.iso or 'not known'}; {iso_reason_words([plan.iso])}"),
        )
    )


def _places_table(plan: Tonight) -> Table:
    rows = [
        _place_row(f"shortest: {PLACE_WORDS[plan.shortest.place]}", plan.shortest),
        _place_row("frame centre", plan.centre),
    ]
    if plan.target is not None:
        rows.append(_place_row("Milky Way's centre", plan.target))
    titles = "place", "declination", "longest", "trail then"
    return Table(titles, tuple(rows), titles[1:])


def _rules_table(plan: Tonight) -> Table:
    rows = []
    for here in plan.rules:
        over = " over" if here.worst_trail_percent > plan.limit_percent * 1.0005 else ""
        trail = f"{percent(here.worst_trail_percent)}{over}"
        rows.append((here.rule.name, time_text(here.rule.limit_s), trail))
    titles = "common rules for this lens", "time", "trail where it is longest"
    return Table(titles, tuple(rows), titles[1:2])


def tonight_data(planned: TonightPlan) -> dict[str, Any]:
    """Return settings, land and gear as dictionaries; a time without limit is None."""
    return {
        **settings_data(planned.settings),
        "land": _land_data(planned.focus, planned.exposure),
        "gear": [{"code": note.code, **note.values} for note in planned.notes],
        "cautions": caution_data(),
    }


def settings_data(plan: Tonight) -> dict[str, Any]:
    """Return the settings of a frame as dictionaries; a time without limit is None."""
    return {
        "place": place_data(plan.place),
        "at": moment_data(plan.at, plan.place),
        "setting": {
            "focal_mm": plan.shot.focal_mm,
            "f_number": plan.shot.f_number,
            "projection": plan.shot.projection,
            "portrait": plan.shot.portrait,
        },
        "aim": {
            "azimuth_degrees": round(plan.pointing.azimuth_degrees, 3),
            "altitude_degrees": round(plan.pointing.altitude_degrees, 3),
            "roll_degrees": plan.pointing.roll_degrees,
            "declination_degrees": round(plan.aim.declination_degrees, 3),
        },
        "tolerance_percent": plan.limit_percent,
        "holds_at": plan.times.holds_at,
        **_times_data(plan.times.chosen),
        **{f"other_{key}": value for key, value in _times_data(plan.times.other).items()},
        "iso": plan.iso.iso,
        "iso_reason": plan.iso.reason,
        "shortest": _place_data(plan.shortest),
        "centre": _place_data(plan.centre),
        "milky_way_centre": None if plan.target is None else _place_data(plan.target),
        "rules": [
            {
                "rule": here.rule.name,
                "limit_s": round(here.rule.limit_s, 3),
                "worst_trail_percent": round(here.worst_trail_percent, 4),
                "source": here.rule.source,
            }
            for here in plan.rules
        ],
        "sun_degrees": round(plan.sun_degrees, 2),
        "moon_degrees": round(plan.moon_degrees, 2),
        "light": plan.light,
    }


_HOLDS = {"centre": "at the frame's centre", "corners": "at every place that shows sky"}


def _elsewhere(plan: Tonight, release: Release) -> str:
    other = seconds(plan.times.other.shown_s(release))
    if plan.times.holds_at == "corners":
        return f"{other} for the centre alone"
    return f"{other} if every place must hold"


def _times_data(times: Times) -> dict[str, float]:
    return {
        "limit_s": round(times.limit_s, 3),
        "remote_s": round(times.remote_s, 3),
        "dial_marked_s": times.dial_marked_s,
        "dial_true_s": round(times.dial_true_s, 4),
        "dial_gain_stops": round(times.dial_gain_stops, 3),
    }


def _land_data(focus: LandFocus, light: LandExposure | None) -> dict[str, Any]:
    return {
        "hyperfocal_m": round(focus.hyperfocal_m, 2),
        "near_limit_m": round(focus.near_limit_m, 2),
        "star_blur_percent": round(focus.star_blur_percent, 4),
        "star_hyperfocal_m": round(focus.star_hyperfocal_m, 1),
        "light": None if light is None else light.source,
        "illuminance_lux": None if light is None else round(light.illuminance_lux, 5),
        "exposure_s": None if light is None else round(light.exposure_s, 1),
        "iso": None if light is None else light.iso,
    }


def _place_row(words: str, at: PlaceTime) -> tuple[str, ...]:
    return (
        words, f"{at.declination_degrees:.0f}°", time_text(at.longest_s), percent(at.trail_percent)
    )  # fmt: skip


def _place_data(at: PlaceTime) -> dict[str, Any]:
    return {
        "place": at.place,
        "x_mm": round(at.x_mm, 4),
        "y_mm": round(at.y_mm, 4),
        "declination_degrees": round(at.declination_degrees, 3),
        "longest_s": round(at.longest_s, 3) if math.isfinite(at.longest_s) else None,
        "trail_percent": round(at.trail_percent, 5),
    }


def _signed(stops: float) -> str:
    return f"{'+' if stops >= 0 else '−'}{abs(stops):.2f}"
