"""Motion apart from the lens: rendered frames whose spots and trails are known."""

from __future__ import annotations

import math
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from nightglass.frame.open import open_frame
from nightglass.scene.sky.starfield import Aberrations, Scene, lens_spots, render
from nightglass.show.sky.words.motion import NO_ZONE, motion_words
from nightglass.sky.astrometry.camera import look_at, plain_camera
from nightglass.sky.astrometry.matching import Fit, Match
from nightglass.sky.astrometry.refine import Solution
from nightglass.sky.observe import observe
from nightglass.sky.stars.find import find_stars
from nightglass.sky.zones import drawn_spot as drawnspot
from nightglass.sky.zones import members as zonestars
from nightglass.sky.zones.codes import ZoneReason
from nightglass.sky.zones.motion import measure_motion
from nightglass.sky.zones.zone import expected_trails

pytestmark = pytest.mark.slow

AIM = look_at(300.0, 25.0, 30.0)


def scene_of(camera, spots, **other) -> Scene:
    """Make a scene of few hot pixels and no satellites at one aim; other: what differs."""
    usual = {"year": 2000.0, "clipping": 60000, "satellites": 0, "hot_pixels": 100, "seed": 3}
    return Scene(camera, AIM, spots, **{**usual, **other})


def seen_motion(scene: Scene):
    frame, _ = render(scene)
    solution = known(scene.camera, scene.rotation)
    return measure_motion(frame, find_stars(frame), solution, scene.exposure_s, scene.year)


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
    monkeypatch.setattr(zonestars, "ZONE_ROWS", 1)
    monkeypatch.setattr(zonestars, "ZONE_COLUMNS", 3)
    monkeypatch.setattr(zonestars, "MOST_STARS", 15)
    camera, spots = lens
    scene = scene_of(
        camera, spots, exposure_s=30.0, zero_counts_per_s=6e4, faintest_g=6.7, drift_px=drift
    )
    frame, truth = render(scene)
    motion = measure_motion(frame, find_stars(frame), known(camera, scene.rotation), 30.0, 2000.0)
    true = spots.truth(0, 0)
    assert motion.moved == (drift != (0.0, 0.0))
    if motion.moved:
        assert np.hypot(*np.subtract(motion.extra_px, drift)) < 0.3
        assert "the camera moved the stars by 3." in motion_words(motion)
        assert not motion.tracked
    else:
        assert "the sky's own motion explains the stars" in motion_words(motion)
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
    monkeypatch.setattr(zonestars, "ZONE_ROWS", 1)
    monkeypatch.setattr(zonestars, "ZONE_COLUMNS", 3)
    monkeypatch.setattr(zonestars, "MOST_STARS", 15)
    camera, spots = lens
    scene = scene_of(
        camera, spots, exposure_s=90.0, zero_counts_per_s=2e4, faintest_g=6.7, rate=0.3
    )
    motion = seen_motion(scene)
    assert motion.tracked
    assert not motion.moved
    assert abs(motion.rate - 0.3) < 3 * motion.rate_err < 0.2
    assert f"a tracking mount: the stars moved at {motion.rate:.4f} ± " in motion_words(motion)
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
    assert motion.zones[0].reason is ZoneReason.TOO_FEW_STARS
    assert motion.kind is None
    assert motion_words(motion) == NO_ZONE
    assert not motion.moved


