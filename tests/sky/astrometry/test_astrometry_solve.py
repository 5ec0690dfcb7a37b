"""Solving: simulated frames with known truth, four real frames, and frames that have no answer."""

from __future__ import annotations

import math
import os
from functools import cache
from pathlib import Path

import numpy as np
import pytest

import nightglass.sky.astrometry.solve as solve_module
from nightglass.frame.open import open_frame
from nightglass.scene.sky.starfield import Aberrations, Scene, lens_spots, render
from nightglass.show.sky.words.unsolved import unsolved_words
from nightglass.sky.astrometry.airless import take_air_out
from nightglass.sky.astrometry.camera import Camera, look_at, width_degrees
from nightglass.sky.astrometry.codes import Advice, UnsolvedReason
from nightglass.sky.astrometry.refine import Solution, stars_in_frame
from nightglass.sky.astrometry.refraction import Apparent
from nightglass.sky.astrometry.solve import Unsolved, pattern_stars, solve
from nightglass.sky.observe import Observation, focals_px, observe
from nightglass.sky.stars.find import COLUMNS, FoundStars, find_stars

pytestmark = pytest.mark.slow

BESIDE = Path(__file__).parents[2] / "data" / "real-sky"
# Pointing and horizontal field of four real frames (test data of the ESA repository tetra3,
# Apache-2.0), found with an independent solver: README.md beside the frames.
REAL = {
    "2019-07-29T204726_Alt40_Azi-45_Try1.tiff": (172.37, 57.65, 11.426),
    "2019-07-29T204726_Alt40_Azi135_Try1.tiff": (296.76, 11.31, 11.428),
    "2019-07-29T204726_Alt60_Azi-135_Try1.tiff": (240.46, 28.94, 11.427),
    "2019-07-29T204726_Alt60_Azi45_Try1.tiff": (314.69, 64.22, 11.431),
}


def real_frame(name: str) -> Path:
    """Find a real frame beside the tests or in the folder that NIGHTGLASS_SHARED names."""
    folders = [BESIDE]
    if "NIGHTGLASS_SHARED" in os.environ:
        folders.append(Path(os.environ["NIGHTGLASS_SHARED"]) / "data" / "real-sky")
    for folder in folders:
        if (folder / name).is_file():
            return folder / name
    pytest.skip(f"real-sky frame {name} is absent: set NIGHTGLASS_SHARED to the folder above data/")


@cache
def observed(name: str) -> Observation:
    """What a real frame says by itself."""
    return observe(open_frame(real_frame(name)))


@pytest.mark.parametrize("name", REAL)
def test_real_frames_agree_with_an_independent_solver(name):
    ra, dec, width = REAL[name]
    solved = observed(name).solution
    assert isinstance(solved, Solution)
    assert solved.width_degrees == pytest.approx(width, rel=0.003)
    assert abs(solved.dec_degrees - dec) < 0.05
    assert abs(solved.ra_degrees - ra) * math.cos(math.radians(dec)) < 0.05
    # 7.0656 mm of sensor and a lens marked 35 mm: 35.32 mm by an independent calibration.
    assert solved.camera.focal_px * 7.0656 / 1024 == pytest.approx(35.32, rel=0.003)


def test_one_focal_length_serves_all_four_real_frames():
    solutions = [observed(name).solution for name in REAL]
    assert all(isinstance(s, Solution) for s in solutions)
    focal = np.array([s.camera.focal_px for s in solutions])
    err = np.array([s.fit.errors[0] for s in solutions])
    mean = np.sum(focal / err**2) / np.sum(1 / err**2)
    # Chi-square of 3 degrees of freedom: 16.3 is passed in one of a thousand.
    assert np.sum(((focal - mean) / err) ** 2) < 16.3


