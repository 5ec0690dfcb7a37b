"""The sky's own noise beside the sensor's: the same ISO as everywhere else."""

from __future__ import annotations

import math
from dataclasses import replace

import pytest

from nightglass.gear.benchfile import BenchFile, SkyChoice, TimeChoice
from nightglass.gear.body import Body
from nightglass.gear.lens import Lens, LensSetting
from nightglass.light.iso import working_iso
from nightglass.verdict.assumptions import read_noise_assumptions
from nightglass.verdict.codes import AssumptionCode, AssumptionSource
from nightglass.verdict.frame_light import frame_light
from nightglass.verdict.sky_noise import sky_noises

BODY = Body(
    "b", 6.0, 3000, 2000, read_noise_e={100: 6.0, 400: 4.0, 800: 1.9, 1600: 1.7},
    read_noise_err_e={800: 0.02, 1600: 0.02},
)  # fmt: skip
SLOW = Lens("Curlew 17-45 mm f/2.5-4.5", 17.0, 45.0, 2.5, 4.5)
FAST = Lens("Wren 12 mm f/1.4", 12.0, 12.0, 1.4, 1.4)
BENCH = BenchFile(BODY, (FAST, SLOW), sky=SkyChoice(brightness_mag_per_arcsec2=21.5))


def test_the_faintest_sky_stands_first_and_the_iso_is_that_of_the_ranking():
    dim, bright = sky_noises(BENCH)
    assert (dim.setting.lens, bright.setting.lens) == (SLOW.name, FAST.name)
    for lens, one in ((SLOW, dim), (FAST, bright)):
        setting = LensSetting("b", lens.name, lens.focal_mm_min, lens.f_number_min_wide)
        light = frame_light(BODY, lens, setting, one.exposure_s, BENCH.sky)
        assert one.working == light.iso
        assert one.working == working_iso(BODY, one.sky_e)
        assert one.noise_e == math.sqrt(one.sky_e)
        assert one.total_noise_e[800] == pytest.approx(math.hypot(one.noise_e, 1.9))


def test_sky_noise_grows_with_the_time_that_the_rule_allows():
    longer = replace(BENCH, time=TimeChoice(trail_percent=0.5))
    assert sky_noises(longer)[0].sky_e > 1.9 * sky_noises(BENCH)[0].sky_e
    blur = replace(BENCH, time=TimeChoice(rule="share of blur", share=0.7))
    assert sky_noises(blur)[0].sky_e == sky_noises(BENCH)[0].sky_e


def test_what_was_measured_and_what_was_typed_are_two_assumptions():
    typed, measured = read_noise_assumptions(BODY)
    assert {typed.code, measured.code} == {AssumptionCode.READ_NOISE}
    assert (typed.source, dict(typed.values)) == (
        AssumptionSource.BENCH_FILE, {"iso_100": 6.0, "iso_400": 4.0},
    )  # fmt: skip
    assert measured.source is AssumptionSource.MEASURED
    assert dict(measured.values) == {"iso_800": 1.9, "iso_1600": 1.7}
    (default,) = read_noise_assumptions(replace(BODY, read_noise_e={}, read_noise_err_e={}))
    assert default.source is AssumptionSource.DEFAULT
