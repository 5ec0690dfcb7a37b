"""The dark at the night's time: dark current, hot pixels. EMVA 1288 Release 3.1, clause 7.1."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from nightglass.frame.record import Frame
from nightglass.optics.arrays import Floats
from nightglass.sensor.codes import DarkMethod
from nightglass.sensor.records import UNKNOWN, DarkResult, Known

HOT_SIGMA = 8.0
"""Deviations of the dark frame from which a sample is hot; noise alone makes none in 1e15."""
HIDDEN_SIGMA = 4.0
DRIFT_COUNTS = 0.1
"""Black moves so far from frame to frame: common practice. Two frames alone can't tell."""


@dataclass(frozen=True)
class DarkLevel:
    """Green of the dark frames of one time, or of the bias frames [counts]."""

    variance: Known
    """Temporal variance of a sample, rows left out."""
    means: tuple[float, ...]
    """Mean level of each frame."""


def dark_result(
    exposure_s: float, dark: DarkLevel, bias: DarkLevel, gain: Known, hot_per_mpx: Known
) -> DarkResult:
    """Return dark current and noise at one time.

    The level tells the current; bodies that set the level of each frame by its covered border
    hide it, and then the noise tells it. Nothing in electrons without a gain.
    """
    frames = len(dark.means)
    if gain.value is None or gain.err is None:
        return DarkResult(exposure_s, frames, UNKNOWN, None, hot_per_mpx, UNKNOWN)
    g, relative = gain.value, gain.err / gain.value
    by_level = _by_level(exposure_s, dark, bias, g, relative)
    by_noise = _by_noise(exposure_s, dark, bias, g, relative)
    noise = UNKNOWN
    if dark.variance.value is not None and dark.variance.err is not None:
        root = math.sqrt(max(dark.variance.value, 0.0)) * g
        err = dark.variance.err * g * g / (2 * root) if root else 0.0
        noise = Known(root, math.hypot(err, root * relative))
    current, method = by_level, DarkMethod.LEVEL
    if by_level.value is None or hidden(by_level, by_noise):
        current, method = by_noise, DarkMethod.NOISE
    return DarkResult(exposure_s, frames, current, method, hot_per_mpx, noise)


def hidden(by_level: Known, by_noise: Known) -> bool:
    """Whether noise grows with time while the level does not."""
    if by_level.value is None or by_noise.value is None or by_noise.err is None:
        return False
    away = by_noise.value - by_level.value
    return away > HIDDEN_SIGMA * math.hypot(by_noise.err, by_level.err or 0.0) and (
        by_level.value < by_noise.value / 2
    )


def hot_share(a: Frame, b: Frame | None, level: Floats, sigma: Floats) -> Known:
    """Return hot samples per million: bright in both frames, so that particles do not count.

    level, sigma: of a sample per colour number [counts].
    """
    p, q = a.pattern.shape
    hot = 0
    for row in range(p):
        for column in range(q):
            colour = int(a.pattern[row, column])
            least = level[colour] + HOT_SIGMA * sigma[colour]
            bright = a.samples[row::p, column::q] > least
            if b is not None:
                bright &= b.samples[row::p, column::q] > least
            hot += int(np.count_nonzero(bright))
    million = a.samples.size / 1e6
    return Known(hot / million, math.sqrt(max(hot, 1)) / million)


def _by_level(seconds: float, dark: DarkLevel, bias: DarkLevel, g: float, relative: float) -> Known:
    if not dark.means or not bias.means:
        return UNKNOWN
    counts = float(np.mean(dark.means) - np.mean(bias.means))
    err = math.hypot(_of_mean(dark.means), _of_mean(bias.means))
    value = counts * g / seconds
    return Known(value, math.hypot(err * g / seconds, value * relative))


def _of_mean(means: Sequence[float]) -> float:
    """Error of the mean level by the frames' own scatter, and never less than the usual drift."""
    scatter = float(np.std(means, ddof=1)) if len(means) > 1 else 0.0
    return max(scatter, DRIFT_COUNTS) / math.sqrt(len(means))


def _by_noise(seconds: float, dark: DarkLevel, bias: DarkLevel, g: float, relative: float) -> Known:
    v, w = dark.variance, bias.variance
    if v.value is None or w.value is None or v.err is None or w.err is None:
        return UNKNOWN
    value = (v.value - w.value) * g * g / seconds
    err = math.hypot(v.err, w.err) * g * g / seconds
    return Known(value, math.hypot(err, 2 * relative * value))
