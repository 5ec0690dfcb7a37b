"""The zero point against planted ones: trails, soft corners, short, the Milky Way, cloud."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from nightglass.frame.record import Frame
from nightglass.scene.sky.starfield import Aberrations, Scene, lens_spots, render
from nightglass.show.sky.words.night import night_note_words
from nightglass.sky.astrometry.camera import look_at, plain_camera
from nightglass.sky.astrometry.matching import Fit, Match
from nightglass.sky.astrometry.refine import Solution
from nightglass.sky.photometry.codes import NightNote
from nightglass.sky.photometry.conditions import measure_night
from nightglass.sky.photometry.open_sky import hits_of, open_cells_of
from nightglass.sky.photometry.zero_point import zero_point
from nightglass.sky.stars.find import find_stars

pytestmark = pytest.mark.slow

SIZE = (1500, 1010)
SPARSE, MILKY_WAY = (140.0, 30.0, 20.0), (300.0, 35.0, 0.0)
SHARP, SOFT = Aberrations(defocus_um=0.3), Aberrations(0.8, 1.5, 1.5)
SKIES = {
    "long trails": (1600.0, SPARSE, 30.0, SHARP, 6e4),
    "soft corners": (1600.0, (60.0, 20.0, 0.0), 8.0, SOFT, 1.2e5),
    "short": (1600.0, (200.0, 50.0, 30.0), 2.0, SHARP, 1.2e5),
    "milky way": (1600.0, MILKY_WAY, 10.0, Aberrations(0.6, 0.5), 1.2e5),
    "wide lens": (800.0, SPARSE, 15.0, Aberrations(0.3, 0.6, 0.8), 4e4),
}


def scene_of(name, seed=3):
    focal_px, aim, seconds, lens, zero = SKIES[name]
    camera = plain_camera(*SIZE, focal_px)
    grid = (3, 4) if lens is not SHARP else (1, 1)
    return Scene(
        camera,
        look_at(*aim),
        lens_spots(camera, 6.0, 2.0, lens, grid=grid, size_px=41),
        exposure_s=seconds,
        zero_counts_per_s=zero,
        faintest_g=11.5,
        sky_counts=(60.0, 120.0, 80.0),
        clipping=60000,
        hot_pixels=200,
        smooth=grid != (1, 1),
        seed=seed,
    )


def solved(scene):
    nothing = np.empty(0, dtype=np.intp)
    fit = Fit(scene.camera, scene.rotation, np.zeros(5), 0.0, 0.0, 0.0)
    match = Match(nothing, nothing, np.empty(0))
    return Solution(scene.camera, scene.rotation, fit, match, 0.2, -100.0, True)


def told(scene, frame):
    found, solution = find_stars(frame), solved(scene)
    hits = hits_of(found, solution)
    return zero_point(found, solution, hits, open_cells_of(hits, solution))


@pytest.fixture(scope="module")
def frames():
    scenes = {name: scene_of(name) for name in SKIES}
    return {name: (scene, render(scene)[0]) for name, scene in scenes.items()}


def test_planted_zero_points_come_back_within_their_errors(frames):
    pulls = {}
    for name, (scene, frame) in frames.items():
        point = told(scene, frame)
        true = 2.5 * np.log10(scene.zero_counts_per_s * scene.exposure_s)
        pulls[name] = (point.zero - true) / point.err
        assert point.err < 0.1, name
        assert point.patchy == 0, name
        # No light is lost toward the corners of this lens.
        corner = point.doubt[0] + point.doubt[2] + 2 * point.doubt[1]
        assert abs(point.slope + point.slope2) < 3 * np.sqrt(corner) + 1e-9, name
    assert max(abs(pull) for pull in pulls.values()) < 2.5, pulls
    assert sum(abs(pull) < 1 for pull in pulls.values()) >= 2, pulls


def test_stars_that_lost_their_core_as_a_hot_pixel_are_no_cloud():
    # Spots under 1.3 px wide: the brightest sample of a star is often alone.
    camera = plain_camera(2400, 1610, 2600.0)
    spots = lens_spots(camera, 6.0, 2.0, SHARP, grid=(3, 4), size_px=41)
    sky = (20.0, 40.0, 26.0)
    scene = replace(
        scene_of("short"), camera=camera, spots=spots, sky_counts=sky, smooth=True, seed=5
    )
    found = find_stars(render(scene)[0])
    assert found.hot_pixels > 1.5 * scene.hot_pixels
    hits = hits_of(found, solved(scene))
    point = zero_point(found, solved(scene), hits, open_cells_of(hits, solved(scene)))
    true = 2.5 * np.log10(scene.zero_counts_per_s * scene.exposure_s)
    assert point.patchy == 0
    assert abs(point.zero - true) < 2.5 * point.err < 0.3


def under_cloud(frame: Frame, most_mag: float, seed: int) -> tuple[Frame, float]:
    """Dim parts of a frame; return it and the mean of the loss."""
    rng = np.random.default_rng(seed)
    y, x = np.mgrid[: frame.height_px, : frame.width_px]
    waves = sum(
        np.sin(2 * np.pi * (x / length + slope * y / length) + rng.uniform(0, 6))
        for length, slope in ((700.0, 0.8), (900.0, -0.6), (500.0, 1.7))
    )
    loss = most_mag * np.clip(waves / 1.5, 0, 1)
    share = 10 ** (-0.4 * loss)
    light = (frame.samples - 512.0) * share + 180 * (1 - share)
    light += np.sqrt(120 * (1 - share)) * rng.standard_normal(share.shape)
    samples = np.clip(np.rint(light + 512), 0, 60000).astype(np.uint16)
    return replace(frame, samples=samples), float(np.mean(loss))


@pytest.mark.parametrize("most_mag", [0.5, 1.0, 4.0])
def test_cloud_in_patches_is_said_and_widens_the_error(frames, most_mag):
    scene, clear = frames["wide lens"]
    frame, _ = under_cloud(clear, most_mag, seed=4)
    point = told(scene, frame)
    assert point.patchy > 0.06
    assert abs(point.zero - 2.5 * np.log10(4e4 * 15.0)) < 2.5 * point.err
    night = measure_night(frame, find_stars(frame), solved(scene), 15.0)
    assert night.falloff is None
    assert night.zero_point_err == point.err
    words = (
        f"stars differ by {point.patchy:.2f} mag from place to place where they should not: "
        "cloud, haze or dew; zero point and sky brightness are as uncertain, and no loss of "
        "light toward the corners is given"
    )
    assert NightNote.PATCHY in night.notes
    assert words in night_note_words(night)


def test_a_frame_without_its_stars_in_most_parts_says_so(frames):
    scene, clear = frames["wide lens"]
    samples = clear.samples.copy()
    rng = np.random.default_rng(1)
    land = np.s_[350:, :]
    samples[land] = np.rint(rng.normal(600, 10, samples[land].shape)).astype(np.uint16)
    night = measure_night(
        replace(clear, samples=samples), find_stars(replace(clear, samples=samples)),
        solved(scene), 15.0,
    )  # fmt: skip
    assert night.open_sky < 0.5
    assert NightNote.LITTLE_OPEN_SKY in night.notes
    (words,) = (line for line in night_note_words(night) if "shows open sky" in line)
    assert words.startswith(f"only {100 * night.open_sky:.0f} % of the frame shows open sky, ")
