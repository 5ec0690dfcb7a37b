"""Words for the ISO to set and for how the read noise is known."""

from __future__ import annotations

from collections.abc import Sequence

from nightglass.light.defaults import NOISE_OVER_BEST, READ_NOISE
from nightglass.light.iso import IsoReason, NoiseSource, ReadNoise, WorkingIso

HOW_TO_KNOW = "read noise not known: nightglass sensor measures it from dark and evenly lit frames"
"""What would give an ISO where the body file says nothing."""

REASON_MEANINGS: dict[IsoReason, str] = {
    IsoReason.LOW_NOISE: "the lowest step whose total noise on the stated sky is within "
    f"{NOISE_OVER_BEST.value:g} % of the best step's",
    IsoReason.SECOND_GAIN: "the lowest step of the body's second gain; its read noise is not known",
    IsoReason.NOT_KNOWN: "neither read noise nor a second gain is known of the body",
}
"""Codes of `iso_reason` in the JSON, as the glossary explains them."""


def iso_reason_words(same: Sequence[WorkingIso]) -> str:
    """Return why one ISO is the one to set, with what the next step costs, in one line.

    same: of one lens or several to which it belongs. Raises ValueError for none.
    """
    if not same:
        raise ValueError("no working ISO was given; give that of one lens at least")
    working = same[0]
    if working.reason is IsoReason.NOT_KNOWN:
        return HOW_TO_KNOW
    if working.reason is IsoReason.SECOND_GAIN:
        return "lowest step of the second gain; " + HOW_TO_KNOW
    return f"{_over_best(same)} under this sky{_next_step(working)}"


def _over_best(same: Sequence[WorkingIso]) -> str:
    over = [working.noise_over_best_percent or 0.0 for working in same]
    least, most = f"{min(over):.1f}", f"{max(over):.1f}"
    if most == "0.0":
        return "the least noise of all steps"
    span = most if least == most else f"{least} to {most}"
    return f"{span} % over the least noise"


def read_noise_words(noise: ReadNoise, iso: int | None) -> str:
    """Return how a read noise is known."""
    if noise.source is NoiseSource.DEFAULT:
        return f"default: {READ_NOISE.source}"
    if noise.source is NoiseSource.MEASURED:
        return f"measured, ISO {noise.iso}"
    if noise.source is NoiseSource.MEASURED_LOWER_STEP:
        return f"measured, ISO {noise.iso} (not measured for {iso})"
    if noise.source is NoiseSource.LOWER_STEP:
        return f"bench.toml, ISO {noise.iso} (none given for {iso})"
    return f"bench.toml, ISO {noise.iso}"


def _stops(count: float) -> str:
    shown = f"{count:.1f}".removesuffix(".0")
    return f"{shown} {'stop' if shown == '1' else 'stops'}"


def _next_step(working: WorkingIso) -> str:
    if working.next_iso is None or working.next_costs_stops is None:
        return ""
    return (
        f"; ISO {working.next_iso} would cost {_stops(working.next_costs_stops)} of "
        "headroom in bright stars"
    )
