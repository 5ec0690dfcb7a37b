"""The longest time under the chosen rule: with a remote release and on the dial."""

from __future__ import annotations

import math
from dataclasses import replace

from nightglass.gear.benchfile import RuleName, TimeChoice
from nightglass.gear.body import Body
from nightglass.gear.dial import dial_gain_stops, longest_dial_step, longest_remote_s
from nightglass.light.rules import RuleTime, Situation, rule_time, rule_times
from nightglass.verdict.records import Times

_KEYS: dict[RuleName, str] = {
    "360 rule": "limit",
    "trail": "limit",
    "500 rule": "500",
    "300 rule": "300",
    "npf simple": "npf",
    "npf full": "npf1",
    "pixels": "pixels",
    "share of blur": "blur",
}
"""The person's words for a rule, and the rule of nightglass.light.rules behind them. The 360 rule
is the trail of 0.16828 % that it allows on the sensor it was made on, so that it means the same
blur on every body."""


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
    name = f"{at.limit_percent:g} % of height at declination {choice.declination_degrees:g}"
    return RuleTime(answer.key, name, answer.limit_s / slower, at.limit_percent, answer.source)


def longest_times(
    choice: TimeChoice,
    body: Body,
    focal_mm: float,
    f_number: float,
    blur_length_px: float | None = None,
) -> Times:
    """Return the longest times [s] of a setting under the chosen rule.

    The dial's light over the limit is signed: the 1.07 that a step may stand over it can make it
    a gain. Raises ValueError for an unknown rule, or a rule on the lens's own blur without it.
    """
    at = situation(choice, body, focal_mm, f_number, blur_length_px)
    limit_s = chosen_rule(choice, at).limit_s
    step = longest_dial_step(limit_s, body.dial_end_s)
    return Times(
        limit_s=limit_s,
        remote_s=longest_remote_s(limit_s),
        dial_marked_s=step.marked_s,
        dial_true_s=step.true_s,
        dial_gain_stops=dial_gain_stops(step, limit_s),
    )


def all_rules(
    choice: TimeChoice,
    body: Body,
    focal_mm: float,
    f_number: float,
    blur_length_px: float | None = None,
) -> tuple[RuleTime, ...]:
    """Return the answers of all rules side by side, their trails in % of picture height."""
    return rule_times(situation(choice, body, focal_mm, f_number, blur_length_px))