def test_one_lens_through_the_air_of_four_real_frames():
    # Mount altitude and azimuth stand in the files' names, some degrees rough: the four aims give
    # the zenith (Wahba's problem by singular values), and so the air above each.
    mount = np.radians([[float(part[3:]) for part in name.split("_")[1:3]] for name in REAL])
    h, a = mount.T
    said = np.stack([np.cos(h) * np.cos(a), -np.cos(h) * np.sin(a), np.sin(h)], axis=1)
    stars = [observed(name).found.stars for name in REAL]
    solved = [observed(name).solution for name in REAL]
    aims = np.stack([s.rotation[2] for s in solved if isinstance(s, Solution)])
    u, _, v = np.linalg.svd(aims.T @ said)
    turned = u @ np.diag([1, 1, np.linalg.det(u @ v)]) @ v
    assert np.degrees(np.linalg.norm(aims - said @ turned.T, axis=1)).max() < 2
    apparent = Apparent(tuple(turned[:, 2]))
    focal, err = [], []
    for found, solution in zip(stars, solved, strict=True):
        assert isinstance(solution, Solution)
        taken, air = take_air_out(found, pattern_stars(found), solution, apparent, 2019.6)
        assert air.taken_out, air.reason
        assert taken.camera.focal_px > solution.camera.focal_px
        focal.append(taken.camera.focal_px)
        err.append(taken.fit.errors[0])
    focal, weight = np.array(focal), 1 / np.array(err) ** 2
    mean = np.sum(weight * focal) / np.sum(weight)
    assert np.sum(weight * (focal - mean) ** 2) < 16.3


def found(x, y, snr) -> FoundStars:
    """Make a list of round stars."""
    columns = {name: np.zeros(len(x)) for name in COLUMNS}
    columns |= {"x_px": x, "y_px": y, "snr": snr, "flux_counts": snr}
    columns |= {"spread_xx": np.ones(len(x)), "spread_yy": np.ones(len(x))}
    columns |= {"x_px_err": 0.1 + 1 / snr, "y_px_err": 0.1 + 1 / snr}
    order = np.argsort(-snr)
    return FoundStars(**columns).chosen(order)


def listed(camera: Camera, rotation, rng, limit=8.0) -> FoundStars:
    """Make the list of found stars of a camera, with errors, gaps and false ones."""
    from nightglass.sky.astrometry.refine import catalogue_vectors

    index, x, y = stars_in_frame(camera, rotation, limit)
    magnitude = catalogue_vectors()[1][index] + rng.normal(0, 0.25, index.size)
    seen = (rng.uniform(size=index.size) > 0.1) & (y < 0.75 * camera.height_px)
    snr = 6 * 10 ** (0.4 * (limit - magnitude[seen]))
    x = x[seen] + rng.normal(0, 0.2, snr.size)
    y = y[seen] + rng.normal(0, 0.2, snr.size)
    false = 10
    x = np.append(x, rng.uniform(0, camera.width_px, false))
    y = np.append(y, rng.uniform(0.7, 1, false) * camera.height_px)
    return found(x, y, np.append(np.maximum(snr, 5.0), 10 ** rng.uniform(1, 2.5, false)))


@pytest.mark.parametrize(
    ("camera", "aim"),
    [
        (Camera(6000, 4000, 12 / 0.006, 3020, 1985, -0.04, 0.01), (30, 5, 200)),
        (Camera(4000, 6000, 16 / 0.006, 2010, 2995, 0.02, 0.0), (280, -88, 10)),
        (Camera(6000, 4000, 24 / 0.006, 2990, 2010, -0.02, 0.0), (83, 0, 180)),
        (Camera(6000, 4000, 50 / 0.0039, 3000, 2000, 0.01, 0.0), (310, 40, 95)),
        (Camera(6000, 4000, 85 / 0.006, 3000, 2000, 0.0, 0.0), (270, -25, 30)),
    ],
    ids=["12 mm", "16 mm portrait at the pole", "24 mm upside down", "50 mm APS-C", "85 mm"],
)
def test_cameras_come_back_within_their_error_bars_without_any_hint(camera, aim):
    rotation = look_at(*aim)
    stars = listed(camera, rotation, np.random.default_rng(5))
    solved = solve(stars, camera.width_px, camera.height_px)
    assert isinstance(solved, Solution)
    truth = [camera.focal_px, camera.centre_x_px, camera.centre_y_px, camera.k1, camera.k2]
    got = solved.camera
    values = [got.focal_px, got.centre_x_px, got.centre_y_px, got.k1, got.k2]
    assert np.all(np.abs(np.subtract(values, truth)) < 4 * solved.fit.errors)
    assert got.projection == "rectilinear"


