"""Predicted and found side by side: their ratio or their distance with its 95 % interval."""

from __future__ import annotations

import math
from collections.abc import Sequence

from nightglass.proof.codes import PredictionReasonCode
from nightglass.proof.reasons import PredictionReason
from nightglass.proof.records import (
    Prediction,
)
from nightglass.verdict.certainty.spread import satterthwaite, t_quantile
from nightglass.verdict.records import Interval

Parts = Sequence[tuple[float, float]]
"""Variances with their degrees of freedom."""


def times(predicted: float, found: float, parts: Parts) -> Prediction:
    """Return found over predicted; parts: variances of ln(found / predicted), their freedom."""
    total, freedom = satterthwaite(parts)
    if not found > 0:
        return Prediction(
            predicted, found, reason=PredictionReason(PredictionReasonCode.NONE_FOUND)
        )
    log, half = math.log(found / predicted), t_quantile(freedom) * math.sqrt(total)
    ratio = Interval(math.exp(log), math.exp(log - half), math.exp(log + half))
    return Prediction(predicted, found, log_err=math.sqrt(total), freedom=freedom, ratio=ratio)


def apart(predicted: float, found: float, parts: Parts) -> Prediction:
    """Return found minus predicted, as magnitudes are compared; parts: variances of it."""
    total, freedom = satterthwaite(parts)
    half, away = t_quantile(freedom) * math.sqrt(total), found - predicted
    return Prediction(
        predicted,
        found,
        log_err=math.sqrt(total),
        freedom=freedom,
        ratio=Interval(away, away - half, away + half),
        even=0.0,
    )
