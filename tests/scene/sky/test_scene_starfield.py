"""Rendered sky frames: the truth that they claim is what is in them."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from nightglass.scene.sky.starfield import Aberrations, LensSpots, Scene, lens_spots, render
from nightglass.scene.sky.strokes import draw_stars
from nightglass.sky.astrometry.camera import look_at, places_px, plain_camera, unit_vectors
from nightglass.sky.astrometry.catalogue import load_stars

CAMERA = plain_camera(640, 420, 900.0)


@pytest.fixture(scope="module")
def spots() -> LensSpots:
    # A disc of some pixels, so that no colour of the mosaic gets more than its share.
    perfect = Aberrations(2.0, 0.0, 0.0, 0.0, 0.0)
    return lens_spots(CAMERA, 6.0, 2.0, perfect, grid=(1, 1), size_px=31)


def test_catalogue_stars_stand_where_the_camera_says(spots):
    scene = Scene(CAMERA, look_at(84.0, -1.0), spots, exposure_s=1.0, faintest_g=5.0)
    _, truth = render(scene)
    stars = load_stars()
    k = int(np.argmin(truth.magnitude))
    index = truth.index[k]
    x, y = places_px(
        CAMERA, scene.rotation, unit_vectors(stars.ra_degrees[index], stars.dec_degrees[index])
    )
    assert truth.x_px[k] == pytest.approx(float(x), abs=1e-9)
    assert truth.y_px[k] == pytest.approx(float(y), abs=1e-9)


def test_light_of_a_star_and_of_the_sky_are_as_stated(spots):
    scene = Scene(
        CAMERA, look_at(84.0, -1.0), spots, exposure_s=2.0, faintest_g=2.5, zero_counts_per_s=1e4,
        glow=0.0, hot_pixels=0, satellites=0, clipping=60000,
    )  # fmt: skip
    frame, truth = render(scene)
    k = int(np.argmin(truth.magnitude))
    x, y = round(truth.x_px[k]), round(truth.y_px[k])
    box = frame.samples[y - 10 : y + 10, x - 10 : x + 10].astype(float) - 512
    # Red, green and blue samples in ratio 1 : 2 : 1 with shares 0.5, 1 and 0.6.
    sky = (60 + 2 * 120 + 80) / 4 * box.size
    light = 1e4 * 2 * 10 ** (-0.4 * truth.magnitude[k]) * (0.5 + 2 + 0.6) / 4
    assert box.sum() - sky == pytest.approx(light, rel=0.1)
    greens = frame.samples[0:100:2, 1:101:2].astype(float) - 512
    assert greens.mean() == pytest.approx(120, abs=2)
    assert greens.std() == pytest.approx(np.sqrt(120 + 9), rel=0.1)


def test_trails_and_drift_are_those_of_the_scene(spots):
    still = Scene(CAMERA, look_at(84.0, 0.0), spots, exposure_s=20.0, year=2000.0, faintest_g=5.0)
    _, truth = render(still)
    k = int(np.argmin(np.hypot(truth.x_px - 319.5, truth.y_px - 209.5)))
    # f omega t at the celestial equator, westward: north is up, so to the right.
    assert truth.trail_x_px[k] == pytest.approx(900 * 7.2921151e-5 * 20, rel=0.03)
    tracked = Scene(
        CAMERA, look_at(84.0, 0.0), spots, exposure_s=20.0, faintest_g=5.0, rate=0.0,
        drift_px=(2.0, -1.0),
    )  # fmt: skip
    _, truth = render(tracked)
    assert np.allclose(truth.trail_x_px, 2.0)
    assert np.allclose(truth.trail_y_px, -1.0)


def test_the_same_scene_is_the_same_frame_and_land_hides_stars(spots):
    scene = Scene(CAMERA, look_at(84.0, 0.0), spots, faintest_g=9.8, land=0.3, seed=9)
    first, truth = render(scene)
    second, _ = render(scene)
    assert np.array_equal(first.samples, second.samples)
    assert 0.15 < truth.hidden.mean() < 0.45
    assert np.any(truth.index == -1)


def test_light_is_kept_where_faint_stars_are_drawn_no_farther_than_they_show(spots):
    sky = np.zeros((60, 62), dtype=np.float32)
    at = (np.array([[30.2]]), np.array([[27.7]]))
    draw_stars(sky, at, np.full((1, 3), 200.0), spots, smooth=False)
    assert sky.sum() == pytest.approx(200.0, rel=0.01)
    y, x = np.indices(sky.shape)
    assert (x * sky).sum() / sky.sum() == pytest.approx(30.2, abs=0.02)
    assert (y * sky).sum() / sky.sum() == pytest.approx(27.7, abs=0.02)


def test_smooth_spots_go_over_into_each_other_between_the_cells():
    stamps = np.zeros((1, 2, 48, 48), dtype=np.float32)
    stamps[0, 0, 20:29, 12:37] = 1 / (9 * 25)
    stamps[0, 1, 12:37, 20:29] = 1 / (9 * 25)
    both = LensSpots(stamps)
    shapes = []
    for x in (9.5, 39.5, 69.5):
        light = np.zeros((20, 80), dtype=np.float32)
        draw_stars(
            light, (np.array([[x]]), np.array([[9.5]])), np.full((1, 3), 100.0), both, smooth=True
        )
        v, u = np.indices(light.shape)
        wide = (light * (u - x) ** 2).sum() - (light * (v - 9.5) ** 2).sum()
        shapes.append(wide / light.sum())
    assert shapes[0] == pytest.approx(-shapes[2], rel=0.02)
    assert shapes[1] == pytest.approx(0.0, abs=0.05 * shapes[0])


def test_the_air_lifts_stars_over_the_horizon(spots):
    rotation = look_at(84.0, 0.0)
    # The horizon crosses the middle of the frame: the zenith is straight up.
    air = Scene(CAMERA, rotation, spots, faintest_g=8.0, zenith=-rotation[1])
    _, seen = render(air)
    _, plain = render(replace(air, zenith=None))
    assert seen.y_px.max() < 210
    both = np.intersect1d(seen.index, plain.index)
    high = seen.y_px[np.isin(seen.index, both)]
    lift = plain.y_px[np.isin(plain.index, both)] - high
    # 33' just over the horizon, 5.3' ten degrees up (f = 900 px: 159 px higher).
    assert lift[high > 205].mean() == pytest.approx(900 * np.radians(33 / 60), rel=0.1)
    assert lift[np.abs(high - 51) < 10].mean() == pytest.approx(
        900 * np.radians(5.3 / 60), rel=0.15
    )
