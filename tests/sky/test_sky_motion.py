"""Motion apart from the lens: rendered frames whose spots and trails are known."""

from __future__ import annotations

import math
from pathlib import Path

import numpy as np
import pytest

import nightglass.sky.motion as motion_module
from nightglass.frame.open import open_frame
from nightglass.scene.starfield import Aberrations, Scene, lens_spots, render
from nightglass.sky import drawnspot, zones
from nightglass.sky.camera import look_at, plain_camera
from nightglass.sky.find import find_stars
from nightglass.sky.matching import Fit, Match
from nightglass.sky.motion import measure_motion
from nightglass.sky.observe import observe
from nightglass.sky.refine import Solution
from nightglass.sky.zones import expected_trails


def known(camera, rotation, found=0) -> Solution:
    """Make a solution that is the truth."""
    fit = Fit(camera, rotation, np.zeros(5), 0.0, 0.0, 0.0)
    nothing = np.empty(0, dtype=np.intp)
    return Solution(camera, rotation, fit, Match(nothing, nothing, np.empty(0)), 0.1, -100.0, True)


def test_expected_trails_are_those_of_a_turning_sky():
    camera = plain_camera(6000, 4000, 24 / 0.006)
    solution = known(camera, look_at(100.0, 0.0))
    trail = expected_trails(solution, np.array([2999.5]), np.array([1999.5]), 10.0, 2000.0)
    # f omega t: 24 mm, 10 s, 6 um; north up, so the stars move to the right.
    assert trail[0, 0] == pytest.approx(24e3 * 7.2921151e-5 * 10 / 6, rel=1e-4)
    assert trail[0, 1] == pytest.approx(0.0, abs=1e-6)
    # In the corner of a 14 mm frame it is 58.77 um in 20 s, from its start (brute force); here the
    # place is the middle of the path.
    camera = plain_camera(6000, 4000, 14 / 0.006)
    corner = expected_trails(
        known(camera, look_at(0.0, 0.0)), np.array([5999.5]), np.array([3999.5]), 20.0, 2000.0
    )
    assert math.hypot(*corner[0]) * 6 == pytest.approx(58.77, rel=4e-3)
    with pytest.raises(ValueError, match=r"exposure_s is -1; an exposure is 0 or longer"):
        expected_trails(solution, np.zeros(1), np.zeros(1), -1.0)


def test_a_gaussian_along_a_line_has_the_moments_of_both():
    step = 0.1
    axis = np.arange(-15, 15, step)
    density = np.array(
        [[drawnspot.gaussian_along(x, y, (1.2, 0.3, 0.8), 6.0, 2.0) for x in axis] for y in axis]
    )
    total = density.sum() * step**2
    assert total == pytest.approx(1.0, abs=1e-4)
    xx = (density * axis[None, :] ** 2).sum() * step**2
    xy = (density * axis[None, :] * axis[:, None]).sum() * step**2
    # Covariance L L^T of the Gaussian; a line of vector T adds T T^T / 12.
    assert xx == pytest.approx(1.2**2 + 36 / 12, rel=1e-3)
    assert xy == pytest.approx(1.2 * 0.3 + 12 / 12, rel=1e-3)


@pytest.fixture(scope="module")
def lens():
    camera = plain_camera(1300, 800, 1800.0)
    terms = Aberrations(defocus_um=1.6, coma_um=1.0, astigmatism_um=1.0)
    return camera, lens_spots(camera, 6.0, 1.8, terms, grid=(1, 1), size_px=31)


@pytest.mark.parametrize("drift", [(0.0, 0.0), (3.0, -2.0)], ids=["firm", "slipping tripod"])
def test_lens_and_trail_come_apart(lens, drift, monkeypatch):
    for module in (zones, motion_module):
        monkeypatch.setattr(module, "ZONE_ROWS", 1)
        monkeypatch.setattr(module, "ZONE_COLUMNS", 3)
    monkeypatch.setattr(zones, "MOST_STARS", 15)
    camera, spots = lens
    scene = Scene(
        camera,
        look_at(300.0, 25.0, 30.0),
        spots,
        exposure_s=30.0,
        year=2000.0,
        zero_counts_per_s=6e4,
        faintest_g=6.7,
        drift_px=drift,
        clipping=60000,
        satellites=0,
        hot_pixels=100,
        seed=3,
    )
    frame, truth = render(scene)
    motion = measure_motion(frame, find_stars(frame), known(camera, scene.rotation), 30.0, 2000.0)
    true = spots.truth(0, 0)
    assert motion.moved == (drift != (0.0, 0.0))
    if motion.moved:
        assert np.hypot(*np.subtract(motion.extra_px, drift)) < 0.3
        assert "the camera moved the stars by 3." in motion.words
        assert not motion.tracked
    else:
        assert "the sky's own motion explains the stars" in motion.words
        assert motion.rate == pytest.approx(1.0, abs=0.1)
    for zone in motion.zones:
        # Fifteen stars a zone; benchmarks/sky_motion.py has the figures for many.
        assert zone.length_px == pytest.approx(true.length_px, rel=0.05)
        assert zone.width_px == pytest.approx(true.width_px, rel=0.05)
        seen = np.array(zone.trail_seen_px)
        expected = np.array(zone.trail_expected_px) + drift
        assert np.hypot(*(seen - expected)) < 0.45
        assert np.all(np.abs(seen - expected) < 3 * np.array(zone.trail_err_px))
    assert np.hypot(truth.trail_x_px, truth.trail_y_px).mean() > 3


