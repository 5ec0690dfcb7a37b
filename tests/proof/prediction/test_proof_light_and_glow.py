"""Light, glow, limit and stars of a made-up night, against what follows by hand."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest

from nightglass.frame.record import Frame
from nightglass.gear.benchfile import BenchFile, SkyChoice
from nightglass.gear.body import Body
from nightglass.gear.lens import Lens, LensSetting
from nightglass.light.defaults import V_MINUS_G, ZERO_POINT
from nightglass.light.falloff import FalloffSource, PupilFalloff
from nightglass.proof.codes import PredictionReasonCode
from nightglass.proof.prediction.cells import CELLS, Cells, NightCase
from nightglass.proof.prediction.light_and_glow import glow, light
from nightglass.proof.prediction.ratio import apart, times
from nightglass.proof.prediction.stars import limit_and_stars
from nightglass.proof.reasons import PredictionReason
from nightglass.proof.sight import Sight
from nightglass.show.proof.reasons import prediction_reason_words
from nightglass.sky.astrometry.camera import look_at, pixel_area_arcsec2, plain_camera
from nightglass.sky.astrometry.matching import Fit, Match
from nightglass.sky.astrometry.refine import Solution
from nightglass.sky.photometry.codes import LimitSource, NoiseSource
from nightglass.sky.photometry.conditions import Night
from nightglass.sky.stars.find import COLUMNS, Detections, FoundStars

WIDTH, HEIGHT, SCALE = 3000, 2000, 4000.0
"""24 mm at 6 micrometres a pixel."""
PATTERN = np.array([[0, 1], [1, 2]], dtype=np.uint8)
EXTINCTION = 0.3
LN_PER_MAG = 0.4 * math.log(10)
AREA_PX, ZERO_MAG = 4.0, 13.2
"""Noise area of all spots; magnitude of a star of one count in the exposure."""
EVEN = np.array([0.25, 0.5, 0.25]), np.ones(3)
"""Shares of the samples, light over green's."""


def solution() -> Solution:
    camera, rotation = plain_camera(WIDTH, HEIGHT, SCALE), look_at(300.0, 35.0)
    none = np.empty(0, dtype=np.intp)
    match = Match(none, none, np.empty(0))
    fit = Fit(camera, rotation, np.zeros(5), 0.0, 0.0, 0.0)
    return Solution(camera, rotation, fit, match, 0.1, -100.0, True)


def night(**more) -> Night:
    values = {
        "zero_point_mag": 15.0, "zero_point_err": 0.0, "zero_point_scatter": 0.1,
        "zero_point_stars": 200, "falloff": None, "sky_mag_arcsec2": 15.0, "sky_err": 0.05,
        "limiting_mag": 9.0, "limiting_err": 0.0, "limiting_from": LimitSource.SNR_LINE,
        "stars_recorded": 3, "open_sky": 1.0, "sky_noise_counts": 5.0, "gain_e_per_count": None,
        "read_noise_counts": None, "limited_by": NoiseSource.SKY, "notes": (),
    }  # fmt: skip
    return Night(**{**values, **more})


def case(altitude=None, extinction=EXTINCTION, gain=0.6, **more) -> NightCase:
    stars = FoundStars(**{name: np.full(3, 900.0) for name in COLUMNS})
    frame = Frame(
        samples=np.zeros((HEIGHT, WIDTH), dtype=np.uint16),
        pattern=PATTERN,
        black=np.zeros((2, 2)),
        clipping=np.full((2, 2), 4000.0),
        kind="mosaic",
    )
    found = Detections(stars, None, 1.5, 0, np.ones(3))  # type: ignore[arg-type]
    body = Body(
        "Loan body", 6.0, WIDTH, HEIGHT, read_noise_e={1600: 0.001},
        gain_e_per_count={} if gain is None else {1600: gain}, efficiency=0.4,
    )  # fmt: skip
    return NightCase(
        Sight(frame, found, solution(), 16.0, 2026.0),
        night(**more),
        (),
        LensSetting("Loan body", "Wren", 24.0, 2.0),
        BenchFile(
            body, (Lens("Wren", 24.0, 24.0, 2.0, 2.0),), sky=SkyChoice(extinction_mag=extinction)
        ),
        iso=1600,
        aim_altitude_degrees=altitude,
    )


def cells() -> Cells:
    rows, columns = CELLS
    x, y = np.meshgrid((np.arange(columns) + 0.5) * 125 - 0.5, (np.arange(rows) + 0.5) * 125 - 0.5)
    x, y, every = x.ravel(), y.ravel(), np.ones(rows * columns)
    return Cells(
        x, y, 125.0 * 125.0, pixel_area_arcsec2(plain_camera(WIDTH, HEIGHT, SCALE), x, y),
        every > 0, every > 0, AREA_PX * every, every, np.full((every.size, 3), 5.0),
        ZERO_MAG * every,
    )  # fmt: skip


@pytest.mark.parametrize(("altitude", "airmass"), [(None, 1.0), (90.0, 1.0), (30.0, 1.994)])
def test_a_star_s_light_comes_through_the_air_at_its_height(altitude, airmass):
    told = light(case(altitude))
    # A pupil of 12 mm, the stated transmission, photons of V = 0 and efficiency; the airmass at 30
    # degrees, 1 / (1/2 + 0.50572 (30 + 6.07995)^-1.6364): Kasten & Young 1989, Appl. Opt. 28, 4735.
    electrons = ZERO_POINT.value * math.pi * 6**2 * 1e-6 * 0.85 * 0.4
    predicted = 2.5 * math.log10(electrons / 0.6) - V_MINUS_G.value - EXTINCTION * airmass
    assert told.predicted == pytest.approx(predicted, abs=1e-3)
    assert told.ratio.value == pytest.approx(10 ** (0.4 * (15.0 - predicted)), rel=2e-3)
    # 0.08 magnitudes per airmass between clear nights: 95 % of it.
    half = 1.96 * LN_PER_MAG * 0.08 * airmass
    assert math.log(told.ratio.high / told.ratio.value) == pytest.approx(half, rel=2e-3)


