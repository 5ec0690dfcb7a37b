"""Fisheyes to 180 degrees: simulated lists of stars, and a real frame of the whole sky."""

from __future__ import annotations

import bz2
import math
from dataclasses import replace

import ephem
import numpy as np
import pytest
from real_files import real_file

from nightglass.almanac.horizontal import zenith_vector
from nightglass.almanac.place import Place
from nightglass.frame.open import open_frame
from nightglass.sky.astrometry.camera import (
    Camera,
    catalogue_rotation,
    look_at,
    places_px,
    unit_vectors,
    vectors_at,
)
from nightglass.sky.astrometry.identify import Window, identify
from nightglass.sky.astrometry.moment import sky_moment
from nightglass.sky.astrometry.refine import Solution, catalogue_vectors
from nightglass.sky.astrometry.solve import pattern_stars, solve
from nightglass.sky.stars.find import COLUMNS, FoundStars, find_stars

pytestmark = pytest.mark.slow

# Stars that everybody knows, where the package ephem has them (Hipparcos catalogue, ESA SP-1200):
# heights from 11 degrees (Shaula) to 85. Epoch 2000; the fastest has moved 0.02 degrees since.
NAMES = "Vega Arcturus Altair Deneb Antares Alioth Enif Nunki Shaula Scheat Dubhe Alphecca"
STARS = [ephem.star(name) for name in NAMES.split()]
BRIGHT = np.degrees([(float(star._ra), float(star._dec)) for star in STARS])


def in_circle(camera: Camera, rotation, half_degrees: float, seed: int) -> FoundStars:
    """The list of found stars of an image circle, with air, errors, gaps and false ones."""
    rng = np.random.default_rng(seed)
    vectors, magnitude = catalogue_vectors()
    cosine = vectors @ rotation[2]
    near = np.flatnonzero((cosine > math.cos(math.radians(half_degrees))) & (magnitude < 6))
    x, y = places_px(camera, rotation, vectors[near])
    # A quarter of a magnitude per airmass.
    seen = magnitude[near] + 0.25 / np.maximum(cosine[near], 0.05) + rng.normal(0, 0.25, near.size)
    inside = (x > 0) & (x < camera.width_px) & (y > 0) & (y < camera.height_px) & (seen < 6)
    inside &= rng.uniform(size=near.size) > 0.1
    false = 8
    x = np.append(x[inside] + rng.normal(0, 0.2, inside.sum()), rng.uniform(0, 1000, false))
    y = np.append(y[inside] + rng.normal(0, 0.2, inside.sum()), rng.uniform(700, 900, false))
    snr = np.append(6 * 10 ** (0.4 * (6 - seen[inside])), 10 ** rng.uniform(1, 2.5, false))
    columns = {name: np.zeros(x.size) for name in COLUMNS}
    columns |= {"x_px": x, "y_px": y, "snr": snr, "flux_counts": snr}
    columns |= {"spread_xx": np.ones(x.size), "spread_yy": np.ones(x.size)}
    columns |= {"x_px_err": 0.1 + 1 / snr, "y_px_err": 0.1 + 1 / snr}
    return FoundStars(**columns).chosen(np.argsort(-snr))


@pytest.mark.parametrize(
    ("kind", "share"), [("equidistant", 1.571), ("equisolid", 1.414), ("stereographic", 2.0)]
)
def test_a_whole_sky_of_each_kind_is_solved_to_its_rim(kind, share):
    # The circle of 180 degrees is 860 px wide in a frame of 1300 x 900, off its middle.
    camera = Camera(1300, 900, 430 / share, 661.0, 440.0, -0.03, 0.01, kind)
    rotation = look_at(200.0, 35.0, 70.0)
    stars = in_circle(camera, rotation, 88.0, 2)
    solved = solve(stars, 1300, 900)
    assert isinstance(solved, Solution)
    rim = np.radians(np.arange(0, 360, 20))
    x, y = 661 + 400 * np.cos(rim), 440 + 400 * np.sin(rim)
    x, y = x[y < 890], y[y < 890]
    true = vectors_at(camera, rotation, x, y)
    got = vectors_at(solved.camera, solved.rotation, x, y)
    assert np.degrees(np.arccos(np.clip(np.sum(true * got, axis=1), -1, 1))).max() < 0.2


@pytest.mark.parametrize("kind", ["equisolid", "stereographic"])
def test_a_window_beside_the_middle_tells_aim_and_scale_of_every_kind(kind):
    camera = Camera(1300, 900, 320.0, 649.5, 449.5, 0.0, 0.0, kind)
    rotation = look_at(80.0, 10.0, 20.0)
    stars = in_circle(camera, rotation, 88.0, 4)
    guess = Camera(1300, 900, 350.0, 649.5, 449.5, 0.0, 0.0, "equidistant")
    places = [(649.5, 449.5), (649.5, 250.0), (420.0, 449.5), (880.0, 449.5)]
    found = [
        first
        for x, y in places
        for first in identify(stars, pattern_stars(stars), guess, 13, Window(x, y, 60.0))
        if first.camera.projection == kind
    ]
    assert len(found) >= 2
    for first in found:
        assert first.camera.focal_px == pytest.approx(320.0, rel=0.05)
        off = np.degrees(np.arccos(np.clip(first.rotation[2] @ rotation[2], -1, 1)))
        assert off < 3


def test_a_real_frame_of_the_whole_sky_is_solved_to_its_rim():
    frame = open_frame(bz2.decompress(real_file("real-sky-wide", "allsky.fits.bz2").read_bytes()))
    # 16 bits in the file: as such the loops that every raw frame compiles are used.
    stars = find_stars(replace(frame, samples=frame.samples.astype(np.uint16))).stars
    solved = solve(stars, frame.width_px, frame.height_px)
    assert isinstance(solved, Solution)
    assert len(solved.match.found) > 400
    x, y = places_px(solved.camera, solved.rotation, unit_vectors(*BRIGHT.T))
    strong = stars.snr > 50
    away = np.hypot(stars.x_px[strong] - x[:, None], stars.y_px[strong] - y[:, None])
    assert away.min(axis=1).max() < 3.0
    assert np.median(away.min(axis=1)) < 1.0
    # The camera stands on the ground and looks up.
    site = Place("site", 34.4773, -111.4332, 2361.0)
    at = frame.metadata.taken_at
    ahead = catalogue_rotation(solved.camera, solved.rotation)[2]
    assert math.degrees(math.acos(float(ahead @ zenith_vector(site, at)))) < 4
    assert sky_moment(solved, stars, site, at).clock_off_minutes == 0
