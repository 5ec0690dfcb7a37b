"""What pictures are for, in words, and the largest blur that each purpose still hides.

The eye of a person with visual acuity 1.0 separates 1 arcminute (ISO 8596). A blur that fills
less than that at the viewing distance is not seen; the limit is that length over the height of
the picture. On a screen nothing finer than one line of it can be shown.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

from nightglass.gear.benchfile import DEFAULT_LIMIT_PERCENT, BenchFile, Purpose, ReleaseName
from nightglass.gear.schema import PURPOSE_WORDS, print_size_m

ARCMINUTE = math.tan(math.radians(1 / 60))
"""1 arcminute as length over distance; 0.0727 mm at 25 cm."""
PHONE_HEIGHT_M = 0.068
PHONE_DISTANCE_M = 0.3
"""A phone held sideways at reading distance (common practice)."""
SCREEN_LINES = 1080
LARGEST_PERCENT = 10.0


@dataclass(frozen=True)
class PurposeLimit:
    """A purpose with the largest blur that it hides [% of picture height]."""

    words: str
    limit_percent: float
    how: str


def seen_percent(picture_height_m: float, distance_m: float) -> float:
    """Return the length [% of picture height] that fills 1 arcminute at a viewing distance.

    Raises ValueError for a height or a distance of 0 or less.
    """
    if not (picture_height_m > 0 and distance_m > 0):
        raise ValueError(
            f"a picture {picture_height_m:g} m high seen from {distance_m:g} m: both must be "
            "above 0"
        )
    return 100 * ARCMINUTE * distance_m / picture_height_m


def purpose_limit(purpose: Purpose, frame_shape: float = 1.5) -> PurposeLimit:
    """Return the limit that a purpose stands for; a typed number wins over the words.

    frame_shape: long over short side of the frame, for prints of which only the long side is
    known. Without words and number: the default limit. Raises ValueError for a print without a
    size or a distance, or a limit that is not above 0 and at most 10 %.
    """
    if purpose.limit_percent is not None:
        return _typed(purpose.limit_percent, purpose.words)
    if purpose.kind == "limit":
        return PurposeLimit(
            "no purpose stated", DEFAULT_LIMIT_PERCENT, "default limit, common practice"
        )
    if purpose.kind == "phone":
        return _PHONE
    if purpose.kind == "screen":
        return _SCREEN
    return _print(purpose, frame_shape)


def limit_from_words(words: str, frame_shape: float = 1.5) -> PurposeLimit:
    """Return the limit for words such as "phone", "print 60 cm wide seen from 1 m", or "0.2".

    "at" means the same as "seen from". A number is a limit in % of picture height. Raises
    ValueError for words that are not understood; the text lists the allowed forms.
    """
    said = " ".join(words.split()).lower()
    try:
        number = float(said.removesuffix("%").strip())
    except ValueError:
        number = None
    if number is not None:
        return _typed(number, "")
    if said == "phone":
        return purpose_limit(Purpose("phone", said))
    if said == "screen":
        return purpose_limit(Purpose("screen", said))
    printed = print_size_m(said.replace(" at ", " seen from "))
    if printed is None:
        raise ValueError(
            f'"{words}" is not understood as a purpose; allowed: {PURPOSE_WORDS}, or a limit in '
            "% of picture height such as 0.25"
        )
    long_m, short_m, distance_m = printed
    return purpose_limit(Purpose("print", said, None, long_m, short_m, distance_m), frame_shape)


def with_choices(bench: BenchFile, purpose: str | None, remote: bool | None) -> BenchFile:
    """Return the bench with what the options say in place of what bench.toml says.

    Raises ValueError for a purpose that is not understood.
    """
    if purpose is not None:
        shape = max(bench.body.width_px, bench.body.height_px) / bench.body.picture_height_px
        limit = limit_from_words(purpose, shape)
        bench = replace(bench, purpose=Purpose("limit", limit.words, limit.limit_percent))
    if remote is not None:
        release: ReleaseName = "remote" if remote else "dial"
        bench = replace(bench, time=replace(bench.time, release=release))
    return bench


def purpose_table(frame_shape: float = 1.5) -> tuple[PurposeLimit, ...]:
    """Return the limits that common purposes ask for, the most lenient first."""
    prints = (
        Purpose("print", "print 30 cm wide seen from 50 cm", None, 0.3, None, 0.5),
        Purpose("print", "print 60 cm wide seen from 1 m", None, 0.6, None, 1.0),
        Purpose("print", "print 40 cm high seen from 30 cm", None, None, 0.4, 0.3),
    )
    rows = [_PHONE, _SCREEN, *(_print(p, frame_shape) for p in prints)]
    return tuple(sorted(rows, key=lambda row: -row.limit_percent))


def _typed(limit_percent: float, words: str) -> PurposeLimit:
    if not 0 < limit_percent <= LARGEST_PERCENT:
        raise ValueError(
            f"the limit is {limit_percent:g} % of picture height; allowed: above 0, at most "
            f"{LARGEST_PERCENT:g}, such as {DEFAULT_LIMIT_PERCENT:g}"
        )
    return PurposeLimit(words or "a limit of your own", limit_percent, "typed")


def _print(purpose: Purpose, frame_shape: float) -> PurposeLimit:
    long_m, short_m = purpose.print_long_side_m, purpose.print_short_side_m
    distance_m = purpose.viewing_distance_m
    if distance_m is None or (long_m is None and short_m is None):
        raise ValueError(
            "a print needs a size and a viewing distance, such as "
            '"print 60 cm wide seen from 1 m" or "print 40 cm high seen from 30 cm"'
        )
    height_m = short_m if short_m is not None else (long_m or 0.0) / frame_shape
    return PurposeLimit(
        purpose.words or "print",
        seen_percent(height_m, distance_m),
        f"1 arcminute seen from {distance_m:g} m on a print {100 * height_m:.3g} cm high",
    )


_PHONE = PurposeLimit(
    "phone",
    seen_percent(PHONE_HEIGHT_M, PHONE_DISTANCE_M),
    f"1 arcminute seen from {100 * PHONE_DISTANCE_M:g} cm on a picture "
    f"{1000 * PHONE_HEIGHT_M:g} mm high",
)
_SCREEN = PurposeLimit("screen", 100 / SCREEN_LINES, f"one line of a screen of {SCREEN_LINES}")