def test_a_gain_from_the_frame_brings_its_error_into_the_light():
    own = {"gain_e_per_count": 0.6, "gain_e_per_count_err": 0.12}
    given, measured = light(case()), light(case(gain=None, **own))
    assert measured.ratio.value == pytest.approx(given.ratio.value)
    assert measured.log_err == pytest.approx(math.hypot(given.log_err, 0.2))
    unknown = light(case(gain=None))
    assert unknown.ratio is None
    assert unknown.reason is not None
    assert prediction_reason_words(unknown.reason) == (
        "electrons per count at this ISO are not known: gain_e_per_count in bench.toml"
    )


def test_the_glow_is_predicted_and_found_through_the_air():
    clear, hazy = (glow(case(extinction=k), cells(), EVEN) for k in (0.0, 0.5))
    # Under a bright sky of a magnitude that counts from above the air, haze dims what makes the
    # noise by 0.5 magnitudes: the signal-to-noise rises by half of that. What is found has the
    # glow of that magnitude itself, in the noise that was measured.
    assert hazy.predicted / clear.predicted == pytest.approx(10 ** (0.2 * 0.5), rel=0.01)
    assert hazy.found / clear.found == pytest.approx(10 ** (0.4 * 0.5), rel=0.03)
    half = 1.96 * LN_PER_MAG * 0.08
    assert math.log(hazy.ratio.high / hazy.ratio.value) == pytest.approx(half, rel=2e-3)


def test_flats_take_the_place_of_the_model_in_the_predicted_glow():
    even = PupilFalloff((0.0, 0.0), (0.0, 0.0, 0.0), FalloffSource.FLAT)
    dark = PupilFalloff((3.0, 0.0), (0.0, 0.0, 0.0), FalloffSource.FLAT)
    model, bright, dim = (
        glow(replace(case(), falloff=falloff), cells(), EVEN) for falloff in (None, even, dark)
    )
    # cos(angle) takes little light from a frame this narrow, 3 magnitudes in the corner take much.
    assert dim.predicted < model.predicted < bright.predicted
    # The noise is the sky's alone: the signal-to-noise goes with the root of the light.
    where = cells()
    radius = np.hypot(where.x_px - (WIDTH - 1) / 2, where.y_px - (HEIGHT - 1) / 2)
    left = dark.share(radius / (math.hypot(WIDTH, HEIGHT) / 2))
    mean = np.average(np.sqrt(left), weights=where.solid_angle_arcsec2)
    assert dim.predicted / bright.predicted == pytest.approx(mean, rel=0.01)
    assert dim.found == bright.found


def test_the_limit_follows_from_zero_point_area_and_noise():
    limit, stars, _ = limit_and_stars(case(), cells(), EVEN)
    # SNR of one green count: all colours alike, 1 / 5 of it through 4 px of noise area.
    snr = 1 / 5 / math.sqrt(AREA_PX)
    assert limit.predicted == pytest.approx(ZERO_MAG - 2.5 * math.log10(5 / snr), abs=0.01)
    assert limit.ratio.value == pytest.approx(9.0 - limit.predicted)
    # What a formula of the SNR leaves open, 5 %, and 0.05 magnitudes of the limit's own: 95 %.
    half = 1.96 * math.hypot(0.05 / LN_PER_MAG, 0.05)
    assert limit.ratio.high - limit.ratio.value == pytest.approx(half, rel=2e-3)
    assert stars.found == 3


def test_the_errors_of_the_bench_s_area_and_of_the_zero_point_move_limit_and_stars():
    plain = limit_and_stars(case(), cells(), EVEN)
    zero = limit_and_stars(case(zero_point_err=0.1), cells(), EVEN)
    wide = limit_and_stars(replace(case(), log_area_err=0.2, freedom=4.0), cells(), EVEN)
    for one in (0, 1):
        assert zero[one].log_err > 1.2 * plain[one].log_err
        assert wide[one].log_err > 1.2 * plain[one].log_err
    # 0.1 magnitudes of the zero point are 0.1 of the limit; ln(area) counts by half.
    assert zero[0].log_err == pytest.approx(math.hypot(plain[0].log_err, 0.1), rel=1e-3)
    assert wide[0].log_err == pytest.approx(
        math.hypot(plain[0].log_err, 0.1 / LN_PER_MAG), rel=1e-3
    )


def test_intervals_of_few_repeats_are_student_s():
    # t of 2 degrees of freedom is 4.303 (any handbook of statistics).
    ratio = times(2.0, 3.0, [(0.01, 2.0)])
    assert ratio.ratio.value == pytest.approx(1.5)
    assert math.log(ratio.ratio.high / 1.5) == pytest.approx(0.4303, rel=1e-3)
    assert math.log(1.5 / ratio.ratio.low) == pytest.approx(0.4303, rel=1e-3)
    away = apart(9.0, 9.5, [(0.01, 2.0)])
    assert away.ratio.high == pytest.approx(0.5 + 0.4303, rel=1e-3)
    assert (ratio.differs, away.differs) == (0, 1)
    assert times(2.0, 0.0, [(0.01, 2.0)]).reason == PredictionReason(
        PredictionReasonCode.NONE_FOUND
    )
