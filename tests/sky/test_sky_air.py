"""Stars near the horizon, lifted by the air: what a solution makes of them, with and without it."""

from __future__ import annotations

import math

import numpy as np
import pytest

from nightglass.sky.air import fit_through_air
from nightglass.sky.camera import Camera, lifted, look_at, places_px
from nightglass.sky.find import COLUMNS, FoundStars
from nightglass.sky.refine import Solution, catalogue_vectors
from nightglass.sky.solve import pattern_stars, solve

CAMERA = Camera(6000, 4000, 14 / 0.006, 3010.0, 1990.0, -0.02, 0.005)
ROTATION = look_at(80, 10, 20)


def zenith(lower_edge_degrees: float):
    up = math.radians(lower_edge_degrees) + math.atan(2000 / CAMERA.focal_px)
    return math.sin(up) * ROTATION[2] - math.cos(up) * ROTATION[1]


def seen(toward) -> FoundStars:
    rng = np.random.default_rng(2)
    vectors, magnitude = catalogue_vectors()
    bright = magnitude < 8.0
    x, y = places_px(CAMERA, ROTATION, lifted(vectors[bright], toward))
    inside = np.isfinite(x) & (x > 0) & (x < 6000) & (y > 0) & (y < 4000)
    snr = 6 * 10 ** (0.4 * (8.0 - magnitude[bright][inside]))
    columns = {name: np.zeros(snr.size) for name in COLUMNS}
    columns |= {"snr": snr, "spread_xx": np.ones(snr.size), "spread_yy": np.ones(snr.size)}
    for name, place in (("x_px", x), ("y_px", y)):
        columns[name] = place[inside] + rng.normal(0, 0.1, snr.size)
        columns[f"{name}_err"] = np.full(snr.size, 0.1)
    return FoundStars(**columns)


@pytest.mark.parametrize("lower_edge_degrees", [20.0, 0.0])
def test_air_shortens_the_focal_length_and_its_error_says_so(lower_edge_degrees):
    toward = zenith(lower_edge_degrees)
    stars = seen(toward)
    solved = solve(stars, 6000, 4000)
    assert isinstance(solved, Solution)
    short = 1 - solved.camera.focal_px / CAMERA.focal_px
    # Refraction of 58" tan z squeezes the sky by 58" = 0.028 % of a radian at the zenith, more
    # below (formula of Bradley, in Meeus, Astronomical Algorithms, chapter 16, from memory).
    assert 0.00025 < short < 0.0008
    assert abs(CAMERA.focal_px - solved.camera.focal_px) < 2 * solved.focal_err_px
    fit = fit_through_air(stars, pattern_stars(stars), solved, toward)
    truth = [CAMERA.focal_px, CAMERA.centre_x_px, CAMERA.centre_y_px, CAMERA.k1, CAMERA.k2]
    got = fit.camera
    values = [got.focal_px, got.centre_x_px, got.centre_y_px, got.k1, got.k2]
    assert np.all(np.abs(np.subtract(values, truth)) < 4 * fit.errors)
    assert fit.rms_px < 0.15


def test_a_zenith_of_another_place_is_told():
    stars = seen(zenith(20.0))
    solved = solve(stars, 6000, 4000)
    assert isinstance(solved, Solution)
    with pytest.raises(ValueError, match=r"0 of the frame's \d+ stars stand above the horizon"):
        fit_through_air(stars, pattern_stars(stars), solved, -ROTATION[2])