def test_a_flat_topped_spot_is_not_taken_for_a_motion(monkeypatch):
    monkeypatch.setattr(zonestars, "ZONE_ROWS", 1)
    monkeypatch.setattr(zonestars, "ZONE_COLUMNS", 3)
    monkeypatch.setattr(zonestars, "MOST_STARS", 15)
    camera = plain_camera(1300, 800, 1000.0)
    terms = Aberrations(defocus_um=1.5, coma_um=0.05, astigmatism_um=1.0)
    spots = lens_spots(camera, 6.0, 2.0, terms, grid=(1, 1), size_px=31)
    scene = scene_of(camera, spots, exposure_s=16.0, zero_counts_per_s=6e4, faintest_g=6.7)
    motion = seen_motion(scene)
    assert not motion.moved
    assert not motion.tracked
    assert "their trails are too short to check it" in motion_words(motion)
    for zone in motion.zones:
        assert zone.length_px == pytest.approx(spots.truth(0, 0).length_px, rel=0.05)
        off = np.subtract(zone.trail_seen_px, zone.trail_expected_px)
        assert np.all(np.abs(off) < 3 * np.array(zone.trail_err_px))


def test_four_real_frames_agree_on_their_one_lens():
    folder = Path(__file__).parents[2] / "data" / "real-sky"
    files = sorted(folder.glob("*.tiff"))
    if not files:
        pytest.skip("the real frames of the sky are not there")
    sizes: dict[tuple[int, int], list[tuple[float, float]]] = {}
    for file in files:
        # The true time is not recorded; in a fifth of a second stars move by a tenth of a pixel.
        motion = observe(open_frame(file), pitch_um=6.9, exposure_s=0.2).motion
        assert motion is not None
        assert not motion.moved
        assert not motion.tracked
        for zone in motion.zones:
            if zone.length_px is None:
                assert zone.reason in (ZoneReason.TOO_FEW_STARS, ZoneReason.JOINED)
            elif zone.columns == 1:
                known = sizes.setdefault((zone.row, zone.column), [])
                known.append((zone.length_px, zone.length_px_err))
    pulls = []
    for known in sizes.values():
        length, err = np.array(known).T
        if len(length) > 1:
            pulls.extend((length - np.average(length, weights=err**-2.0)) / err)
    assert len(pulls) >= 10
    # Of one lens through four skies: one zone of one frame may be off.
    assert np.count_nonzero(np.abs(pulls) > 3) <= 1
    assert np.median(np.abs(pulls)) < 1


def test_what_zones_say_of_a_lens_that_changes_over_the_field_is_true():
    camera = plain_camera(1500, 900, 1800.0)
    terms = Aberrations(defocus_um=1.0, coma_um=3.0, astigmatism_um=1.0)
    spots = lens_spots(camera, 6.0, 1.8, terms, grid=(9, 15), size_px=41)
    scene = scene_of(
        camera,
        spots,
        exposure_s=10.0,
        zero_counts_per_s=3e5,
        faintest_g=7.6,
        hot_pixels=50,
        seed=4,
        smooth=True,
    )
    motion = seen_motion(scene)
    lengths, pulls, leans, turned, shifts = [], [], [], [], []
    for zone in motion.zones:
        if zone.length_px is None or zone.columns > 1:
            continue
        # The spot changes by a third inside a zone; what is told holds at its middle.
        true = spots.truth(3 * zone.row + 1, 3 * zone.column + 1)
        stamp = spots.stamps[3 * zone.row + 1, 3 * zone.column + 1].astype(np.float64)
        lengths.append(zone.length_px / true.length_px - 1)
        pulls.append((zone.length_px - true.length_px) / zone.length_px_err)
        pulls.append((zone.width_px - true.width_px) / zone.width_px_err)
        if zone.field_radius < 0.3:
            continue
        outward = math.atan2(zone.y_px - camera.centre_y_px, zone.x_px - camera.centre_x_px)
        leans.append((zone.lean, zone.lean_err, true_lean(stamp, outward)))
        if zone.radial_angle_degrees is not None and true.length_px > 1.25 * true.width_px:
            away = abs((true.angle_degrees - math.degrees(outward) + 90) % 180 - 90)
            turned.append(zone.radial_angle_degrees - away)
        # No colour is drawn apart.
        shifts.extend(np.array([zone.red_offset_px, zone.blue_offset_px]) / zone.offset_err_px)
    assert len(lengths) >= 12
    assert abs(np.median(lengths)) < 0.03
    assert np.mean(np.abs(pulls) < 3) >= 0.95
    lean, err, true_leans = np.array(leans).T
    assert np.min(true_leans) > 0.3
    assert np.median(np.abs(lean - true_leans)) < 0.1
    assert np.mean(np.abs(lean - true_leans) < 3 * err) >= 0.9
    assert np.all(np.abs(turned) < 12)
    assert np.mean(np.abs(shifts) < 3) >= 0.95


