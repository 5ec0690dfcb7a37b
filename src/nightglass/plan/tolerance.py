"""How long a trail may get, and where in the frame that holds."""

from __future__ import annotations

from dataclasses import dataclass

from nightglass.gear.benchfile import HoldsAt
from nightglass.light.defaults import TRAIL_LIMIT


@dataclass(frozen=True)
class Tolerance:
    """The longest trail that a plan allows."""

    limit_percent: float = TRAIL_LIMIT.value
    """% of picture height."""
    holds_at: HoldsAt = "centre"
    """At the frame's centre, or at every place that shows sky ("corners")."""


USUAL = Tolerance()
