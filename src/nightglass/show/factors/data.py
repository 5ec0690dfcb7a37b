"""What factor studies say, as plain data with codes."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import asdict
from typing import Any

from nightglass.bench.factors.records import Effect, FactorStudy


def factors_data(studies: Sequence[FactorStudy]) -> dict[str, Any]:
    """Return numbers, intervals, units in the names, and codes; no sentences."""
    return {"studies": [_study(one) for one in studies]}


def _study(one: FactorStudy) -> dict[str, Any]:
    data = asdict(one)
    data["effects"] = [_effect(effect) for effect in one.effects]
    return data


def _effect(effect: Effect) -> dict[str, Any]:
    change, share = effect.percent, effect.share_percent
    return {
        "influence": effect.influence,
        "fault": effect.fault,
        "together_with": list(effect.together_with),
        "least": effect.least,
        "most": effect.most,
        "levels": effect.levels,
        "off_best": effect.off_best,
        "effect_percent": change and change.value,
        "effect_low_percent": change and change.low,
        "effect_high_percent": change and change.high,
        "effect_found": change and change.found,
        "share_percent": share and share.value,
        "share_low_percent": share and share.low,
        "share_high_percent": share and share.high,
        "degrees_of_freedom": effect.degrees_of_freedom,
    }
