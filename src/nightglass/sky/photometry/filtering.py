"""Does the body erase small stars in its raw files? Told from dark frames.

In a dark frame a hot pixel stands alone. A body that filters its raw data takes such a pixel for
a fault and cuts it to the brightest of its neighbours; a small sharp star suffers the same. So
each bright sample is compared with the brightest of its 24 neighbours, and with the brightest of
those that have its colour. Unfiltered, bright samples stand far above; filtered, they lie at
exactly the neighbour's value or in pairs.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from scipy.special import chdtri

from nightglass.frame.record import Frame
from nightglass.optics.arrays import Floats, Floats32
from nightglass.sky.photometry.codes import FilterReason, FilterVerdict
from nightglass.sky.photometry.dark_frame import ALONE_SIGMA, DarkSamples, dark_samples

LEAST_BRIGHT = 40
ALONE_UNFILTERED, ALONE_FILTERED = 0.6, 0.2
"""Share of bright samples that stand alone: hot pixels of a sensor hardly ever touch."""
EQUAL_FILTERED = 0.2
"""Share of bright samples that equal a neighbour exactly; by chance under 2 %."""
MOST_KEPT = 3000
MISSING_SHARE = 0.3
"""Lone samples per frame over those of a shorter exposure of the same sensor, under which they
have been taken away: dark current only grows with time."""
SMALL_STARS_PX = 2.0
LONG_ENOUGH_S = 4.0
USUAL_HOT_PER_MPX = 1.0
"""Single bright pixels that any sensor shows in seconds, per million samples: common practice, no
published source."""


@dataclass(frozen=True)
class Filtering:
    """The verdict on the dark frames of one body, ISO, exposure mode and time."""

    mode: str | None
    exposure_s: float | None
    frames: int
    verdict: FilterVerdict
    bright: int
    alone_share: float | None
    alone_interval: tuple[float, float] | None
    """95 % (Wilson)."""
    equal_share: float | None
    reason: FilterReason
    alone: int
    """Bright samples that stand alone."""
    value_sigma: Floats
    neighbour_sigma: Floats
    """Bright samples and their brightest neighbour [deviations above the dark level], for the
    picture: the diagonal is where a filtering body puts them."""
    crops_sigma: tuple[Floats32, ...] = ()
    """Bright samples with their surroundings as recorded, brightest first, over the whole range
    of brightness."""
    body: str | None = None
    iso: int | None = None
    filtered_frames: int | None = None
    """How many of the frames are filtered, where only some are."""
    alone_expected: float | None = None
    """Lone samples by a shorter exposure of the same sensor, where most of them are missing."""


def filtering(darks: Sequence[Frame]) -> tuple[Filtering, ...]:
    """Return a verdict per body, ISO, exposure mode and time of dark frames, in that order.

    Raises ValueError without frames and as dark_samples does.
    """
    return judge([dark_samples(dark) for dark in darks])


def judge(darks: Sequence[DarkSamples]) -> tuple[Filtering, ...]:
    """Return a verdict per body, ISO, exposure mode and time, in order of body, ISO and time.

    Raises ValueError without frames.
    """
    if not darks:
        raise ValueError("no dark frames; take some with the cap on, in each mode and time you use")
    sensors: dict[tuple[str | None, int | None], list[DarkSamples]] = {}
    for dark in darks:
        sensors.setdefault(dark.sensor, []).append(dark)
    order = sorted(sensors, key=lambda sensor: (sensor[0] or "", sensor[1] or 0))
    return tuple(found for sensor in order for found in _of_one_sensor(sensors[sensor]))


def _of_one_sensor(darks: Sequence[DarkSamples]) -> list[Filtering]:
    groups: dict[tuple[str | None, float | None], list[DarkSamples]] = {}
    for dark in darks:
        groups.setdefault((dark.mode, dark.exposure_s), []).append(dark)
    order = sorted(groups, key=lambda key: (key[1] or 0.0, key[0] or ""))
    return _missing([_worst(groups[key]) for key in order])


def _worst(darks: Sequence[DarkSamples]) -> Filtering:
    """The verdict on frames of one setting: what one of them shows to be filtered stays so."""
    together = _judge(darks)
    if together.verdict is FilterVerdict.FILTERED or len(darks) == 1:
        return together
    filtered = sum(_judge([dark]).verdict is FilterVerdict.FILTERED for dark in darks)
    if not filtered:
        return together
    return replace(
        together,
        verdict=FilterVerdict.FILTERED,
        reason=FilterReason.SOME_FRAMES,
        filtered_frames=filtered,
    )


def lacks_hot_pixels(
    hot_pixels: int, samples: int, exposure_s: float | None, star_px: float
) -> bool:
    """Return whether a frame of the sky hints at filtering: too few single hot pixels.

    star_px: median length of its stars, trail in it: above 2 px a filter leaves stars alone, so
    nothing is said. Only dark frames give a verdict.
    """
    if exposure_s is None or exposure_s < LONG_ENOUGH_S or not star_px <= SMALL_STARS_PX:
        return False
    return hot_pixels <= USUAL_HOT_PER_MPX * samples / 1e6


def _missing(judged: Sequence[Filtering]) -> list[Filtering]:
    """Judge again what lacks the lone samples that a shorter exposure of the same sensor shows."""
    found = []
    for one in judged:
        shorter = [
            other
            for other in judged
            if other.verdict is FilterVerdict.NOT_FILTERED
            and other.exposure_s is not None
            and one.exposure_s is not None
            and other.exposure_s <= one.exposure_s
        ]
        expected = max((o.alone / o.frames for o in shorter), default=0.0) * one.frames
        # Two-sided 95 % upper end of a Poisson count.
        most = 0.5 * float(chdtri(2 * one.alone + 2, 0.025))
        if one.verdict is FilterVerdict.UNDECIDED and most < MISSING_SHARE * expected:
            one = replace(
                one,
                verdict=FilterVerdict.FILTERED,
                reason=FilterReason.LONE_SAMPLES_MISSING,
                alone_expected=expected,
            )
        found.append(one)
    return found


def _judge(darks: Sequence[DarkSamples]) -> Filtering:
    mode, seconds, (body, iso) = darks[0].mode, darks[0].exposure_s, darks[0].sensor
    value = np.concatenate([dark.value for dark in darks])
    neighbour = np.concatenate([dark.neighbour for dark in darks])
    equal = np.concatenate([dark.equal for dark in darks])
    n = value.size
    shown = np.argsort(-value, kind="stable")[:MOST_KEPT]
    alone = int(np.count_nonzero(value - neighbour > ALONE_SIGMA))
    crops = max((dark.crops for dark in darks), key=len)
    if n < LEAST_BRIGHT:
        return Filtering(
            mode, seconds, len(darks), FilterVerdict.UNDECIDED, n, None, None, None,
            FilterReason.TOO_FEW_SAMPLES, alone, value[shown], neighbour[shown], crops, body, iso,
        )  # fmt: skip
    low, high = wilson(alone, n)
    equals = float(np.mean(equal))
    if high < ALONE_FILTERED or (equals > EQUAL_FILTERED and high < ALONE_UNFILTERED):
        verdict, reason = FilterVerdict.FILTERED, FilterReason.CUT_TO_NEIGHBOURS
    elif low > ALONE_UNFILTERED and equals < EQUAL_FILTERED:
        verdict, reason = FilterVerdict.NOT_FILTERED, FilterReason.KEPT
    else:
        verdict, reason = FilterVerdict.UNDECIDED, FilterReason.MIXED
    return Filtering(
        mode, seconds, len(darks), verdict, n, alone / n, (low, high), equals, reason,
        alone, value[shown], neighbour[shown], crops, body, iso,
    )  # fmt: skip


def wilson(hits: int, trials: int) -> tuple[float, float]:
    """Return the 95 % interval of a share; Wilson 1927, J. Am. Stat. Assoc. 22, 209."""
    if trials < 1:
        raise ValueError(f"trials is {trials}; a share takes at least one")
    z = 1.959964
    share = hits / trials
    middle = (share + z * z / (2 * trials)) / (1 + z * z / trials)
    half = z * math.sqrt(share * (1 - share) / trials + z * z / (4 * trials**2))
    half /= 1 + z * z / trials
    return max(0.0, middle - half), min(1.0, middle + half)
