"""How sure a setting's worth is: the intervals that follow from the scatter of repeats.

Everything here is on natural logarithms, so that A over B and B over A agree. Student's t and the
studentised range: any handbook of statistics; for unequal numbers of repeats the widening for
having chosen is that of Tukey and Kramer (Kramer 1956, Biometrics 12, 307, DOI 10.2307/3001469),
and degrees of freedom of a sum of variances are Satterthwaite's (1946, Biometrics Bulletin 2,
110, DOI 10.2307/3002019).
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from scipy.special import stdtrit

from nightglass.bench.records import SharedError
from nightglass.optics.arrays import Floats
from nightglass.verdict.certainty.studentised import range_quantile

CONFIDENCE = 0.95
BOOTSTRAP_LEAST_REPEATS = 8
BOOTSTRAP_DRAWS = 4000
_MANY = 1e4
"""Degrees of freedom from which the t and range distributions are taken at their limit: their
quantiles move by under 0.01 % beyond."""


@dataclass(frozen=True)
class ZoneSpread:
    """How far the repeats of one zone move the verdict on a setting."""

    place: str
    powers: Mapping[str, float]
    """Change of ln(factor) per change of ln(noise area) of this zone's spot, by the factor's code
    (of the stars: negative); 0 where not named."""
    log_area_err: float
    """1-sigma error of the mean of ln(noise area); nan where nothing is known."""
    degrees_of_freedom: float
    """inf where the error comes from photons alone."""
    length_percent: float
    """Of the untrailed spot, % of picture height; the upper bound where it is at limit."""
    length_log_err: float
    """1-sigma error of ln(length); 0 at limit, where the bound counts as it is."""
    repeats: tuple[float, ...] = ()
    """ln(noise area) of the single frames minus their mean."""
    shared: SharedError | None = None
    """Left by the correction of drift and sessions."""

    @property
    def length_error(self) -> tuple[float, float]:
        """1-sigma error of ln(length) by itself, drift and sessions included, and its degrees of
        freedom."""
        own = (self.length_log_err**2, self.degrees_of_freedom)
        if self.shared is None:
            return self.length_log_err, self.degrees_of_freedom
        beside = math.hypot(*self.shared.length, self.shared.visit_length) ** 2
        total, freedom = satterthwaite([own, (beside, self.shared.degrees_of_freedom)])
        return math.sqrt(total), freedom

    def score_power(self, weights: Mapping[str, float]) -> float:
        """Return the change of ln(score) per change of ln(noise area); weights: of the factors."""
        return sum(weight * self.powers.get(code, 0.0) for code, weight in weights.items())


@dataclass(frozen=True)
class Apart:
    """Variance of a difference of logarithms beside the scatter of repeats."""

    both: float = 0.0
    """To either side."""
    low: float = 0.0
    """Only toward lower values: what could make the upper one darker."""
    high: float = 0.0
    """Only toward higher values: what could make the lower one darker."""


NONE_APART = Apart()


@dataclass(frozen=True)
class LogInterval:
    """Half-interval of a difference of logarithms: low and high about 0."""

    low: float
    high: float


def log_variance(zones: Sequence[ZoneSpread], weights: Mapping[str, float]) -> tuple[float, float]:
    """Return the variance of ln(score) of a setting and its degrees of freedom.

    Zones whose repeats share one pooled scatter share its degrees of freedom, so that they are
    not counted twice. nan where a zone's error is not known.
    """
    parts: dict[float, float] = {}
    for zone in zones:
        part = (zone.score_power(weights) * zone.log_area_err) ** 2
        parts[zone.degrees_of_freedom] = parts.get(zone.degrees_of_freedom, 0.0) + part
    return satterthwaite([(variance, freedom) for freedom, variance in parts.items()])


def satterthwaite(parts: Sequence[tuple[float, float]]) -> tuple[float, float]:
    """Return the sum of variances and its degrees of freedom; inf for a sum of 0."""
    total = sum(variance for variance, _ in parts)
    below = sum(variance**2 / freedom for variance, freedom in parts)
    return total, (total**2 / below if below > 0 else math.inf)


def joined(one: tuple[float, float], other: tuple[float, float]) -> tuple[float, float]:
    """Return the sum of two variances and its degrees of freedom.

    Equal degrees of freedom are taken for one shared pool, which counts once; others are joined.
    """
    return (one[0] + other[0], one[1]) if one[1] == other[1] else satterthwaite((one, other))


@lru_cache(maxsize=4096)
def t_quantile(degrees_of_freedom: float) -> float:
    """Return Student's t that leaves 2.5 % on either side.

    Raises ValueError for degrees of freedom of 0 or less.
    """
    _check_freedom(degrees_of_freedom)
    return float(stdtrit(min(degrees_of_freedom, _MANY), (1 + CONFIDENCE) / 2))


@lru_cache(maxsize=4096)
def chosen_quantile(compared: int, degrees_of_freedom: float) -> float:
    """Return the quantile for a difference that was picked among `compared` settings.

    The studentised range over root 2: equal to Student's t for two. Raises ValueError for fewer
    than two settings or degrees of freedom of 0 or less.
    """
    if compared < 2:
        raise ValueError(f"{compared} settings can't be compared; it takes 2 or more")
    if compared == 2:
        return t_quantile(degrees_of_freedom)
    _check_freedom(degrees_of_freedom)
    freedom = min(degrees_of_freedom, _MANY)
    return range_quantile(CONFIDENCE, compared, freedom) / math.sqrt(2)


def shared_variance(
    upper: Sequence[ZoneSpread], lower: Sequence[ZoneSpread], weights: Mapping[str, float]
) -> tuple[float, float]:
    """Return the variance of ln(score of upper / score of lower) that the correction of drift and
    sessions leaves, and its degrees of freedom.

    What both share falls out of it: settings of one session share its offset, those shot one
    after the other nearly all of its drift. The scatter of visits is each setting's own, and moves
    all its places alike.
    """
    sides = [_moved_together(zones, weights) for zones in (upper, lower)]
    known = [z.shared.degrees_of_freedom for z in (*upper, *lower) if z.shared is not None]
    if not known:
        return 0.0, math.inf
    apart = [a - b for a, b in itertools.zip_longest(sides[0][0], sides[1][0], fillvalue=0.0)]
    variance = math.fsum(v * v for v in apart) + sides[0][1] ** 2 + sides[1][1] ** 2
    return variance, min(known)


def _moved_together(
    zones: Sequence[ZoneSpread], weights: Mapping[str, float]
) -> tuple[list[float], float]:
    vector: list[float] = []
    visits = 0.0
    for zone in zones:
        if zone.shared is None:
            continue
        power = zone.score_power(weights)
        own = [power * v for v in zone.shared.area]
        vector = [a + b for a, b in itertools.zip_longest(vector, own, fillvalue=0.0)]
        visits += power * zone.shared.visit_area
    return vector, visits


def difference_interval(
    upper: Sequence[ZoneSpread],
    lower: Sequence[ZoneSpread],
    weights: Mapping[str, float],
    compared: int = 2,
    apart: Apart = NONE_APART,
) -> LogInterval | None:
    """Return the 95 % interval of ln(score of upper / score of lower) about its value.

    weights: the powers of the factors in the score, by code. compared: how many settings the pair
    was chosen from (2: named beforehand). With 8 or more repeats in every zone the interval comes
    from resampling them, else from Student's t. None where the scatter is not known.
    """
    var_upper, free_upper = log_variance(upper, weights)
    var_lower, free_lower = log_variance(lower, weights)
    if math.isnan(var_upper) or math.isnan(var_lower):
        return None
    repeats = joined((var_upper, free_upper), (var_lower, free_lower))
    common = shared_variance(upper, lower, weights)
    measured = satterthwaite([repeats, common]) if common[0] > 0 else repeats
    total, freedom = joined(measured, (apart.both, math.inf)) if apart.both > 0 else measured
    quantile, known = chosen_quantile(compared, freedom), chosen_quantile(compared, math.inf)
    low = high = quantile * math.sqrt(total)
    if _many_repeats(upper) and _many_repeats(lower):
        draws = _resampled(upper, weights, 1) - _resampled(lower, weights, 2)
        tail = 100 * (1 - CONFIDENCE) / 2
        ends = np.percentile(draws, [tail, 100 - tail])
        wider, beside = quantile / t_quantile(freedom), quantile * math.sqrt(apart.both + common[0])
        low, high = (
            math.copysign(math.hypot(wider * float(end), beside), side * float(end))
            for end, side in zip(ends, (-1, 1), strict=True)
        )
    return LogInterval(
        -math.copysign(math.hypot(low, known * math.sqrt(apart.low)), low),
        math.copysign(math.hypot(high, known * math.sqrt(apart.high)), high),
    )


def _many_repeats(zones: Sequence[ZoneSpread]) -> bool:
    return bool(zones) and all(len(z.repeats) >= BOOTSTRAP_LEAST_REPEATS for z in zones)


def _resampled(zones: Sequence[ZoneSpread], weights: Mapping[str, float], seed: int) -> Floats:
    """Deviations of ln(score) when the frames of each zone are drawn again, with replacement."""
    rng = np.random.default_rng([seed, len(zones)])
    total = np.zeros(BOOTSTRAP_DRAWS)
    for zone in zones:
        values = np.asarray(zone.repeats)
        picks = rng.integers(0, values.size, size=(BOOTSTRAP_DRAWS, values.size))
        # Resampled means scatter by (n - 1) / n too little in variance.
        fair = math.sqrt(values.size / (values.size - 1))
        total += zone.score_power(weights) * fair * values[picks].mean(axis=1)
    return total


def _check_freedom(degrees_of_freedom: float) -> None:
    if not degrees_of_freedom > 0:
        raise ValueError(
            f"degrees_of_freedom is {degrees_of_freedom:g}; two repeats give 1, one gives none"
        )
