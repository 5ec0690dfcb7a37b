"""A proof says whether gain and read noise were typed or measured, and counts what is unsure."""

from __future__ import annotations

from dataclasses import replace
from types import SimpleNamespace

import pytest

from nightglass.gear.benchfile import BenchFile
from nightglass.gear.body import Body
from nightglass.proof.assumptions import _sensor
from nightglass.proof.codes import AssumptionCode
from nightglass.proof.prediction.light_and_glow import _gain

BODY = Body(
    "b", 6.0, 3000, 2000, efficiency=0.4, gain_e_per_count={400: 1.8, 800: 0.9},
    gain_err_e_per_count={800: 0.018}, read_noise_e={400: 3.0}, read_noise_err_e={400: 0.1},
)  # fmt: skip


def test_typed_and_measured_values_are_told_apart():
    codes = [one.code for one in _sensor(BenchFile(BODY, ()))]
    assert codes[1:] == [
        AssumptionCode.GAIN_GIVEN, AssumptionCode.GAIN_MEASURED, AssumptionCode.READ_NOISE_MEASURED,
    ]  # fmt: skip
    typed = replace(BODY, gain_err_e_per_count={}, read_noise_err_e={})
    codes = [one.code for one in _sensor(BenchFile(typed, ()))]
    assert codes[1:] == [AssumptionCode.GAIN_GIVEN, AssumptionCode.READ_NOISE_GIVEN]


@pytest.mark.parametrize(("iso", "expected"), [(400, (1.8, 0.0)), (800, (0.9, 0.02))])
def test_a_measured_gain_brings_its_error(iso, expected):
    case = SimpleNamespace(bench=BenchFile(BODY, ()), iso=iso, night=None)
    assert _gain(case) == pytest.approx(expected)