def test_a_tracking_mount_shows_as_its_rate(lens, monkeypatch):
    for module in (zones, motion_module):
        monkeypatch.setattr(module, "ZONE_ROWS", 1)
        monkeypatch.setattr(module, "ZONE_COLUMNS", 3)
    monkeypatch.setattr(zones, "MOST_STARS", 15)
    camera, spots = lens
    scene = Scene(
        camera,
        look_at(300.0, 25.0, 30.0),
        spots,
        exposure_s=90.0,
        year=2000.0,
        zero_counts_per_s=2e4,
        faintest_g=6.7,
        rate=0.3,
        clipping=60000,
        satellites=0,
        hot_pixels=100,
        seed=3,
    )
    frame, _ = render(scene)
    motion = measure_motion(frame, find_stars(frame), known(camera, scene.rotation), 90.0, 2000.0)
    assert motion.tracked
    assert not motion.moved
    assert abs(motion.rate - 0.3) < 3 * motion.rate_err < 0.2
    assert "a tracking mount: the stars moved at 0.3" in motion.words
    for zone in motion.zones:
        true = spots.truth(0, 0)
        assert abs(zone.length_px - true.length_px) < 3 * zone.length_px_err
        assert zone.length_px_err < 0.06 * zone.length_px


def test_zones_without_stars_say_so(lens):
    camera, spots = lens
    scene = Scene(camera, look_at(300.0, 25.0), spots, faintest_g=3.0, satellites=0, hot_pixels=0)
    frame, _ = render(scene)
    motion = measure_motion(frame, find_stars(frame), known(camera, scene.rotation), 30.0)
    assert all(zone.length_px is None for zone in motion.zones)
    assert "single unclipped stars of SNR 25; it takes 8" in motion.zones[0].reason
    assert motion.words == "no zone has enough single, unclipped stars to tell lens from motion"
    assert not motion.moved


def test_a_flat_topped_spot_is_not_taken_for_a_motion(monkeypatch):
    for module in (zones, motion_module):
        monkeypatch.setattr(module, "ZONE_ROWS", 1)
        monkeypatch.setattr(module, "ZONE_COLUMNS", 3)
    monkeypatch.setattr(zones, "MOST_STARS", 15)
    camera = plain_camera(1300, 800, 1000.0)
    terms = Aberrations(defocus_um=1.5, coma_um=0.05, astigmatism_um=1.0)
    spots = lens_spots(camera, 6.0, 2.0, terms, grid=(1, 1), size_px=31)
    scene = Scene(
        camera,
        look_at(300.0, 25.0, 30.0),
        spots,
        exposure_s=16.0,
        year=2000.0,
        zero_counts_per_s=6e4,
        faintest_g=6.7,
        clipping=60000,
        satellites=0,
        hot_pixels=100,
        seed=3,
    )
    frame, _ = render(scene)
    motion = measure_motion(frame, find_stars(frame), known(camera, scene.rotation), 16.0, 2000.0)
    assert not motion.moved
    assert not motion.tracked
    assert "their trails are too short to check it" in motion.words
    for zone in motion.zones:
        assert zone.length_px == pytest.approx(spots.truth(0, 0).length_px, rel=0.05)
        off = np.subtract(zone.trail_seen_px, zone.trail_expected_px)
        assert np.all(np.abs(off) < 3 * np.array(zone.trail_err_px))


def test_a_real_frame_with_few_strong_stars_says_what_is_missing():
    folder = Path(__file__).parents[1] / "data" / "real-sky"
    files = sorted(folder.glob("*Azi135*.tiff"))
    if not files:
        pytest.skip("the real frames of the sky are not there")
    seen = observe(open_frame(files[0]), pitch_um=6.9, exposure_s=0.2)
    assert seen.motion is not None
    assert (
        seen.motion.words == "no zone has enough single, unclipped stars to tell lens from motion"
    )
    assert all("it takes 8" in zone.reason for zone in seen.motion.zones)
