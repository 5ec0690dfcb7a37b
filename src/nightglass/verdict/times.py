"""The longest time under the chosen rule: with a remote release and on the dial, for the centre of
the frame and for its worst place."""

from __future__ import annotations

import math
from dataclasses import replace
from functools import lru_cache

from nightglass.almanac.trail import trail_mm, worst_place_mm
from nightglass.gear.benchfile import RuleName, TimeChoice
from nightglass.gear.body import Body
from nightglass.gear.dial import dial_gain_stops, longest_dial_step, longest_remote_s
from nightglass.light.rules import RuleTime, Situation, rule_time, rule_times
from nightglass.optics.projection import Projection
from nightglass.verdict.records import FrameTimes, Times

_KEYS: dict[RuleName, str] = {
    "trail": "limit",
    "360 rule": "360",
    "500 rule": "500",
    "300 rule": "300",
    "npf simple": "npf",
    "npf full": "npf1",
    "pixels": "pixels",
    "share of blur": "blur",
}
"""The person's words for a rule, and the rule of nightglass.light.rules behind them."""


def situation(
    choice: TimeChoice,
    body: Body,
    focal_mm: float,
    f_number: float,
    blur_length_px: float | None = None,
) -> Situation:
    """Return what the rules are asked for: the person's choices, defaults for the rest."""
    at = Situation(body, focal_mm, f_number, choice.declination_degrees)
    return replace(
        at,
        limit_percent=choice.trail_percent or at.limit_percent,
        pixels=choice.pixels or at.pixels,
        blur_length_px=blur_length_px,
        blur_share=choice.share or at.blur_share,
    )


def chosen_rule(choice: TimeChoice, at: Situation) -> RuleTime:
    """Return the answer of the rule that the person chose.

    A trail limit holds for the declination that the person states (0, the fastest, by default).
    Raises ValueError for an unknown rule; the text lists the allowed ones.
    """
    if choice.rule not in _KEYS:
        raise ValueError(f'rule "{choice.rule}" is not known; use one of {", ".join(_KEYS)}')
    answer = rule_time(_KEYS[choice.rule], at)
    if _KEYS[choice.rule] != "limit" or choice.declination_degrees == 0:
        return answer
    slower = math.cos(math.radians(choice.declination_degrees))
    name = f"{answer.name} at declination {choice.declination_degrees:g}"
    return RuleTime(answer.key, name, answer.limit_s / slower, at.limit_percent, answer.source)


def times_within(limit_s: float, dial_end_s: float) -> Times:
    """Return what dial and remote make of a limit [s]: the one place where times are rounded.

    The dial's light over the limit is signed: the 1.07 that a step may stand over it can make it
    a gain. Raises ValueError for a limit that is not above 0 or under the dial's shortest step.
    """
    step = longest_dial_step(limit_s, dial_end_s)
    return Times(
        limit_s=limit_s,
        remote_s=longest_remote_s(limit_s, dial_end_s),
        dial_marked_s=step.marked_s,
        dial_true_s=step.true_s,
        dial_gain_stops=dial_gain_stops(step, limit_s),
    )


def longest_times(
    choice: TimeChoice,
    body: Body,
    focal_mm: float,
    f_number: float,
    projection: Projection = "rectilinear",
    blur_length_px: float | None = None,
) -> FrameTimes:
    """Return the longest times [s] of a setting under the chosen rule, for centre and corners.

    The rule speaks of a star at the frame centre. The corners' times hold the same trail at the
    place where stars move fastest in a frame aimed at the equator. Raises ValueError for an
    unknown rule, or a rule on the lens's own blur without it.
    """
    at = situation(choice, body, focal_mm, f_number, blur_length_px)
    limit_s = chosen_rule(choice, at).limit_s
    sides = sorted((body.width_mm, body.height_mm), reverse=True)
    # Turned so that the long side lies east to west, a portrait sensor is a landscape one.
    faster = fastest_over_centre((sides[0], sides[1]), focal_mm, projection)
    return FrameTimes(
        centre=times_within(limit_s, body.dial_end_s),
        corners=times_within(limit_s / faster, body.dial_end_s),
        holds_at=choice.holds_at,
    )


@lru_cache(maxsize=1024)
def fastest_over_centre(
    sides_mm: tuple[float, float], focal_mm: float, projection: Projection = "rectilinear"
) -> float:
    """Return how much faster the fastest star of a frame moves than one at its centre.

    sides_mm: the long one, which lies east to west, and the short one, of a frame aimed at
    declination 0. Speeds over one second.
    """
    x, y = worst_place_mm(*sides_mm, focal_mm, projection=projection)
    centre, worst = (
        float(trail_mm(*place, 1.0, focal_mm, projection=projection).length_mm)
        for place in ((0.0, 0.0), (x, y))
    )
    return max(1.0, worst / centre)


def all_rules(
    choice: TimeChoice,
    body: Body,
    focal_mm: float,
    f_number: float,
    blur_length_px: float | None = None,
) -> tuple[RuleTime, ...]:
    """Return the answers of all rules side by side, their trails in % of picture height."""
    return rule_times(situation(choice, body, focal_mm, f_number, blur_length_px))
