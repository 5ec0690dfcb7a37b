"""What the score is made of: one table of factors.

A score is the product of every factor's value over that of the reference, each to its weight.
Ranking, intervals, how often the order holds, assumptions and tables are all made from FACTORS: a
new factor is one entry here.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from nightglass.optics.arrays import Floats
from nightglass.verdict.records import Worth
from nightglass.verdict.spread import ZoneSpread

Weight = Callable[[float, float], float]


def _nothing(_: object) -> float:
    return 0.0


@dataclass(frozen=True)
class Factor:
    """One factor of the score."""

    name: str
    """In tables, CSV and JSON; the glossary has what it means."""
    value: Callable[[Worth], float]
    weight: Weight
    """Its power in the score, from the person's weights a and b."""
    zone_power: Callable[[ZoneSpread], float] = _nothing
    """Change of ln(value) per change of ln(noise area) of a zone's spot."""
    log_err: Callable[[Worth], float] = _nothing
    """1-sigma error of ln(value) beside that of the spots; independent between settings."""


STARS = Factor(
    "stars", lambda worth: worth.stars, lambda a, b: a, zone_power=lambda zone: zone.stars_power
)
GLOW = Factor("glow", lambda worth: worth.glow, lambda a, b: b)
FACTORS: tuple[Factor, ...] = (STARS, GLOW)


def log_value(factor: Factor, worth: Worth) -> float:
    """Return ln of a factor's value; -inf where it is 0."""
    value = factor.value(worth)
    return math.log(value) if value > 0 else -math.inf


def log_worth(worth: Worth, a: float, b: float) -> float:
    """Return the sum of weight x ln(value), by which settings are ordered; -inf if nothing is
    seen of a factor that counts."""
    total = 0.0
    for factor in FACTORS:
        weight = factor.weight(a, b)
        if weight > 0:
            total += weight * log_value(factor, worth)
    return total


def zone_power(a: float, b: float) -> Callable[[ZoneSpread], float]:
    """Return how ln(score) answers to ln(noise area) of a zone, for the weights a and b."""
    return lambda zone: sum(f.weight(a, b) * f.zone_power(zone) for f in FACTORS)


def other_variance(worth: Worth, a: float, b: float) -> float:
    """Return the variance of ln(score) from the factors' own errors."""
    return sum((f.weight(a, b) * f.log_err(worth)) ** 2 for f in FACTORS)


def drawn_log_worth(worth: Worth, moved: Callable[[Factor], Floats], a: Floats) -> Floats:
    """Return ln(score) in every trial: weights a and b = 1 - a drawn anew, values moved.

    moved: change of ln(value) of a factor in every trial.
    """
    total = np.zeros_like(a)
    for factor in FACTORS:
        weight = np.array([factor.weight(one, 1 - one) for one in a])
        total += weight * (log_value(factor, worth) + moved(factor))
    return total
