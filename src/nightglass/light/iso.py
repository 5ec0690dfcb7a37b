"""Which ISO a body works best at: the lowest one with hardly more noise than the best step."""

from __future__ import annotations

import math
from dataclasses import dataclass
from enum import StrEnum

from nightglass.gear.body import Body
from nightglass.light.defaults import NOISE_OVER_BEST, READ_NOISE


class IsoReason(StrEnum):
    """Why an ISO is the one to set, or why none is named."""

    LOW_NOISE = "low_noise"
    SECOND_GAIN = "second_gain"
    NOT_KNOWN = "not_known"


class NoiseSource(StrEnum):
    """How the read noise at an ISO is known."""

    MEASURED = "measured"
    BODY_FILE = "body_file"
    MEASURED_LOWER_STEP = "measured_lower_step"
    LOWER_STEP = "lower_step"
    DEFAULT = "default"


@dataclass(frozen=True)
class WorkingIso:
    """The ISO to set, and why; None where the body file says too little."""

    iso: int | None
    reason: IsoReason
    noise_over_best_percent: float | None = None
    """Its total noise over that of the best step; None where no read noise is known."""
    next_iso: int | None = None
    """The next higher step whose read noise is known."""
    next_costs_stops: float | None = None
    """Headroom for bright stars and lights that the next step costs."""


@dataclass(frozen=True)
class ReadNoise:
    """Read noise per sample [electrons] and how it is known."""

    electrons: float
    source: NoiseSource
    iso: int | None = None
    """The step that it was given for; None for the default."""
    err_e: float | None = None
    """Its 1-sigma error where it was measured."""


def working_iso(body: Body, sky_e: float) -> WorkingIso:
    """Return the lowest ISO whose total noise on the sky is within 5 % of the best step's.

    sky_e: sky electrons per green sample during the exposure. Total noise: the root of the sky's
    electrons plus the read noise squared. Where no read noise is known: the lowest step of the
    second gain; nothing known: None with the reason. Raises ValueError for negative electrons.
    """
    if not sky_e >= 0:
        raise ValueError(f"sky_e is {sky_e:g}; sky electrons per sample can't be negative")
    if not body.read_noise_e:
        if body.second_gain_iso is None:
            return WorkingIso(None, IsoReason.NOT_KNOWN)
        return WorkingIso(body.second_gain_iso, IsoReason.SECOND_GAIN)
    total = {iso: math.sqrt(sky_e + noise**2) for iso, noise in body.read_noise_e.items()}
    best = min(total.values())
    allowed = best * (1 + NOISE_OVER_BEST.value / 100) * (1 + 1e-12)
    iso = min(step for step, noise in total.items() if noise <= allowed)
    over = 100 * (total[iso] / best - 1) if best > 0 else 0.0
    above = min((step for step in total if step > iso), default=None)
    costs = None if above is None else math.log2(above / iso)
    return WorkingIso(iso, IsoReason.LOW_NOISE, over, above, costs)


def read_noise_at(body: Body, iso: int | None) -> ReadNoise:
    """Return a body's read noise at an ISO: as given, from the nearest lower step, or the default.

    Given is what a person typed, or what was measured of the sensor. Read noise in electrons falls
    with ISO, so a lower step is the careful choice.
    """
    errors = body.read_noise_err_e
    if iso is not None and iso in body.read_noise_e:
        source = NoiseSource.MEASURED if iso in errors else NoiseSource.BODY_FILE
        return ReadNoise(body.read_noise_e[iso], source, iso, errors.get(iso))
    lower = [step for step in body.read_noise_e if iso is not None and step < iso]
    if lower:
        step = max(lower)
        source = NoiseSource.MEASURED_LOWER_STEP if step in errors else NoiseSource.LOWER_STEP
        return ReadNoise(body.read_noise_e[step], source, step, errors.get(step))
    return ReadNoise(READ_NOISE.value, NoiseSource.DEFAULT)
