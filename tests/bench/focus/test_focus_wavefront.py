"""The joint wavefront fit on simulated series: planted terms in broad-band light."""

import math

import numpy as np
import pytest

from nightglass.bench.focus.drawn import SeriesImages
from nightglass.bench.focus.records import Value, WavefrontFault, WavefrontFit
from nightglass.bench.focus.wavefront import directed, fit_wavefront
from nightglass.optics.extent import extent
from nightglass.optics.wavefront import Pupil, defocus_um
from nightglass.scene.star import Star, fine_spot

PITCH_UM, F_NUMBER, UM_PER_MARK, BEST = 6.0, 2.8, 55.0, 4.2
MARKS = tuple(float(mark) for mark in range(1, 8))
DISC_PX = UM_PER_MARK / F_NUMBER / PITCH_UM


def series(terms, marks=MARKS):
    rng = np.random.default_rng(4)
    cuts = []
    for mark in marks:
        defocus = defocus_um((mark - BEST) * UM_PER_MARK, F_NUMBER)
        star = Star(Pupil(F_NUMBER, {**terms, 4: defocus}), *rng.uniform(99.5, 100.5, 2))
        light = np.array(fine_spot(star, PITCH_UM, (1,)).on_pixels(1), dtype=float)
        light *= 20000 / light.max()
        light = rng.poisson(light) + rng.normal(0, 10, light.shape)
        found = extent(light)
        half = math.ceil(found.aperture_px) + 1
        row, column = round(found.y_px) + half, round(found.x_px) + half
        padded = np.pad(light, half)
        cuts.append(padded[row - half : row + half + 1, column - half : column + half + 1])
    return SeriesImages(tuple(cuts), marks, F_NUMBER, PITCH_UM)


def test_planted_terms_come_back_with_their_signs():
    planted = {5: -0.2, 6: 0.3, 7: 0.0, 8: 0.25, 11: -0.12}
    found = fit_wavefront(series(planted), BEST + 0.2, 0.805 * DISC_PX)
    assert found.fault is None
    assert found.chi2_per_free < 1.5
    assert found.per_mark_um.value == pytest.approx(defocus_um(UM_PER_MARK, F_NUMBER), rel=0.08)
    for j, value in planted.items():
        assert abs(found.terms[j].value - value) < 2.5 * found.terms[j].err, j
        assert abs(value) < 0.1 or found.terms[j].value * value > 0


def test_spots_of_no_wavefront_give_no_terms():
    given = series({6: 0.3})
    double = tuple(light + 0.9 * np.roll(light, 7, axis=1) for light in given.light)
    broken = SeriesImages(double, MARKS, F_NUMBER, PITCH_UM)
    found = fit_wavefront(broken, BEST, 0.805 * DISC_PX)
    assert (found.fault, found.terms) == (WavefrontFault.MISFIT, {})
    assert found.chi2_per_free > 3


def test_four_frames_are_too_few():
    found = fit_wavefront(series({6: 0.3}, MARKS[:4]), BEST, 0.805 * DISC_PX)
    assert found.fault is WavefrontFault.TOO_FEW


def test_the_direction_of_the_marks_turns_even_terms_and_leaves_coma():
    terms = {5: Value(-0.2, 0.01), 7: Value(0.1, 0.01), 11: Value(0.3, 0.02)}
    fit = WavefrontFit(terms, Value(0.25, 0.01), Value(4.2, 0.1), 1.0)
    told = {way: directed(fit, way) for way in ("infinity", "near", None)}
    values = {
        way: [*(v.value for v in one.terms.values()), one.per_mark_um.value]
        for way, one in told.items()
    }
    assert values == {
        "infinity": [-0.2, 0.1, 0.3, 0.25],
        "near": [0.2, 0.1, -0.3, -0.25],
        None: [0.2, 0.1, 0.3, 0.25],
    }
    assert [one.towards for one in told.values()] == ["infinity", "near", None]


def test_infinity_moves_the_focus_behind_the_sensor():
    """Thin lens, 1/u + 1/v = 1/f (any handbook of optics): focused from 5 m to infinity."""
    focal_mm, source_mm = 24.0, 10_000.0
    image_mm = 1 / (1 / focal_mm - 1 / source_mm)
    near, far = 1 / (1 / focal_mm - 1 / 5000.0), focal_mm
    behind = [image_mm - sensor_mm for sensor_mm in (near, far)]
    assert behind[0] < 0 < behind[1]
    # The sign of optics.wavefront: focus behind the sensor is a positive Noll 4.
    assert defocus_um(1000 * behind[1], F_NUMBER) > 0
