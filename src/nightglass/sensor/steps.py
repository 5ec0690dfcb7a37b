"""What an ISO step really changes: a second gain, a factor on the numbers, or a tag alone.

A sensor with one gain has the read noise sigma^2 = a^2 + (b g)^2 [electrons], a before and b behind
its amplifier, g electrons per count, which fall as ISO rises. A second gain in the pixel lowers
a itself, at one step.
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from scipy.optimize import nnls

from nightglass.sensor.codes import Finding
from nightglass.sensor.records import Known, Said

DROP = 0.85
"""Read noise at a second gain over what the steps below let one expect; real ones halve it."""
SURE_SIGMA = 4.0
SAME_SHARE = 0.03
COMB_STEP = 1.15


@dataclass(frozen=True)
class Step:
    """One ISO step: green's gain, read noise, and the distance of the values that it uses."""

    iso: int
    gain: Known
    read_noise: Known
    value_step: float | None


def second_gain(steps: Sequence[Step]) -> int | None:
    """Return the lowest ISO step of a second gain, None where none shows.

    A step whose read noise lies 15 % and 4 errors under what the steps below it let one expect;
    of several, the one farthest below.
    """
    known = [s for s in steps if s.gain.value and s.read_noise.value and s.read_noise.err]
    best: tuple[float, int] | None = None
    for k in range(1, len(known)):
        expected = _expected(known[:k], known[k])
        found, err = known[k].read_noise.value or 0.0, known[k].read_noise.err or 0.0
        err = math.hypot(err, 0.01 * expected)
        deep = found / expected
        if deep < DROP and expected - found > SURE_SIGMA * err and (best is None or deep < best[0]):
            best = deep, known[k].iso
    return None if best is None else best[1]


def _expected(below: Sequence[Step], at: Step) -> float:
    """Read noise that the steps below let one expect of a sensor with one gain [electrons].

    From one step alone: the least that one gain allows, all noise behind the amplifier.
    """
    gains = np.array([s.gain.value for s in below], dtype=np.float64)
    noises = np.array([s.read_noise.value for s in below], dtype=np.float64)
    gain = at.gain.value or 1.0
    if len(below) == 1:
        return float(noises[0] * gain / gains[0])
    # Relative errors are alike: the last, nearest steps count as much as the noisy first ones.
    weight = 1 / noises**2
    (a, b), _ = nnls(np.stack([weight, weight * gains**2], axis=1), noises**2 * weight)
    return float(math.sqrt(a + b * gain**2))


def step_findings(steps: Sequence[Step]) -> list[Said]:
    """Return which steps only multiply numbers, are a tag alone, or leave the noise as it is."""
    said: list[Said] = []
    for lower, upper in itertools.pairwise(steps):
        if lower.gain.value and upper.gain.value:
            ratio, stops = lower.gain.value / upper.gain.value, upper.iso / lower.iso
            if abs(ratio - 1) < 0.1 * (stops - 1):
                said.append(Said(Finding.ONLY_A_TAG, {"iso": upper.iso, "as_iso": lower.iso}))
                continue
        if (upper.value_step or 1.0) > COMB_STEP * max(lower.value_step or 1.0, 1.0):
            values = {"iso": upper.iso, "from_iso": lower.iso, "step": upper.value_step or 1.0}
            said.append(Said(Finding.MULTIPLIED, values))
    flat = _no_gain_from(steps)
    return said if flat is None else [*said, flat]


def _no_gain_from(steps: Sequence[Step]) -> Said | None:
    """The step above which read noise stays as it is."""
    known = [(s.iso, s.read_noise.value) for s in steps if s.read_noise.value]
    if len(known) < 3:
        return None
    best = min(noise for _, noise in known)
    first = next(iso for iso, noise in known if noise <= best * (1 + SAME_SHARE))
    return None if first == known[-1][0] else Said(Finding.SAME_NOISE, {"iso": first})
