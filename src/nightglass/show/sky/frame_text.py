"""An observed frame as plain data and in plain words."""

from __future__ import annotations

import math
from dataclasses import asdict, fields
from typing import Any

import numpy as np

from nightglass.show.digits import chance_words, plus_minus
from nightglass.show.sky.sheet import SINGLE_LEFT_OUT
from nightglass.show.sky.words.developed import developed_notes
from nightglass.show.sky.words.field import (
    colour_numbers,
    falloff_words,
    hint_words,
    lean_number,
    lean_words,
    reading_words,
    trail_words,
    uneven_words,
    unknown_words,
    zone_name,
)
from nightglass.show.sky.words.motion import motion_words, shutter_words
from nightglass.show.sky.words.night import LIMIT_SOURCES, night_note_words, noise_words
from nightglass.show.sky.words.unsolved import (
    advice_words,
    frame_note_words,
    tried_words,
    unsolved_words,
)
from nightglass.sky.astrometry.refine import Solution
from nightglass.sky.observe import Observation
from nightglass.sky.photometry.conditions import Night
from nightglass.sky.zones.field import Field, Uneven, read_field
from nightglass.sky.zones.field_hints import field_hints, side_verdict, turn_of
from nightglass.sky.zones.motion import Motion
from nightglass.sky.zones.shutter import shutter_hint
from nightglass.sky.zones.zone import Zone

FROM_FILE = "from_file"
"""Code of a note that the reading of the file made; `text` holds it."""


def as_data(seen: Observation, file: str) -> dict[str, Any]:
    """Return what a frame gave as plain values; what is not known is None."""
    stars, taken = seen.found.stars, seen.frame.metadata.taken_at
    data: dict[str, Any] = {
        "file": file,
        "solved": isinstance(seen.solution, Solution),
        "taken_at": None if taken is None else taken.isoformat(),
        "exposure_s": seen.exposure_s,
        "stars_found": len(stars),
        "hot_pixels": seen.found.hot_pixels,
        "filter_sigma_px": seen.found.filter_sigma_px,
        "notes": _notes_data(seen),
        "developed": list(seen.developed),
    }
    if not isinstance(seen.solution, Solution):
        failed = seen.solution
        return data | {
            "reason": failed.reason,
            "stars": failed.stars,
            "advice": failed.advice,
            "tried": [asdict(attempt) for attempt in failed.tried],
            "timed_out": failed.timed_out,
        }
    solved = seen.solution
    camera, errors = solved.camera, solved.fit.errors
    data |= {
        "ra_degrees": solved.ra_degrees,
        "dec_degrees": solved.dec_degrees,
        "roll_degrees": solved.roll_degrees,
        "aim_err_degrees": solved.fit.aim_err_degrees,
        "width_degrees": solved.width_degrees,
        "projection": camera.projection,
        "projection_known": solved.projection_known,
        "focal_px": camera.focal_px,
        "focal_px_err": float(errors[0]),
        "centre_x_px": camera.centre_x_px,
        "centre_x_px_err": float(errors[1]),
        "centre_y_px": camera.centre_y_px,
        "centre_y_px_err": float(errors[2]),
        "k1": camera.k1,
        "k1_err": float(errors[3]),
        "k2": camera.k2,
        "k2_err": float(errors[4]),
        "stars_matched": len(solved.match.found),
        "rms_px": solved.rms_px,
        "chance_log10": solved.chance_log10,
        "night": None if seen.night is None else asdict(seen.night),
        "motion": None if seen.motion is None else _motion_data(seen.motion, seen),
        "lens": None,
    }
    if seen.motion is not None:
        size = seen.frame.width_px, seen.frame.height_px
        data["lens"] = _field_data(read_field(seen.motion, seen.night, *size))
    return data


def in_words(seen: Observation, file: str) -> list[str]:
    """Return the lines that a person reads."""
    left_out = SINGLE_LEFT_OUT.format(seen.found.hot_pixels)
    lines = [f"{file}: {len(seen.found.stars)} stars, {left_out}"]
    lines += [f"  note: {note}" for note in (*note_lines(seen), *developed_notes(seen.developed))]
    if not isinstance(seen.solution, Solution):
        failed = seen.solution
        lines.append(f"  not solved: {unsolved_words(failed)}")
        if failed.tried:
            lines.append(f"  tried: {tried_words(failed)}")
        lines.append(f"  what would help: {advice_words(failed, seen)}")
        return lines
    solved = seen.solution
    camera, errors = solved.camera, solved.fit.errors
    kind = camera.projection if solved.projection_known else f"{camera.projection} (others fit too)"
    corner = 100 * (camera.k1 + camera.k2)
    lines += [
        f"  aim: RA {solved.ra_degrees:.3f}, Dec {solved.dec_degrees:+.3f} degrees (ICRS), "
        f"{solved.width_degrees:.2f} degrees wide; {len(solved.match.found)} stars matched, "
        f"rms {solved.rms_px:.2f} px",
        f"  camera: {kind}, focal length {plus_minus(camera.focal_px, float(errors[0]), 'px')}, "
        f"optical centre x {plus_minus(camera.centre_x_px, float(errors[1]))}, y "
        f"{plus_minus(camera.centre_y_px, float(errors[2]), 'px')}, distortion {corner:+.2f} ± "
        f"{100 * float(np.hypot(errors[3], errors[4])):.2f} % at the corner",
        f"  chance of a false match: {chance_words(solved.chance_log10)}",
    ]
    lines += [] if seen.night is None else _night_words(seen.night)
    return lines + ([] if seen.motion is None else _motion_words(seen.motion, seen.night, seen))


