"""Blur over f-numbers: which power of the f-number it falls with, and what that says of its cause.

Transverse aberrations go with the pupil's radius: defocus, astigmatism and curvature as its first
power, coma as its second, spherical aberration as its third (the primary aberrations, e.g.
telescope-optics.net, 3.5). Several add up, the steeper ones fade first, and a vignetted pupil hides
part of the blur wide open: the powers are weighed with all of that left open. Lengths alone then
name few (design/stop_slopes.py), so the shape of the spot at the widest f-number counts too.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from enum import StrEnum
from functools import lru_cache

import numpy as np

from nightglass.bench.faults.shape import Shape
from nightglass.optics.arrays import Floats
from nightglass.optics.extent import GAUSSIAN_LENGTH

LEAST_LENGTH_PX = 5.0
LEAST_STOPS = 0.9
"""Two f-numbers nearer than this say nothing of a power."""
SURE = 0.9
"""Probability from which a power is named (design/stop_slopes.py)."""
MODEL_ERR = 0.05
"""Of ln(length): terms do not add like the squares of their lengths (design/stop_slopes.py)."""
PIXEL_LENGTH = GAUSSIAN_LENGTH / math.sqrt(12)
"""length_px that a pixel's own blur adds in square: its standard deviation is 1 / root 12."""
SOURCE_LENGTH = GAUSSIAN_LENGTH / 4
"""The same for an even disc, over its diameter: its standard deviation is a quarter of it."""
DIFFRACTION_LENGTH = 2.0
"""Length of a perfect lens's spot over wavelength x f-number (1.5 to 2.6 with the aperture in
which it is measured, docs/glossary.md)."""
GREEN_UM = 0.54
POWERS = (1, 2, 3)
SHARES = (0.0, 0.2, 0.4, 0.6, 0.8)
"""Lengths of the weaker terms wide open, over that of the strongest."""
HIDDEN = (0.0, 0.1, 0.2, 0.3)
"""Of ln(length) that a vignetted pupil may hide wide open; gone after one or two stops."""
HIDDEN_STOPS = (1.0, 2.0)
Z_95 = 1.959964


class Cause(StrEnum):
    """What blur that falls with a power of the f-number may come from."""

    FIRST_POWER = "first_power"
    SECOND_POWER = "second_power"
    THIRD_POWER = "third_power"
    CANT_TELL = "cant_tell"
    TOO_FEW = "too_few"


_CAUSES = (Cause.FIRST_POWER, Cause.SECOND_POWER, Cause.THIRD_POWER)


@dataclass(frozen=True)
class Stop:
    """The blur at one f-number."""

    f_number: float
    """Marked."""
    exact_f_number: float
    length_px: float
    log_err: float
    """1-sigma of ln(length)."""
    shapes: Mapping[str, float] = field(default_factory=dict)
    """Probability of each class of the spot; empty where it is not known."""
    source_px: float = 0.0
    """Width of the source's own image."""


@dataclass(frozen=True)
class StopsFinding:
    """One place of a lens over its f-numbers."""

    focal_mm: float
    place: str
    f_numbers: tuple[float, ...]
    """Marked, those with lengths above 5 px."""
    cause: Cause
    refocused: bool | None = None
    """Whether the lens was focused anew at each; None: not said."""
    probability: float | None = None
    """Of the power named, or of the likeliest."""
    slope: float | None = None
    """Change of ln(length) per change of ln(f-number), pixel, source and diffraction removed."""
    slope_low: float | None = None
    slope_high: float | None = None
    """95 %."""
    left_per_stop: float | None = None
    """Share of the blur that each stop down leaves, along that slope."""
    left_low: float | None = None
    left_high: float | None = None


