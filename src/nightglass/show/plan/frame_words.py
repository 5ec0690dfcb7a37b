"""Words for a setting of the camera, places of its frame, times, and how gear was found."""

from __future__ import annotations

import math

from nightglass.light.falloff import FalloffSource
from nightglass.plan.camera import Shot
from nightglass.plan.codes import FramePlace, GearNoteCode
from nightglass.plan.gear_choice import GearNote
from nightglass.show.ranking.assumption_words import FALLOFF_KNOWN_FROM

PLACE_WORDS: dict[FramePlace, str] = {place: place.value.replace("_", " ") for place in FramePlace}


def shot_text(shot: Shot) -> str:
    """Return body and lens setting as they are held: "20 mm, f/1.8, landscape"."""
    held = "portrait" if shot.portrait else "landscape"
    return f"{shot.focal_mm:g} mm, f/{shot.f_number:g}, {held}"


def time_text(longest_s: float) -> str:
    """Return a longest time: whole seconds, minutes from 5 on, "no limit" at the pole."""
    if math.isinf(longest_s):
        return "no limit"
    if longest_s >= 300:
        return f"{longest_s / 60:.0f} min"
    return f"{longest_s:.1f} s" if longest_s < 10 else f"{longest_s:.0f} s"


def gear_note_words(note: GearNote) -> str:
    """Return how body or setting of a plan was found."""
    v = note.values
    match note.code:
        case GearNoteCode.BEST_ON_BENCH:
            return f"Best setting of {v['lens']} on the bench (place {v['place']})."
        case GearNoteCode.ON_BODY:
            return f"On {v['body']} (another body of the bench: --body)."
        case GearNoteCode.WIDE_OPEN:
            return f"{v['lens']} is taken wide open: nothing measured says better (not tested)."
        case GearNoteCode.FALLOFF_LIMITS:
            where = FALLOFF_KNOWN_FROM[FalloffSource(str(v["known_from"]))]
            return (
                f"Past the middle {v['percent']} % of each side a star loses more than a stop of "
                f"light (measured on {where}): seams leave that out."
            )
        case GearNoteCode.BODY_TAKEN:
            return (
                f"Taken: a sensor of {v['sensor']} mm, {v['pixels']} pixels (type --sensor and "
                "--pixels)."
            )
