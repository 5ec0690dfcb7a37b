"""Why a frame could not be solved, what would help, and what is to be known of any frame."""

from __future__ import annotations

from nightglass.sky.astrometry.codes import Advice, UnsolvedReason
from nightglass.sky.astrometry.solve import LEAST_STARS, Unsolved
from nightglass.sky.codes import FrameNote, FrameNoteCode
from nightglass.sky.observe import Observation

UNSOLVED_REASONS = {
    UnsolvedReason.TOO_FEW_STARS: (
        f"only {{stars}} stars stand out; a solution takes {LEAST_STARS} or more"
    ),
    UnsolvedReason.NO_PATTERN_FITS: (
        "no star pattern of the {stars} brightest stars fits the catalogue"
    ),
}
ADVICE = {
    Advice.MORE_LIGHT: (
        "expose longer, open the aperture, focus on a star, or wait for the clouds to pass"
    ),
    Advice.NAME_THE_CAMERA: (
        "state the focal length and the pixel pitch; try a frame with more stars in it (less land, "
        "wider aperture) or one of a few seconds, in which they do not trail; check that the frame "
        "is sharp, is not mirrored, is no stack or panorama, and holds at least 15 stars above the "
        "land"
    ),
    Advice.ANOTHER_FRAME: "another frame, as the note says; no option helps",
}
FRAME_NOTES = {
    FrameNoteCode.NO_EXPOSURE: (
        "the exposure time is not recorded: lens and star motion are not told apart; state the "
        "true time in seconds (--exposure-s)"
    ),
    FrameNoteCode.FEW_HOT_PIXELS: (
        "only {hot_pixels} single hot pixels in {millions} million: a dark frame was taken off, or "
        "the body filters its raw data and small stars with it; dark frames tell (--dark)"
    ),
    FrameNoteCode.CLIPPED: (
        "{clipped_percent} % of the frame is clipped: the moon, a lamp or daylight is in it"
    ),
    FrameNoteCode.FEW_POINTS: (
        "only {points} points of light stand out clearly: cloud, haze, or a lens far out of focus"
    ),
    FrameNoteCode.TRAILS: (
        "most points are lines, {length_px} px and longer: star trails; a frame of seconds, not of "
        "many minutes, can be solved"
    ),
    FrameNoteCode.DISCS: (
        "the points of light are discs about {length_px} px wide: the lens is far out of focus; "
        "focus on a star"
    ),
}


def unsolved_words(failed: Unsolved) -> str:
    """Return why a frame could not be solved."""
    return UNSOLVED_REASONS[failed.reason].format(stars=failed.stars)


def advice_words(failed: Unsolved, seen: Observation) -> str:
    """Return what would help, and after a search in vain which options say more of the camera."""
    words = ADVICE[failed.advice]
    if failed.advice is not Advice.NAME_THE_CAMERA:
        return words
    recorded_mm = seen.frame.metadata.focal_mm
    if seen.focal_mm is not None:
        focal = f"check the {seen.focal_mm:g} mm of --focal-mm"
    elif recorded_mm is not None:
        focal = f"--focal-mm if the lens was not at the {recorded_mm:g} mm that the file says"
    else:
        focal = "--focal-mm for the focal length, which the file does not say"
    pitch = (
        "--pitch-um for the pixel pitch (1000 x the sensor's width in mm / pixels across)"
        if seen.pitch_um is None
        else f"check the {seen.pitch_um:g} um of --pitch-um"
    )
    return f"{words}; options: {focal}; {pitch}"


def tried_words(failed: Unsolved) -> str:
    """Return how many cameras were tried and from which one on; empty without any."""
    if not failed.tried:
        return ""
    first, count = failed.tried[0], len(failed.tried)
    ended = "; time ran out" if failed.timed_out else ""
    return (
        f"{count} camera{'s' if count > 1 else ''}, {first.projection}, "
        f"{first.width_degrees:.0f} degrees wide, {first.pattern_stars} stars and onward{ended}"
    )


def frame_note_words(note: FrameNote) -> str:
    """Return a note on a frame."""
    return FRAME_NOTES[note.code].format(
        hot_pixels=note.hot_pixels,
        millions=f"{(note.samples or 0) / 1e6:.0f}",
        clipped_percent=f"{100 * (note.clipped_share or 0.0):.1f}",
        points=note.points,
        length_px=f"{note.length_px or 0.0:.0f}",
    )
