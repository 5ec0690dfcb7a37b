"""The common rules for the longest exposure, side by side.

Each rule gives seconds; the trail of each is worked out for a star at the frame centre, so that
they can be compared in % of picture height. The exact path anywhere else: nightglass.almanac.trail.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass

from nightglass.gear.body import Body
from nightglass.light.defaults import EARTH_ROTATION_RAD_S, TRAIL_LIMIT

FULL_FRAME_DIAGONAL_MM = math.hypot(36.0, 24.0)
_NPF_SOURCE = "F. Michaud, Société Astronomique du Havre, page on the NPF rule (2010)"
_PRACTICE = "common practice"


@dataclass(frozen=True)
class Situation:
    """What the rules ask for: body, lens setting, declination and the choices of the person."""

    body: Body
    focal_mm: float
    f_number: float
    """As marked: that is how the rules were published."""
    declination_degrees: float = 0.0
    """Of the star whose trail counts; 0 is the fastest."""
    limit_percent: float = TRAIL_LIMIT.value
    pixels: float = 2.0
    blur_length_px: float | None = None
    """length_px of the lens's own spot; None leaves out the rule that rests on it."""
    blur_share: float = 1.0
    """Trail over that length."""

    def __post_init__(self) -> None:
        for name in ("focal_mm", "f_number", "limit_percent", "pixels", "blur_share"):
            _check_above_zero(name, getattr(self, name))
        if self.blur_length_px is not None:
            _check_above_zero("blur_length_px", self.blur_length_px)
        if not -90 < self.declination_degrees < 90:
            raise ValueError(
                f"declination_degrees is {self.declination_degrees:g}; between -90 and 90, for at "
                "the poles stars stand still and no rule ends the exposure"
            )


@dataclass(frozen=True)
class RuleTime:
    """One rule's answer: seconds, its trail at the frame centre, and where the rule comes from."""

    key: str
    name: str
    limit_s: float
    trail_percent: float
    source: str


def centre_trail_mm(focal_mm: float, exposure_s: float, declination_degrees: float = 0.0) -> float:
    """Return the trail [mm] at the frame centre: f x 7.2921e-5 x t x cos(declination)."""
    return (
        focal_mm * EARTH_ROTATION_RAD_S * exposure_s * math.cos(math.radians(declination_degrees))
    )


def centre_time_s(trail_mm: float, focal_mm: float, declination_degrees: float = 0.0) -> float:
    """Return the time [s] that draws a trail [mm] at the frame centre."""
    return trail_mm / centre_trail_mm(focal_mm, 1.0, declination_degrees)


def limit_s(at: Situation) -> float:
    """Return the time for a trail limit in % of height on the equator, whatever the declination."""
    height_mm = at.body.picture_height_px * at.body.pitch_um / 1000
    return centre_time_s(at.limit_percent / 100 * height_mm, at.focal_mm)


def equivalent_s(at: Situation, constant: float) -> float:
    """Return constant / (crop x focal length), crop by the diagonal against 36 x 24 mm."""
    diagonal_mm = math.hypot(at.body.width_mm, at.body.height_mm)
    return constant / (FULL_FRAME_DIAGONAL_MM / diagonal_mm * at.focal_mm)


def npf_simple_s(at: Situation) -> float:
    """Return (35 N + 30 p) / f, p in um, f in mm: the NPF rule, simplified."""
    return (35 * at.f_number + 30 * at.body.pitch_um) / at.focal_mm


def npf_full_s(at: Situation, k: float) -> float:
    """Return k (16.9 N + 0.10 f + 13.7 p) / (f cos(declination)); k from 1 (strict) to 3.

    Raises ValueError for a k outside.
    """
    if not 1 <= k <= 3:
        raise ValueError(
            f"k is {k:g}; the NPF rule was published for 1 (strict) to 3 (trails seen)"
        )
    parts = 16.9 * at.f_number + 0.10 * at.focal_mm + 13.7 * at.body.pitch_um
    return k * parts / (at.focal_mm * math.cos(math.radians(at.declination_degrees)))


def pixels_s(at: Situation) -> float:
    """Return the time for a trail of a number of pixels at the frame centre."""
    trail_mm = at.pixels * at.body.pitch_um / 1000
    return centre_time_s(trail_mm, at.focal_mm, at.declination_degrees)


def blur_share_s(at: Situation) -> float:
    """Return the time for a trail that is a share of the lens's own blur.

    Raises ValueError if the blur isn't known.
    """
    if at.blur_length_px is None:
        raise ValueError(
            "blur_length_px is not known; measure the lens first or choose another rule"
        )
    trail_mm = at.blur_share * at.blur_length_px * at.body.pitch_um / 1000
    return centre_time_s(trail_mm, at.focal_mm, at.declination_degrees)


_RULES: dict[str, tuple[str, Callable[[Situation], float], str]] = {
    "limit": ("trail {limit:.2g} % of height", limit_s, TRAIL_LIMIT.source),
    "360": ("360 rule: 360 / focal length", lambda at: 360 / at.focal_mm, _PRACTICE),
    "500": ("500 rule in 35 mm terms", lambda at: equivalent_s(at, 500), _PRACTICE),
    "300": ("300 rule in 35 mm terms", lambda at: equivalent_s(at, 300), _PRACTICE),
    "npf": ("NPF, simplified", npf_simple_s, _NPF_SOURCE),
    "npf1": ("NPF, full, k = 1", lambda at: npf_full_s(at, 1), _NPF_SOURCE),
    "npf2": ("NPF, full, k = 2", lambda at: npf_full_s(at, 2), _NPF_SOURCE),
    "npf3": ("NPF, full, k = 3", lambda at: npf_full_s(at, 3), _NPF_SOURCE),
    "pixels": ("{pixels:g} pixels", pixels_s, "chosen number of pixels"),
    "blur": ("{share:g} of the lens's own blur", blur_share_s, "measured blur, chosen share"),
}
RULE_KEYS: tuple[str, ...] = tuple(_RULES)


def rule_time(key: str, at: Situation) -> RuleTime:
    """Return one rule's answer, by its key in RULE_KEYS.

    Raises ValueError for an unknown key, or for the blur rule without a measured blur.
    """
    if key not in _RULES:
        raise ValueError(f"rule {key!r} is not known; use one of {', '.join(RULE_KEYS)}")
    name, seconds, source = _RULES[key]
    name = name.format(limit=at.limit_percent, pixels=at.pixels, share=at.blur_share)
    time_s = seconds(at)
    height_mm = at.body.picture_height_px * at.body.pitch_um / 1000
    trail_mm = centre_trail_mm(at.focal_mm, time_s, at.declination_degrees)
    return RuleTime(key, name, time_s, 100 * trail_mm / height_mm, source)


def rule_times(at: Situation) -> tuple[RuleTime, ...]:
    """Return the answers of all rules; the blur rule only where the blur is known."""
    known = (key for key in RULE_KEYS if key != "blur" or at.blur_length_px is not None)
    return tuple(rule_time(key, at) for key in known)


def _check_above_zero(name: str, value: float) -> None:
    if not (value > 0 and math.isfinite(value)):
        raise ValueError(f"{name} is {value:g}; it must be above 0")
