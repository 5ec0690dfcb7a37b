"""One frame as a report shows it: facts with errors and where they come from, field, stars."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

from nightglass.frame.record import Metadata
from nightglass.show.digits import chance_words, plus_minus
from nightglass.show.sky.words.developed import developed_notes
from nightglass.show.sky.words.motion import motion_words, shutter_words
from nightglass.show.sky.words.night import LIMIT_SOURCES, night_note_words, noise_words
from nightglass.show.sky.words.unsolved import advice_words, frame_note_words, unsolved_words
from nightglass.sky.astrometry.refine import Solution
from nightglass.sky.observe import Observation
from nightglass.sky.photometry.conditions import Night
from nightglass.sky.zones.field import Field, read_field
from nightglass.sky.zones.motion import Motion
from nightglass.sky.zones.shutter import shutter_hint
from nightglass.sky.zones.typical import Crop, typical_stars

STARS = "matched catalogue stars"
FILE = "the file's own tags"
SINGLE_LEFT_OUT = "{} single bright samples (hot pixels, or stars of one pixel) left out"


@dataclass(frozen=True)
class Fact:
    """A line of a report: what, how much with its error and unit, and where it comes from."""

    name: str
    value: str
    source: str


@dataclass(frozen=True)
class SkySheet:
    """One frame for pictures and report; what is not known is empty or None."""

    title: str
    subtitle: str
    groups: tuple[tuple[str, tuple[Fact, ...]], ...]
    """Headings with their facts."""
    notes: tuple[str, ...]
    """What a reader should know, in sentences."""
    field: Field | None
    crops: tuple[Crop, ...]
    sky: tuple[str, str] = ("", "")
    """Sky brightness and limiting magnitude."""
    up_side: str | None = None
    """Side of the raw frame toward which the zenith lies, where place and time are known."""
    on_map: int = 0
    """How many notes, from the first one on, belong on the map too: motion and time."""
    no_field: str = ""
    """Why there is no field, in two or three words; empty where there is one."""


def sheet_of(
    seen: Observation,
    of_the_time: Sequence[str] = (),
    title: str = "",
    up_side: str | None = None,
) -> SkySheet:
    """Return a frame's sheet.

    of_the_time: what place and clock say of the night (moment_words). title: else the file's name.
    up_side: of its SkyMoment.
    """
    groups = [("The frame", _frame_facts(seen))]
    of_motion: list[str] = []
    notes = [
        *of_the_time, *seen.frame.notes, *map(frame_note_words, seen.notes),
        *developed_notes(seen.developed),
    ]  # fmt: skip
    field: Field | None = None
    crops: tuple[Crop, ...] = ()
    if isinstance(seen.solution, Solution):
        groups.append(("Aim and camera", _camera_facts(seen.solution, seen.pitch_um)))
        if seen.motion is not None:
            field = read_field(seen.motion, seen.night, seen.frame.width_px, seen.frame.height_px)
            crops = typical_stars(seen.frame, seen.found, seen.solution, seen.motion)
            groups.append(("Motion", _motion_facts(seen.motion)))
            marked_s = seen.frame.metadata.exposure_marked_s
            hint = shutter_hint(seen.motion, seen.exposure_s, marked_s)
            shutter = shutter_words(hint, seen.exposure_s)
            of_motion = [motion_words(seen.motion), *([shutter] if shutter else [])]
            notes[:0] = of_motion
    else:
        tried = f"{len(seen.solution.tried)} cameras tried"
        why = Fact("why", unsolved_words(seen.solution), tried)
        advice = advice_words(seen.solution, seen)
        groups.append(("Not solved", (why, Fact("what would help", advice, ""))))
    if seen.night is not None:
        groups.append(("The night", _night_facts(seen.night)))
        notes += night_note_words(seen.night)
    return SkySheet(
        title or Path(seen.file).name or "frame", setting_words(seen.frame.metadata), tuple(groups),
        tuple(dict.fromkeys(notes)), field, crops,
        _sky_words(seen.night), up_side, len(of_motion) + len(of_the_time),
        _no_field(seen),
    )  # fmt: skip


def _no_field(seen: Observation) -> str:
    if not isinstance(seen.solution, Solution):
        return "not solved"
    return "exposure time not known" if seen.motion is None else ""


def setting_words(metadata: Metadata) -> str:
    """Return lens, focal length, f-number, time, ISO and date of a frame in one line."""
    known = metadata
    parts = [
        known.lens,
        None if known.focal_mm is None else f"{known.focal_mm:g} mm",
        None if known.f_number is None else f"f/{known.f_number:g}",
        _time_words(known),
        None if known.iso is None else f"ISO {known.iso}",
        None if known.taken_at is None else f"{known.taken_at:%Y-%m-%d %H:%M %Z}".strip(),
    ]
    return " · ".join(part for part in parts if part) or "nothing recorded about the exposure"


def _time_words(known: Metadata) -> str | None:
    marked, true = known.exposure_marked_s, known.exposure_true_s
    if true is None:
        return None
    if marked is None or abs(marked / true - 1) < 0.01:
        return f"{true:.4g} s"
    return f"{marked:g} s (true {true:.4g} s)"


def _sky_words(night: Night | None) -> tuple[str, str]:
    if night is None:
        return "", ""
    bright = "not known"
    if night.sky_mag_arcsec2 is not None:
        bright = f"{night.sky_mag_arcsec2:.2f} ± {night.sky_err or 0:.2f}"
    limit = "not known" if night.limiting_mag is None else f"{night.limiting_mag:.1f}"
    return bright, limit


def _frame_facts(seen: Observation) -> tuple[Fact, ...]:
    known, frame = seen.frame.metadata, seen.frame
    recorded = "not recorded"
    return (
        Fact("body", known.body or recorded, FILE),
        Fact("lens", known.lens or recorded, FILE),
        Fact("exposure", setting_words(known), f"{FILE}; time: the true one"),
        Fact("size", f"{frame.width_px} × {frame.height_px} px", "the raw area that is shown"),
        Fact(
            "stars found",
            f"{len(seen.found.stars)}; {SINGLE_LEFT_OUT.format(seen.found.hot_pixels)}",
            "peaks of 5 times their noise (SNR 5) and more in the linear mosaic",
        ),
    )


def _camera_facts(solved: Solution, pitch_um: float | None) -> tuple[Fact, ...]:
    camera, errors = solved.camera, [float(e) for e in solved.fit.errors]
    stars = f"fit to {len(solved.match.found)} {STARS}"
    kind = camera.projection if solved.projection_known else f"{camera.projection} (others fit too)"
    focal = plus_minus(camera.focal_px, errors[0], "px")
    if pitch_um is not None:
        mm = plus_minus(camera.focal_px * pitch_um / 1000, errors[0] * pitch_um / 1000, "mm")
        focal += f" = {mm} at a pitch of {pitch_um:g} µm"
    aim = f"RA {solved.ra_degrees:.3f}, Dec {solved.dec_degrees:+.3f} degrees"
    aim += f" ± {solved.fit.aim_err_degrees:.4f}"
    corner = 100 * (camera.k1 + camera.k2)
    return (
        Fact("aim", aim, f"{stars} (ICRS)"),
        Fact("width", f"{solved.width_degrees:.2f} degrees", "along the middle row"),
        Fact("turn", f"{solved.roll_degrees:.2f} degrees", "of the frame's up from celestial north "
             "through east"),
        Fact("projection", kind, "the one that fits best"),
        Fact("focal length", focal, stars),
        Fact("optical centre", f"x {plus_minus(camera.centre_x_px, errors[1])}, y "
             f"{plus_minus(camera.centre_y_px, errors[2], 'px')}", stars),
        Fact("distortion", f"{corner:+.2f} ± {100 * math.hypot(errors[3], errors[4]):.2f} % at the "
             "corner", stars),
        Fact("miss of the fit", f"{solved.rms_px:.2f} px rms", stars),
        Fact("chance of a false match", chance_words(solved.chance_log10),
             "the brightest 200 stars"),
    )  # fmt: skip


def _motion_facts(motion: Motion) -> tuple[Fact, ...]:
    size = math.hypot(*motion.extra_px)
    err = math.hypot(*motion.extra_err_px)
    if not math.isfinite(err):
        return (Fact("motion beyond the sky's", "not known", motion_words(motion)),)
    facts = [
        Fact(
            "motion beyond the sky's",
            f"{size:.2f} ± {err:.2f} px, {'real' if motion.moved else 'none shown'}",
            "fit along every star's own path, all zones together",
        )
    ]
    if motion.rate is not None:
        what = "a tracking mount" if motion.tracked else "as on a tripod"
        rate = plus_minus(motion.rate, motion.rate_err, "of the sky's")
        facts.insert(
            0, Fact("rate of the stars", f"{rate}, {what}", "the same fit; 1 on a tripod, 0 on a "
                    "perfect mount")
        )  # fmt: skip
    return tuple(facts)


def _night_facts(night: Night) -> tuple[Fact, ...]:
    facts = [
        Fact("stars recorded", str(night.stars_recorded),
             f"in the open sky, {100 * night.open_sky:.0f} % of the frame"),
    ]  # fmt: skip
    limit = "not known"
    if night.limiting_mag is not None:
        limit = plus_minus(night.limiting_mag, night.limiting_err, "G")
    facts.append(Fact("limiting magnitude", limit, LIMIT_SOURCES[night.limiting_from]))
    if night.zero_point_mag is not None:
        scatter = f"{night.zero_point_stars} stars, scatter {night.zero_point_scatter:.2f} mag"
        facts.append(
            Fact("zero point", plus_minus(night.zero_point_mag, night.zero_point_err, "G mag"),
                 f"for one green count per second; {scatter} (their colours and more)")
        )  # fmt: skip
    if night.sky_mag_arcsec2 is not None:
        facts.append(
            Fact("sky brightness", plus_minus(night.sky_mag_arcsec2, night.sky_err,
                 "G mag per square arcsecond"), "sky level over the zero point, air included")
        )  # fmt: skip
    if night.gain_e_per_count is not None and night.read_noise_counts is not None:
        facts.append(
            Fact("sensor", f"{night.gain_e_per_count:.2f} electrons per count, read noise "
                 f"{night.read_noise_counts:.1f} counts", "variance of the sky against its level")
        )  # fmt: skip
    noise = noise_words(night.limited_by, night.noise_times_sky)
    facts.append(Fact("noise set by", noise, "sky level, variance, read noise"))
    return tuple(facts)
