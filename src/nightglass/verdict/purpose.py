"""How the pictures are looked at, in words, and the eye's blur in the viewed picture.

The eye of a person with visual acuity 1.0 separates 1 arcminute (ISO 8596). In the viewed picture
its blur is a Gaussian whose full width at half height is 1 arcminute at the viewing distance. On a
screen nothing finer than one line of it can be shown.
"""

from __future__ import annotations

import math
from dataclasses import replace

from nightglass.gear.benchfile import BenchFile, LimitChoice, Purpose, ReleaseName
from nightglass.gear.purpose_words import PURPOSE_WORDS, purpose_of
from nightglass.verdict.view.eye import Eye

ARCMINUTE = math.tan(math.radians(1 / 60))
"""1 arcminute as length over distance; 0.0727 mm at 25 cm."""
PHONE_HEIGHT_M = 0.068
PHONE_DISTANCE_M = 0.3
"""A phone held sideways at reading distance (common practice)."""
SCREEN_LINES = 1080
PURPOSES = ("phone", "screen", "print 60 cm wide seen from 1 m")
"""The three for which `look` is told side by side, from lenient to strict."""


def seen_percent(picture_height_m: float, distance_m: float) -> float:
    """Return the length [% of picture height] that fills 1 arcminute at a viewing distance.

    Raises ValueError for a height or a distance of 0 or less.
    """
    if not (picture_height_m > 0 and distance_m > 0):
        raise ValueError(
            f"a picture {picture_height_m:g} m high seen from {distance_m:g} m: both must be "
            "above 0, as in print 60 cm wide seen from 1 m"
        )
    return 100 * ARCMINUTE * distance_m / picture_height_m


def eye_of_purpose(purpose: Purpose, frame_shape: float = 1.5) -> Eye:
    """Return the eye's blur for the purpose of a bench file.

    frame_shape: long over short side of the frame, for prints of which one side was typed. A
    print without a distance is looked at from as far as its diagonal is long (common practice).
    Raises ValueError for a print without a size.
    """
    if purpose.kind == "phone":
        percent = seen_percent(PHONE_HEIGHT_M, PHONE_DISTANCE_M)
        return Eye(purpose.words or "phone", percent, "phone", PHONE_HEIGHT_M, PHONE_DISTANCE_M)
    if purpose.kind == "screen":
        return Eye(purpose.words or "screen", 100 / SCREEN_LINES, "screen")
    width_m, height_m = purpose.print_width_m, purpose.print_height_m
    if height_m is None:
        if width_m is None:
            raise ValueError(f"a print needs a size; write it as one of {PURPOSE_WORDS}")
        height_m = width_m / frame_shape
    diagonal_m = math.hypot(height_m, width_m or height_m * frame_shape)
    distance_m = purpose.viewing_distance_m or diagonal_m
    return Eye(
        purpose.words or "print", seen_percent(height_m, distance_m), "print", height_m, distance_m
    )


def eye_of(words: str, frame_shape: float = 1.5) -> Eye:
    """Return the eye's blur for a purpose in words, such as "phone".

    Raises ValueError for words that are not understood; the text lists the allowed forms.
    """
    return eye_of_purpose(purpose_from(words), frame_shape)


def purpose_from(words: str) -> Purpose:
    """Return the purpose that was typed; ValueError with the allowed forms for other words."""
    found = purpose_of(words)
    if found is None:
        raise ValueError(
            f'"{words}" is not understood as a purpose; allowed: {PURPOSE_WORDS}. A limit in % of '
            "picture height has its own option: --limit 0.25"
        )
    return found


def frame_shape_of(bench: BenchFile) -> float:
    """Return long over short side of a bench's frames."""
    body = bench.body
    return max(body.width_px, body.height_px) / body.picture_height_px


def with_choices(
    bench: BenchFile,
    purpose: str | None = None,
    remote: bool | None = None,
    limit_percent: float | None = None,
) -> BenchFile:
    """Return the bench with what the options say in place of what bench.toml says.

    Raises ValueError for a purpose that is not understood or a limit outside 0 to 10 %.
    """
    if purpose is not None:
        bench = replace(bench, purpose=purpose_from(purpose))
    if limit_percent is not None:
        if not 0 < limit_percent <= 10:
            raise ValueError(
                f"the limit is {limit_percent:g} % of picture height; allowed: above 0, at most "
                "10, such as 0.25"
            )
        kept = bench.limit or LimitChoice(limit_percent)
        bench = replace(bench, limit=replace(kept, percent=limit_percent))
    if remote is not None:
        release: ReleaseName = "remote" if remote else "dial"
        bench = replace(bench, time=replace(bench.time, release=release))
    return bench