def _night_words(night: Night) -> list[str]:
    lines = [f"  stars recorded: {night.stars_recorded}, open sky {100 * night.open_sky:.0f} %"]
    if night.limiting_mag is None:
        lines.append(f"  limiting magnitude: not known, {LIMIT_SOURCES[night.limiting_from]}")
    else:
        lines.append(
            f"  limiting magnitude: G {night.limiting_mag:.2f} ± {night.limiting_err:.2f} "
            f"({LIMIT_SOURCES[night.limiting_from]})"
        )
    if night.zero_point_mag is not None:
        lines.append(
            f"  zero point: G {night.zero_point_mag:.3f} ± {night.zero_point_err:.3f} for one "
            f"green count per second, {night.zero_point_stars} stars, scatter "
            f"{night.zero_point_scatter:.2f} (star colours and more)"
        )
    if night.sky_mag_arcsec2 is not None:
        lines.append(
            f"  sky: {night.sky_mag_arcsec2:.2f} ± {night.sky_err:.2f} G mag per square arcsecond"
        )
    lines.append(f"  noise set by: {noise_words(night.limited_by, night.noise_times_sky)}")
    return lines + [f"  note: {note}" for note in night_note_words(night)]


def _field_data(field: Field) -> dict[str, Any]:
    """Centre, edges, corners, sides and light."""
    light = field.falloff
    places = {} if light is None else {"short_sides": light.edge_radius, "corners": 1.0}
    return {
        "readings": [asdict(reading) for reading in field.readings],
        "decentring": [_uneven_data(found, field) for found in field.uneven],
        "falloff_stops": {
            name: {"lost": light.stops(radius), "err": light.stops_err(radius)}
            for name, radius in places.items()
            if light is not None
        },
        "falloff_reason": field.falloff_reason,
        "hints": [_known(hint) for hint in field_hints(field)],
    }


def note_lines(seen: Observation) -> list[str]:
    """Return what is to be known of a frame: what its file said, then what its stars say."""
    return [*seen.frame.notes, *map(frame_note_words, seen.notes)]


def _notes_data(seen: Observation) -> list[dict[str, Any]]:
    """Codes with their numbers; what the file itself said is `from_file`, with its text."""
    said = [{"code": FROM_FILE, "text": text} for text in seen.frame.notes]
    clock = () if seen.circumstances is None else seen.circumstances.notes
    return [*said, *map(_known, seen.notes), *({"code": code} for code in clock)]


def _known(record: Any) -> dict[str, Any]:
    """A record's values that are known."""
    return {name: value for name, value in asdict(record).items() if value is not None}


def _uneven_data(found: Uneven, field: Field) -> dict[str, Any]:
    verdict = side_verdict(found, field)
    return {**asdict(found), "real": found.real, "softer": found.softer, "verdict": verdict}


def _motion_data(motion: Motion, seen: Observation) -> dict[str, Any]:
    zones = [
        {f.name: getattr(zone, f.name) for f in fields(zone) if f.name != "image"}
        for zone in motion.zones
    ]
    known = all(map(math.isfinite, motion.extra_err_px))
    marked_s = seen.frame.metadata.exposure_marked_s
    shutter = shutter_hint(motion, seen.exposure_s, marked_s)
    return {
        "extra_px": list(motion.extra_px) if known else None,
        "extra_err_px": list(motion.extra_err_px) if known else None,
        "kind": motion.kind,
        "moved": motion.moved,
        "rate": motion.rate,
        "rate_err": motion.rate_err,
        "tracked": motion.tracked,
        "rate_unclear": motion.rate_unclear,
        "drift_err_px": motion.drift_err_px,
        "shutter_hint": None if shutter is None else asdict(shutter),
        "zones": zones,
    }


def _motion_words(motion: Motion, night: Night | None, seen: Observation) -> list[str]:
    """The lens over the field, then lens and trail per zone; % of picture height beside pixels."""
    frame = seen.frame
    lines = [f"  motion: {motion_words(motion)}"]
    hint = shutter_hint(motion, seen.exposure_s, frame.metadata.exposure_marked_s)
    shutter = shutter_words(hint, seen.exposure_s)
    lines += [f"  hint: {shutter}"] if shutter else []
    field = read_field(motion, night, frame.width_px, frame.height_px)
    if not field.measured:
        return lines
    lines.append("  the lens alone (length of its stars, trail and motion taken out):")
    lines += [f"    {r.place}: {reading_words(r, field.percent)}" for r in field.readings]
    lines += [f"  decentring: {uneven_words(found, field)}" for found in field.uneven]
    lines += [] if seen.developed else [f"  {falloff_words(field)}"]
    lines += [f"  hint: {hint}" for hint in hint_words(field)]
    lines.append("  zone by zone:")
    return lines + [f"    {_zone_words(zone, field.percent)}" for zone in field.zones]


def _zone_words(zone: Zone, percent: float) -> str:
    if zone.length_px is None or zone.width_px is None or zone.trail_seen_px is None:
        return f"{zone_name(zone)}: {unknown_words(zone)}"
    about = ", ".join(word for word in (turn_of(zone), lean_words(zone)) if word)
    red, blue = colour_numbers(zone)
    colours = f"; red {red}, blue {blue} px beside green" if red and blue else ""
    lean = f"; lean {lean_number(zone)}" if zone.lean is not None else ""
    expected = math.hypot(*(zone.trail_expected_px or (0.0, 0.0)))
    return (
        f"{zone_name(zone)}: {zone.length_px * percent:.3f} % of height, length "
        f"{zone.length_px:.2f} ± {zone.length_px_err:.2f} px, width {zone.width_px:.2f} ± "
        f"{zone.width_px_err:.2f}, {about}{lean}{colours}; trail "
        f"{trail_words(zone)} px, the sky's {expected:.1f}; {zone.stars} stars"
    )
