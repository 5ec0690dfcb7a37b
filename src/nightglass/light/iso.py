"""Which ISO a body works best at: the lowest whose read noise no longer counts."""

from __future__ import annotations

from dataclasses import dataclass

from nightglass.gear.body import Body
from nightglass.light.defaults import READ_NOISE, READ_NOISE_LIMIT
from nightglass.light.noise import noise_lengthening_percent


@dataclass(frozen=True)
class WorkingIso:
    """The ISO to set, and why; None where the body file says too little."""

    iso: int | None
    reason: str


@dataclass(frozen=True)
class ReadNoise:
    """Read noise per sample [electrons] and how it is known."""

    electrons: float
    source: str


def working_iso(body: Body, sky_e: float) -> WorkingIso:
    """Return the lowest ISO whose read noise lengthens the sky's noise by 5 % or less.

    sky_e: sky electrons per green sample during the exposure. Where no read noise is known or
    none is low enough: the lowest step of the second gain. Nothing known: None with the reason.
    Raises ValueError for negative sky electrons.
    """
    if not sky_e >= 0:
        raise ValueError(f"sky_e is {sky_e:g}; sky electrons per sample can't be negative")
    limit = READ_NOISE_LIMIT.value
    for iso in sorted(body.read_noise_e):
        noise_e = body.read_noise_e[iso]
        longer = float(noise_lengthening_percent(noise_e, sky_e))
        if longer <= limit:
            reason = (
                f"lowest with read noise that lengthens the noise by {limit:g} % or less: "
                f"{noise_e:g} e on {sky_e:.0f} e of sky, {longer:.1f} %"
            )
            return WorkingIso(iso, reason)
    if body.second_gain_iso is not None:
        why = "no step's read noise is low enough" if body.read_noise_e else "read noise not known"
        return WorkingIso(body.second_gain_iso, f"lowest step of the second gain ({why})")
    if body.read_noise_e:
        iso = min(body.read_noise_e, key=lambda step: (body.read_noise_e[step], step))
        return WorkingIso(
            iso,
            f"lowest read noise of the body; it still lengthens the noise by more than {limit:g} % "
            f"on {sky_e:.0f} e of sky",
        )
    return WorkingIso(None, f"no read noise and no second gain in the file of {body.name}")


def read_noise_at(body: Body, iso: int | None) -> ReadNoise:
    """Return a body's read noise at an ISO: as given, from the nearest lower step, or the default.

    Read noise in electrons falls with ISO, so a lower step is the careful choice.
    """
    if iso is not None and iso in body.read_noise_e:
        return ReadNoise(body.read_noise_e[iso], f"body file, ISO {iso}")
    lower = [step for step in body.read_noise_e if iso is not None and step < iso]
    if lower:
        step = max(lower)
        return ReadNoise(body.read_noise_e[step], f"body file, ISO {step} (none given for {iso})")
    return ReadNoise(READ_NOISE.value, f"default: {READ_NOISE.source}")
