"""Every default and choice that entered a proof, by code."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass

from nightglass.gear.benchfile import BenchFile
from nightglass.light.defaults import (
    AIRMASS,
    DETECTION_SNR,
    EFFICIENCY,
    EXTINCTION,
    MILKY_WAY_BRIGHTNESS,
    READ_NOISE,
    V_MINUS_G,
)
from nightglass.proof.codes import AssumptionCode
from nightglass.proof.records import Proof
from nightglass.verdict.assumptions import MODEL_FALLOFF, default_or, glass_assumptions
from nightglass.verdict.codes import Assumption
from nightglass.verdict.codes import AssumptionCode as Code


@dataclass(frozen=True)
class ProofAssumption:
    """A choice that enters only a proof."""

    code: AssumptionCode
    value: float | None = None
    """Where the choice is a number: of FAINTEST_STAR the signal-to-noise."""


def proof_assumptions(
    bench_file: BenchFile, proof: Proof, place_known: bool
) -> tuple[Assumption | ProofAssumption, ...]:
    """Return what a proof rests on: air, light, sensor, lenses, intervals.

    place_known: whether moon, twilight and the height of the aim could be worked out.
    """
    sky, code = bench_file.sky, AssumptionCode
    lenses = {one.setting.lens for one in proof.settings}
    place = code.PLACE_GIVEN if place_known else code.PLACE_UNKNOWN
    return (
        ProofAssumption(place),
        default_or(Code.EXTINCTION, EXTINCTION, sky.extinction_mag),
        ProofAssumption(code.AIRMASS_OF_AIM)
        if place_known
        else default_or(Code.AIRMASS, AIRMASS, sky.airmass),
        default_or(Code.V_MINUS_G, V_MINUS_G, None),
        default_or(Code.MILKY_WAY, MILKY_WAY_BRIGHTNESS, None),
        ProofAssumption(code.FAINTEST_STAR, DETECTION_SNR.value),
        ProofAssumption(code.STAR_COUNTS),
        *_sensor(bench_file),
        *glass_assumptions(bench_file, lenses),
        MODEL_FALLOFF,
        ProofAssumption(code.BLUR_BETWEEN_PLACES),
        ProofAssumption(code.INTERVALS),
        ProofAssumption(code.LEFT_OUT),
    )


def _sensor(bench_file: BenchFile) -> tuple[Assumption | ProofAssumption, ...]:
    body, code = bench_file.body, AssumptionCode
    return (
        ProofAssumption(code.EFFICIENCY_UNKNOWN)
        if body.efficiency is None
        else default_or(Code.EFFICIENCY, EFFICIENCY, body.efficiency),
        *_given(
            body.gain_e_per_count, body.gain_err_e_per_count, code.GAIN_GIVEN, code.GAIN_MEASURED
        ),
        *([] if body.gain_e_per_count else [ProofAssumption(code.GAIN_FROM_NOISE)]),
        *_given(
            body.read_noise_e,
            body.read_noise_err_e,
            code.READ_NOISE_GIVEN,
            code.READ_NOISE_MEASURED,
        ),
        *([] if body.read_noise_e else [default_or(Code.READ_NOISE, READ_NOISE, None)]),
    )


def _given(
    steps: Mapping[int, float],
    measured: Mapping[int, float],
    typed_code: AssumptionCode,
    measured_code: AssumptionCode,
) -> Iterator[ProofAssumption]:
    """What is typed of some ISO steps, and what is measured of others."""
    if any(iso not in measured for iso in steps):
        yield ProofAssumption(typed_code)
    if any(iso in measured for iso in steps):
        yield ProofAssumption(measured_code)
