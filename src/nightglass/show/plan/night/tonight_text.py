"""Tonight's settings as lines of text and as plain data."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Any

from nightglass.plan.night.night import compass
from nightglass.plan.night.tonight import PlaceTime, Tonight, time_text
from nightglass.show.iso_words import iso_reason_words
from nightglass.show.plan.night.data import moment_data, place_data
from nightglass.show.plan.night.text import zone_line
from nightglass.show.words import percent, seconds
from nightglass.verdict.records import Release, Times


def tonight_lines(plan: Tonight, land: Sequence[str] = ()) -> list[str]:
    """Return the settings and how the common rules would do, one line each.

    land: lines about the land and the gear, to stand before the cautions.
    """
    pointing, times = plan.pointing, plan.times
    lines = [
        f"{plan.shot.text}, {plan.at:%A %d %B %Y, %H:%M} at {plan.place.name} ({plan.place.text})",
        zone_line(plan.place, plan.at),
        *(f"Look again: {c}." for c in plan.place.cautions),
        f"Aim: azimuth {pointing.azimuth_degrees:.0f}° ({compass(pointing.azimuth_degrees)}), "
        f"{pointing.altitude_degrees:.0f}° high; declination "
        f"{plan.aim.declination_degrees:.0f}° at the centre. {' '.join(plan.words)}",
        "",
        f"  with remote    {seconds(times.chosen.remote_s)}; {_elsewhere(plan, 'remote')}",
        f"  on the dial    {seconds(times.chosen.dial_marked_s)}; {_elsewhere(plan, 'dial')} "
        f"(true {times.chosen.dial_true_s:.1f} s, {_signed(times.chosen.dial_gain_stops)} stops "
        "against the limit)",
        f"  tolerance      a trail of {percent(plan.limit_percent)} of picture height, "
        f"{_HOLDS[times.holds_at]}",
        f"  ISO            {plan.iso.iso or 'not known'} ({iso_reason_words([plan.iso])})",
        "",
        f"  {'place':<42}{'declination':>12}{'longest':>10}{'trail then':>12}",
        _place_line("governs: " + plan.governs.words, plan.governs),
        _place_line("frame centre", plan.centre),
    ]
    if plan.target is not None:
        lines.append(_place_line("Milky Way's centre", plan.target))
    lines += [
        f"  (trails for {plan.exposure_s:g} s)",
        "",
        f"  {'common rules for this lens':<42}{'time':>10}{'trail where it is longest':>28}",
    ]
    for here in plan.rules:
        over = " over" if here.worst_trail_percent > plan.limit_percent * 1.0005 else ""
        lines.append(
            f"  {here.rule.name:<42}{time_text(here.rule.limit_s):>10}"
            f"{percent(here.worst_trail_percent):>22}{over}"
        )
    if land:
        lines += ["", *(f"  {words}" for words in land)]
    return [*lines, "", "Before you go", *(f"  - {c}" for c in plan.cautions)]


def tonight_data(plan: Tonight) -> dict[str, Any]:
    """Return the settings as dictionaries; a time without limit is None."""
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
        "governs": _place_data(plan.governs),
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
        "words": list(plan.words),
        "cautions": list(plan.cautions),
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


def _place_line(words: str, at: PlaceTime) -> str:
    return (
        f"  {words:<42}{at.declination_degrees:>11.0f}°{time_text(at.longest_s):>10}"
        f"{percent(at.trail_percent):>12}"
    )


def _place_data(at: PlaceTime) -> dict[str, Any]:
    return {
        "words": at.words,
        "x_mm": round(at.x_mm, 4),
        "y_mm": round(at.y_mm, 4),
        "declination_degrees": round(at.declination_degrees, 3),
        "longest_s": round(at.longest_s, 3) if math.isfinite(at.longest_s) else None,
        "trail_percent": round(at.trail_percent, 5),
    }


def _signed(stops: float) -> str:
    return f"{'+' if stops >= 0 else '−'}{abs(stops):.2f}"