def true_lean(stamp, outward):
    """Lean of a noiseless spot by its definition, from sums over rotated places."""
    rows, columns = np.indices(stamp.shape)
    total = stamp.sum()
    x, y = (stamp * columns).sum() / total, (stamp * rows).sum() / total
    along = (columns - x) * math.cos(outward) + (rows - y) * math.sin(outward)
    inside = np.hypot(columns - x, rows - y) < stamp.shape[0] / 2.2
    order = np.argsort(along[inside])
    share = np.cumsum(stamp[inside][order]) / stamp[inside].sum()
    low, half, high = np.interp([0.05, 0.5, 0.95], share, along[inside][order])
    return (high + low - 2 * half) / (high - low)


def test_colours_that_lie_apart_are_told_apart_by_name(monkeypatch):
    monkeypatch.setattr(zonestars, "ZONE_ROWS", 1)
    monkeypatch.setattr(zonestars, "ZONE_COLUMNS", 1)
    camera = plain_camera(900, 700, 1800.0)
    terms = Aberrations(defocus_um=1.6, coma_um=0.1, astigmatism_um=0.1)
    spots = lens_spots(camera, 6.0, 1.8, terms, grid=(1, 1), size_px=31)
    scene = scene_of(
        camera, spots, exposure_s=4.0, zero_counts_per_s=1e6, faintest_g=8.0, hot_pixels=0, seed=5
    )
    frame, _ = render(scene)
    # Every red sample takes the count two columns on: red lies two pixels farther left.
    moved = frame.samples.copy()
    moved[0::2, 0:-2:2] = frame.samples[0::2, 2::2]
    frame = replace(frame, samples=moved)
    motion = measure_motion(frame, find_stars(frame), known(camera, scene.rotation), 4.0, 2000.0)
    zone = motion.zones[0]
    assert zone.red_offset_px[0] == pytest.approx(-2.0, abs=0.3)
    assert abs(zone.red_offset_px[1]) < 0.3
    assert np.hypot(*zone.blue_offset_px) < 0.3


def test_zones_with_too_few_stars_are_joined_toward_the_edge():
    camera = plain_camera(1500, 900, 1800.0)
    terms = Aberrations(defocus_um=1.6, coma_um=0.1, astigmatism_um=0.1)
    spots = lens_spots(camera, 6.0, 1.8, terms, grid=(1, 1), size_px=31)
    scene = scene_of(
        camera, spots, exposure_s=2.0, zero_counts_per_s=3e4, faintest_g=8.5, hot_pixels=0, seed=7
    )
    motion = seen_motion(scene)
    at = {(zone.row, zone.column): zone for zone in motion.zones}
    assert len(at) == 15
    joined = [zone for zone in motion.zones if zone.columns == 2]
    assert joined
    for zone in joined:
        assert zone.column in (0, 4)
        assert zone.x_px == pytest.approx(299.5 if zone.column == 0 else 1199.5)
        inner = at[zone.row, 1 if zone.column == 0 else 3]
        assert inner.length_px is None
        assert inner.reason is ZoneReason.JOINED
    # Weak stars: wide errors, and true ones.
    true = spots.truth(0, 0)
    seen = [zone for zone in motion.zones if zone.length_px is not None]
    pulls = [(zone.length_px - true.length_px) / zone.length_px_err for zone in seen]
    assert len(seen) >= 4
    assert np.all(np.abs(pulls) < 3)
    assert min(zone.length_px_err for zone in seen) > 0.02 * true.length_px
