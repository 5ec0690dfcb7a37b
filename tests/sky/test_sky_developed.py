"""Developed pictures of the night: aim, camera and motion are told, sizes marked, light not told.

The simulated ones are a mosaic made into colours by bilinear means, brightened by the curve of
IEC 61966-2-1 (sRGB) and written as a camera or a converter does.
"""

from __future__ import annotations

import json
import math

import numpy as np
import pytest
import tifffile
from PIL import Image
from real_files import real_file
from scipy.ndimage import convolve

from nightglass.frame.one_plane import one_plane
from nightglass.frame.open import open_frame
from nightglass.scene.sky.starfield import Aberrations, Scene, lens_spots, render
from nightglass.show.sky.frame_text import as_data, in_words
from nightglass.show.sky.sheet import sheet_of
from nightglass.show.sky.words.developed import DEVELOPED
from nightglass.sky.astrometry.camera import Camera, look_at, sky_degrees, vectors_at
from nightglass.sky.astrometry.refine import Solution
from nightglass.sky.astrometry.solve import solve
from nightglass.sky.developed import DevelopedCode
from nightglass.sky.observe import observe
from nightglass.sky.stars.find import find_stars

pytestmark = pytest.mark.slow

CAMERA = Camera(1050, 700, 1015.0, 526.0, 347.0, -0.02, 0.0)
MIDDLE = 524.5, 349.5
ROTATION = look_at(310.0, 42.0, 80.0)


@pytest.fixture(scope="module")
def developed():
    """A picture of three planes, 0 to 1, of a simulated raw frame."""
    spots = lens_spots(CAMERA, 6.0, 2.0, Aberrations(coma_um=1.0), grid=(1, 1), size_px=21)
    # As many hot pixels per area as 2,000 in a frame of 24 Mpx.
    scene = Scene(
        CAMERA,
        ROTATION,
        spots,
        zero_counts_per_s=2e5,
        exposure_s=5.0,
        hot_pixels=60,
        faintest_g=7.5,
    )
    frame, _ = render(scene)
    light = (frame.samples - frame.black[0, 0]) / (frame.clipping[0, 0] - frame.black[0, 0])
    colour = np.tile(frame.pattern, (350, 525))
    tent = np.outer((0.5, 1, 0.5), (0.5, 1, 0.5))
    planes = [
        convolve(np.where(colour == k, light, 0.0), tent)
        / convolve((colour == k).astype(float), tent)
        for k in range(3)
    ]
    # White balance, four times the light, and the curve.
    linear = np.clip(4 * np.stack(planes, axis=2) * (2.0, 1.0, 1.6), 0, 1)
    return np.where(linear <= 0.0031308, 12.92 * linear, 1.055 * linear ** (1 / 2.4) - 0.055)


def write(picture, path):
    if path.suffix == ".tif":
        tifffile.imwrite(path, np.round(picture * 65535).astype(np.uint16), photometric="rgb")
    else:
        eight = Image.fromarray(np.round(picture * 255).astype(np.uint8))
        eight.save(path, **({"quality": 92} if path.suffix == ".jpg" else {}))
    return path


def is_true(solved):
    """Check aim and focal length of a solution against the scene."""
    assert isinstance(solved, Solution)
    ra, dec = sky_degrees(vectors_at(CAMERA, ROTATION, *MIDDLE))
    assert abs(solved.dec_degrees - dec) < 0.02
    assert abs(solved.ra_degrees - ra) * math.cos(math.radians(float(dec))) < 0.02
    assert solved.camera.focal_px == pytest.approx(CAMERA.focal_px, rel=0.003)


@pytest.mark.parametrize("name", ["a.tif", "c.jpg"])
def test_tiff_and_jpeg_of_a_picture_solve_alike(developed, tmp_path, name):
    frame = one_plane(open_frame(write(developed, tmp_path / name)))
    is_true(solve(find_stars(frame).stars, frame.width_px, frame.height_px))


@pytest.fixture(scope="module")
def seen(developed, tmp_path_factory):
    path = write(developed, tmp_path_factory.mktemp("developed") / "night.png")
    return observe(open_frame(path), exposure_s=5.0)


def test_aim_camera_and_motion_are_told_and_nothing_of_the_light(seen):
    is_true(seen.solution)
    assert seen.developed == tuple(DevelopedCode)
    assert not seen.motion.moved
    assert any(zone.length_px is not None for zone in seen.motion.zones)
    night = seen.night
    assert night.limiting_mag is not None
    unknown = (
        night.zero_point_mag, night.sky_mag_arcsec2, night.falloff, night.gain_e_per_count,
        night.read_noise_counts, night.sky_noise_counts,
    )  # fmt: skip
    assert unknown == (None,) * 6


def test_codes_stand_in_the_data_and_words_in_the_text(seen):
    text = "\n".join(in_words(seen, "night.png"))
    assert "sizes are not comparable with those of raw frames" in text
    assert "light is not known (zero point, sky, light lost toward the corners, noise)" in text
    assert "noise set by: not known" in text
    assert "light lost:" not in text
    assert "zero point: G" not in text
    codes = ["sizes_not_comparable", "light_not_known"]
    assert json.loads(json.dumps(as_data(seen, "night.png")["developed"])) == codes
    assert sorted(codes) == sorted(code.value for code in DEVELOPED)
    assert any("not comparable" in note for note in sheet_of(seen).notes)


def test_a_real_developed_frame_agrees_with_an_independent_solver():
    """RA 18.00, Dec +63.43, 25.58 degrees wide by a general star solver (README.md beside it).

    That solver knows no distortion; this lens has 2.8 % at the corner, so that its width is that
    of a mean scale: a fit of the same stars without distortion (scipy) gives 25.44.
    """
    frame = one_plane(open_frame(real_file("real-sky-wide", "developed-25deg.png")))
    solved = solve(find_stars(frame).stars, frame.width_px, frame.height_px)
    assert isinstance(solved, Solution)
    assert abs(solved.ra_degrees - 18.00) * math.cos(math.radians(63.43)) < 0.1
    assert abs(solved.dec_degrees - 63.43) < 0.1
    assert solved.width_degrees == pytest.approx(25.58, rel=0.015)
    # 50 mm on a sensor 22.3 mm wide.
    assert solved.camera.focal_px * 22.3 / 1000 == pytest.approx(50, rel=0.03)
