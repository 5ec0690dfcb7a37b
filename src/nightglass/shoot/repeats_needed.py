"""How many repeats tell a difference, and what a number of repeats can tell.

Two settings, n repeats each, relative scatter s of a single one: the means differ for certain
(95 %) where |ln(A/B)| exceeds t s sqrt(2/n), t of Student for 2 (n - 1) degrees of freedom. A true
difference of just that size would be found only every second time, so the plan asks for one that
is found in 80 % of cases (noncentral t). Any handbook of statistics; the convention of 80 % is
Cohen's (1992, Psychological Bulletin 112, 155).
"""

from __future__ import annotations

import math
from collections.abc import Iterable
from functools import lru_cache

import numpy as np
from scipy.special import gammaincinv, ndtr, stdtrit

from nightglass.bench.combined.combine import POOL_LEAST_DOF, Repeats, Scatter, pooled_scatter
from nightglass.bench.records import SettingResult
from nightglass.gear.benchfile import SessionChoice
from nightglass.optics.arrays import Floats
from nightglass.shoot.codes import ScatterSource
from nightglass.shoot.records import Precision

GUESS_PERCENT = 5.0
"""Scatter of careful repeats with refocusing, until frames say better (common practice)."""
LEAST_REPEATS, MOST_REPEATS = 3, 30
FOUND_SHARE = 0.8
CONFIDENCE = 0.95
_MOST_LOG = math.log(4.0)
_LOG_STEP = 1e-5
_STEPS = 400
"""Of the scatter that the repeats themselves may show: 10 times as many move no share by 1e-3."""


def known_scatter(results: Iterable[SettingResult]) -> Scatter | None:
    """Return the relative scatter of the length of single repeats over all that is on record.

    None with fewer than 4 degrees of freedom.
    """
    zones = [zone for result in results for zone in result.zones]
    return pooled_scatter((Repeats(zone.length_px.values) for zone in zones), POOL_LEAST_DOF)


def precision_of(
    choice: SessionChoice, known: Scatter | None, repeats: int | None = None
) -> Precision:
    """Return what repeats tell; as many as asked for, else as bench.toml says, else as needed."""
    deviation, source, dof = _scatter(choice, known)
    needed = repeats_needed(choice.tell_percent, deviation)
    number = repeats or choice.repeats or needed or MOST_REPEATS
    return Precision(
        repeats=number,
        tell_percent=choice.tell_percent,
        needed=needed,
        scatter_percent=100 * deviation,
        scatter_source=source,
        scatter_dof=dof,
        counts_from_percent=counts_from_percent(number, deviation),
        finds_percent=finds_percent(number, deviation),
    )


def repeats_needed(tell_percent: float, deviation: float) -> int | None:
    """Return the fewest repeats, 3 or more, that find a difference in 80 % of cases.

    tell_percent: the larger over the smaller; deviation: relative scatter of one repeat. None
    where more than 30 would be needed.
    """
    log_ratio = math.log1p(tell_percent / 100)
    for repeats in range(LEAST_REPEATS, MOST_REPEATS + 1):
        if found_share(repeats, log_ratio, deviation) >= FOUND_SHARE:
            return repeats
    return None


def found_share(repeats: int, log_ratio: float, deviation: float) -> float:
    """Return in how many of all cases a true ratio shows (95 %) with so many repeats each side.

    One repeat each side never shows anything: 0.
    """
    dof = 2 * (repeats - 1)
    if dof == 0:
        return 0.0
    quantile = _quantile(dof)
    shift = abs(log_ratio) / (deviation * math.sqrt(2 / repeats))
    # The noncentral t, averaged over the scatter that the repeats show: the library's own
    # nctdtr gives no number for some shifts of 11 and more.
    limit = quantile * _shown_over_true(dof)
    return float(np.mean(ndtr(shift - limit) + ndtr(-shift - limit)))


def counts_from_percent(repeats: int, deviation: float) -> float:
    """Return the difference of two means from which it counts [%]; inf for one repeat."""
    if repeats < 2:
        return math.inf
    half = _quantile(2 * (repeats - 1)) * deviation * math.sqrt(2 / repeats)
    return 100 * math.expm1(half)


def finds_percent(repeats: int, deviation: float) -> float | None:
    """Return the true difference that is found in 80 % of cases [%]; None over 300 %."""
    if found_share(repeats, _MOST_LOG, deviation) < FOUND_SHARE:
        return None
    low, high = 0.0, _MOST_LOG
    # Halving, as the share only rises; the library's root finder takes longer to load than this.
    while high - low > _LOG_STEP:
        middle = (low + high) / 2
        low, high = (
            (low, middle)
            if found_share(repeats, middle, deviation) >= FOUND_SHARE
            else (middle, high)
        )
    return 100 * math.expm1(high)


@lru_cache(maxsize=256)
def _shown_over_true(dof: int) -> Floats:
    """Scatter that repeats show over the true one, at even steps of its distribution."""
    steps = (np.arange(_STEPS) + 0.5) / _STEPS
    return np.sqrt(gammaincinv(dof / 2, steps) * 2 / dof)


@lru_cache(maxsize=256)
def _quantile(dof: int) -> float:
    return float(stdtrit(dof, (1 + CONFIDENCE) / 2))


def _scatter(
    choice: SessionChoice, known: Scatter | None
) -> tuple[float, ScatterSource, int | None]:
    if choice.scatter_percent is not None:
        return choice.scatter_percent / 100, ScatterSource.STATED, None
    if known is not None and known.deviation > 0:
        return known.deviation, ScatterSource.RECORD, known.dof
    return GUESS_PERCENT / 100, ScatterSource.GUESS, None