def stops_finding(
    focal_mm: float, place: str, stops: Sequence[Stop], pitch_um: float
) -> StopsFinding:
    """Return what the blur at a place says over f-numbers.

    stops: measured lengths, any order; those up to 5 px are left out.
    """
    used = sorted(
        (s for s in stops if s.length_px > LEAST_LENGTH_PX), key=lambda s: s.exact_f_number
    )
    marks = tuple(s.f_number for s in used)
    if (
        len(used) < 2
        or 2 * math.log2(used[-1].exact_f_number / used[0].exact_f_number) < LEAST_STOPS
    ):
        return StopsFinding(focal_mm, place, marks, Cause.TOO_FEW)
    logs = np.array([math.log(_lens_length_px(s, pitch_um)) for s in used])
    opened = np.array([math.log(s.exact_f_number / used[0].exact_f_number) for s in used])
    errors = np.array([math.hypot(s.log_err, MODEL_ERR) for s in used])
    slope, err = _slope(opened, logs, errors)
    chances = _chances(opened, logs, errors) * _odds(used[0].shapes)
    chances = chances / chances.sum()
    best = int(np.argmax(chances))
    low, high = slope - Z_95 * err, slope + Z_95 * err
    return StopsFinding(
        focal_mm,
        place,
        marks,
        _CAUSES[best] if chances[best] >= SURE else Cause.CANT_TELL,
        None,
        float(chances[best]),
        slope,
        low,
        high,
        *(2 ** (value / 2) for value in (slope, low, high)),
    )


def _lens_length_px(stop: Stop, pitch_um: float) -> float:
    """The lens's own length: what pixel, source and diffraction add in square taken off."""
    diffraction = DIFFRACTION_LENGTH * GREEN_UM * stop.exact_f_number / pitch_um
    other = PIXEL_LENGTH**2 + (SOURCE_LENGTH * stop.source_px) ** 2 + diffraction**2
    # What is left of a spot that is hardly more than they are is not known to better than half.
    return math.sqrt(max(stop.length_px**2 - other, stop.length_px**2 / 4))


def _slope(opened: Floats, logs: Floats, errors: Floats) -> tuple[float, float]:
    """Weighted straight line: its slope and 1-sigma error, widened by the misfit."""
    w = errors**-2
    x = opened - np.average(opened, weights=w)
    y = logs - np.average(logs, weights=w)
    spread = float(np.sum(w * x * x))
    slope = float(np.sum(w * x * y)) / spread
    free = logs.size - 2
    chi2 = float(np.sum(w * (y - slope * x) ** 2)) / free if free else 1.0
    return slope, math.sqrt(max(1.0, chi2) / spread)


def _chances(opened: Floats, logs: Floats, errors: Floats) -> Floats:
    """How likely the lengths are where the term of each power is the longest wide open, sum 1."""
    w = errors**-2
    away = logs[None, :] - _mixtures(tuple(opened.tolist()))
    away = away - np.average(away, axis=1, weights=w)[:, None]
    fit = np.exp(-0.5 * np.sum(w * away**2, axis=1))
    of_power = fit.reshape(len(POWERS), -1).mean(axis=1)
    total = float(of_power.sum())
    return of_power / total if total > 0 else np.full(len(POWERS), 1 / len(POWERS))


def _odds(shapes: Mapping[str, float]) -> Floats:
    """Odds of each power before the lengths are looked at.

    Round spots come from defocus and spherical aberration alike, lines from astigmatism,
    one-sided ones from coma; without a shape the four have equal odds.
    """
    if not shapes:
        return np.array([0.5, 0.25, 0.25])
    round_ = shapes.get(Shape.ROUND, 0.0) + shapes.get(Shape.RING, 0.0)
    line, side = shapes.get(Shape.LINE, 0.0), shapes.get(Shape.ONE_SIDED, 0.0)
    return np.array([round_ / 2 + line, side, round_ / 2])


@lru_cache(maxsize=256)
def _mixtures(opened: tuple[float, ...]) -> Floats:
    """ln(length) of all mixtures: those whose longest term is of the first power first."""
    x = np.array(opened)
    hidden = [
        part * np.clip(1 - 2 * x / math.log(2) / stops, 0, 1)
        for stops in HIDDEN_STOPS
        for part in HIDDEN
    ]
    found = []
    for strongest in POWERS:
        others = [power for power in POWERS if power != strongest]
        for one in SHARES:
            for two in SHARES:
                squares = np.exp(-2 * strongest * x)
                squares = squares + one**2 * np.exp(-2 * others[0] * x)
                squares = squares + two**2 * np.exp(-2 * others[1] * x)
                found += [0.5 * np.log(squares) - part for part in hidden]
    return np.array(found)