def test_a_fisheye_is_known_as_one():
    camera = Camera(6000, 4000, 15 / 0.006, 3000, 2000, 0.0, 0.0, "equisolid")
    stars = listed(camera, look_at(150, 20, 0), np.random.default_rng(3))
    solved = solve(stars, 6000, 4000)
    assert isinstance(solved, Solution)
    assert solved.camera.projection == "equisolid"
    assert solved.camera.focal_px == pytest.approx(camera.focal_px, rel=1e-3)


@pytest.mark.parametrize("seed", range(2))
def test_random_points_are_never_solved(seed, monkeypatch):
    monkeypatch.setattr(solve_module, "SEARCH_SECONDS", 1.5)
    rng = np.random.default_rng(seed)
    stars = found(
        rng.uniform(0, 6000, 400), rng.uniform(0, 4000, 400), 10 ** rng.uniform(1, 3, 400)
    )
    failed = solve(stars, 6000, 4000)
    assert isinstance(failed, Unsolved)
    assert failed.best_chance_log10 > -12
    assert len(failed.tried) > 2
    assert failed.tried[0].pattern_stars == 13
    assert (failed.reason, failed.advice) == (
        UnsolvedReason.NO_PATTERN_FITS,
        Advice.NAME_THE_CAMERA,
    )


def test_with_more_stars_narrow_cameras_come_first_because_they_cost_least():
    widths = [
        width_degrees(camera)
        for camera, checked, _ in solve_module._guesses(6000, 4000, solve_module.Hint())
        if checked == 18
    ]
    assert len(widths) > solve_module.USUAL_FLAT
    first = widths[: solve_module.USUAL_FLAT]
    assert first == sorted(first)


def test_a_frame_of_clouds_says_how_many_stars_it_would_take():
    stars = found(np.arange(4.0), np.arange(4.0), np.full(4, 50.0))
    failed = solve(stars, 600, 400)
    assert isinstance(failed, Unsolved)
    assert failed == Unsolved(UnsolvedReason.TOO_FEW_STARS, 4, Advice.MORE_LIGHT)
    assert unsolved_words(failed) == "only 4 stars stand out; a solution takes 8 or more"


def test_a_rendered_frame_with_land_is_found_and_solved():
    camera = Camera(1500, 1000, 1000.0, 752.0, 496.0, -0.02, 0.0)
    # Coma moves the centre of light outward and would count as focal length.
    mild = Aberrations(coma_um=0.05, astigmatism_um=0.8)
    spots = lens_spots(camera, 6.0, 2.0, mild, grid=(3, 3), size_px=31)
    scene = Scene(camera, look_at(80, 20, 12), spots, faintest_g=8.0, land=0.3, hot_pixels=500)
    frame, _ = render(scene)
    result = find_stars(frame)
    # Edges of leaves and lamps on the land are taken as hot pixels too.
    assert result.hot_pixels > 440
    solved = solve(result.stars, 1500, 1000)
    assert isinstance(solved, Solution)
    assert solved.camera.focal_px == pytest.approx(1000.0, abs=4 * solved.fit.errors[0] + 0.3)
    assert float(solved.rotation[2] @ scene.rotation[2]) > math.cos(math.radians(0.1))


def test_focal_lengths_to_try_come_from_what_is_known():
    frame = open_frame(real_frame(next(iter(REAL))))
    assert focals_px(frame) == ()
    assert focals_px(frame, pitch_um=6.9, focal_mm=35.0) == pytest.approx((5072.46,), abs=0.01)
    assert len(focals_px(frame, focal_mm=35.0)) > 2
    with pytest.raises(ValueError, match=r"pitch_um is -1; it must be above 0"):
        focals_px(frame, pitch_um=-1.0)
