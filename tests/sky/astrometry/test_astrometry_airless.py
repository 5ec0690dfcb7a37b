"""The air taken out of a camera: planted lenses, sites, weather and clocks, north and south.

The sky is made by others: stars are lifted along a followed ray (scene.airpath) of the weather of
each night, and zenith and aberration come from SOFA (pyerfa).
"""

from __future__ import annotations

import math
import re
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from functools import lru_cache

import erfa
import numpy as np
import pytest

from nightglass.almanac.place import Place
from nightglass.scene.sky.airpath import ray_lifted
from nightglass.show.sky.words.place import air_reason_words
from nightglass.sky.astrometry.airless import AirTaken, apparent_at, take_air_out
from nightglass.sky.astrometry.camera import (
    Camera,
    catalogue_rotation,
    places_px,
    plain_camera,
    roll_degrees,
    vectors_at,
    without_air,
)
from nightglass.sky.astrometry.codes import AirReason
from nightglass.sky.astrometry.matching import Match, fit_camera
from nightglass.sky.astrometry.refine import Solution, catalogue_vectors
from nightglass.sky.astrometry.solve import pattern_stars, solve
from nightglass.sky.stars.find import COLUMNS, FoundStars

pytestmark = pytest.mark.slow

WIDE, HIGH = 6000, 4000
FAINTEST = 6.2


@dataclass(frozen=True)
class Night:
    """One simulated frame of stars near the horizon, and what was planted."""

    camera: Camera
    rotation: np.ndarray
    site: Place
    at: datetime
    stars: FoundStars
    solution: Solution
    zenith: np.ndarray

    def taken(self, clock_slow_minutes: float) -> tuple[Solution, AirTaken]:
        """The answer by a clock that is so slow."""
        said = apparent_at(self.site, self.at - timedelta(minutes=clock_slow_minutes))
        return take_air_out(self.stars, pattern_stars(self.stars), self.solution, said, 2026.5)

    def pulls(self, solution: Solution) -> np.ndarray:
        return (values(solution.camera) - values(self.camera)) / solution.fit.errors


def values(c: Camera) -> np.ndarray:
    return np.array([c.focal_px, c.centre_x_px, c.centre_y_px, c.k1, c.k2])


def sofa(site: Place, at: datetime) -> tuple[np.ndarray, np.ndarray]:
    """Zenith (ICRS) and velocity of the earth over that of light."""
    utc = erfa.dtf2d("UTC", at.year, at.month, at.day, at.hour, at.minute, at.second)
    terrestrial = erfa.taitt(*erfa.utctai(*utc))
    lon, lat = math.radians(site.longitude_degrees), math.radians(site.latitude_degrees)
    up = [math.cos(lat) * math.cos(lon), math.cos(lat) * math.sin(lon), math.sin(lat)]
    _, moving = erfa.epv00(*terrestrial)
    return erfa.c2t06a(*terrestrial, *utc, 0, 0).T @ np.array(up), moving["v"] / 173.1446


@lru_cache(maxsize=64)
def night(
    seed: int,
    south: bool = False,
    land: bool = True,
    altitude: tuple[float, float] = (15.0, 25.0),
    without_hint: bool = False,
) -> Night:
    rng = np.random.default_rng(7000 + seed)
    latitude = rng.uniform(5, 65) * (-1 if south else 1)
    height_m = float(rng.choice([0, 400, 2200]))
    site = Place("planted", latitude, rng.uniform(-180, 180), height_m)
    at = datetime(2026, 1, 1, tzinfo=UTC) + timedelta(days=rng.uniform(0, 365))
    zenith, velocity = sofa(site, at)
    rotation = aimed(zenith, rng, altitude)
    camera = Camera(
        WIDE, HIGH, rng.uniform(14, 24) / 0.006, 2999.5 + rng.normal(0, 15),
        1999.5 + rng.normal(0, 15), rng.normal(0, 0.025), rng.normal(0, 0.008),
    )  # fmt: skip
    # Weather about the standard at this height (test_astrometry_refraction has its constants).
    pressure = 1013.25 * (1 - 2.25577e-5 * height_m) ** 5.25588 * rng.normal(1, 0.01)
    weather = round(pressure), round(15 - 0.0065 * height_m + rng.normal(0, 10))
    vectors, magnitude = catalogue_vectors()
    bright = magnitude < FAINTEST
    moved = vectors[bright] + velocity
    moved /= np.linalg.norm(moved, axis=1)[:, None]
    lifted = ray_lifted(moved, zenith, *weather)
    x, y = places_px(camera, rotation, lifted)
    shown = np.isfinite(x) & (x > 0) & (x < WIDE - 1) & (y > 0) & (y < HIGH - 1)
    if land:
        # A hill over a third of the frame, on one side.
        shown &= (x < rng.uniform(2200, 4000)) | (y < rng.uniform(1200, 2600))
    index = np.flatnonzero(shown)
    snr = 12 * 10 ** (0.4 * (FAINTEST - magnitude[bright][index]))
    columns = {name: np.zeros(snr.size) for name in COLUMNS}
    columns |= {"snr": snr, "spread_xx": np.ones(snr.size), "spread_yy": np.ones(snr.size)}
    err = np.hypot(0.1, 1 / snr)
    for name, place in (("x_px", x), ("y_px", y)):
        columns[name] = place[index] + rng.normal(0, 1, snr.size) * err
        columns[f"{name}_err"] = err
    stars = FoundStars(**columns)
    if without_hint:
        solution = solve(stars, WIDE, HIGH)
        assert isinstance(solution, Solution)
    else:
        solution = fitted(camera, rotation, stars, np.flatnonzero(bright)[index], vectors)
    return Night(camera, rotation, site, at, stars, solution, zenith)


def aimed(zenith: np.ndarray, rng: np.random.Generator, altitude: tuple[float, float]):
    """A camera nearly level, aimed somewhere at an altitude."""
    north = np.cross(zenith, np.cross([0.0, 0.0, 1.0], zenith))
    north /= np.linalg.norm(north)
    h, a = math.radians(rng.uniform(*altitude)), rng.uniform(0, 2 * math.pi)
    level = math.cos(a) * north + math.sin(a) * np.cross(north, zenith)
    ahead = math.cos(h) * level + math.sin(h) * zenith
    up = math.cos(h) * zenith - math.sin(h) * level
    lean = rng.normal(0, 0.05)
    up = math.cos(lean) * up + math.sin(lean) * np.cross(ahead, up)
    return np.stack([np.cross(ahead, up), -up, ahead])


def fitted(camera, rotation, stars, catalogue, vectors) -> Solution:
    """What a solution without air is: the same camera model fitted to catalogue places."""
    xy = np.column_stack([stars.x_px, stars.y_px])
    start = plain_camera(WIDE, HIGH, camera.focal_px)
    found = np.arange(len(xy))
    for _ in range(3):
        chosen = vectors[catalogue[found]]
        fit = fit_camera(start, rotation, chosen, xy[found], stars.x_px_err[found])
        x, y = places_px(fit.camera, fit.rotation, vectors[catalogue])
        # What the lowest stars miss by is no match to a solver.
        found = np.flatnonzero(np.hypot(x - xy[:, 0], y - xy[:, 1]) < max(2.0, 4 * fit.rms_px))
        start, rotation = fit.camera, fit.rotation
    pairs = Match(found, catalogue[found], np.zeros(found.size))
    return Solution(fit.camera, fit.rotation, fit, pairs, fit.rms_px, -300.0, True)


def test_the_lens_is_found_free_of_the_air_and_its_errors_are_honest():
    pulls, before, turned = [], [], []
    rng = np.random.default_rng(3)
    for seed in range(32):
        frame = night(seed, south=seed % 2 == 1, land=seed % 3 > 0)
        solution, air = frame.taken(clock := rng.normal(0, 3))
        assert air.taken_out, (seed, air.reason)
        pulls.append(frame.pulls(solution))
        before.append(frame.pulls(frame.solution))
        turned.append((air.clock_minutes - clock) / air.clock_minutes_err)
    pulls = np.array(pulls)
    # Of 32: median 0.2 by chance alone; 58 to 78 % within 1, give or take 8.
    assert np.abs(np.median(pulls, axis=0)).max() < 0.6
    assert 0.55 < np.mean(np.abs(pulls) < 1) < 0.82
    assert np.mean(np.abs(pulls) > 2) < 0.09
    assert np.abs(pulls).max() < 4.5
    assert np.mean(np.abs(turned) < 2) > 0.85
    # Without place and time focal length and centre are off, far over the errors of the fit.
    assert np.median(np.abs(np.array(before)[:, [0, 2]])) > 8


@pytest.mark.parametrize("south", [False, True])
def test_without_a_place_the_air_is_in_the_error_of_the_focal_length(south):
    for seed in range(40, 43):
        frame = night(seed, south=south)
        short = 1 - frame.solution.camera.focal_px / frame.camera.focal_px
        assert 0.0002 < short < 0.0013
        off = abs(frame.solution.camera.focal_px - frame.camera.focal_px)
        assert off < 2 * frame.solution.focal_err_px
        taken, _ = frame.taken(0.0)
        assert taken.focal_err_px < 0.7 * frame.solution.focal_err_px


@pytest.mark.parametrize("south", [False, True])
def test_a_clock_ten_minutes_off_costs_nothing_and_is_seen(south):
    for seed in range(50, 53):
        frame = night(seed, south=south)
        solution, air = frame.taken(10.0)
        assert air.taken_out
        assert np.abs(frame.pulls(solution)).max() < 4
        assert air.clock_minutes == pytest.approx(10.0, abs=4 * air.clock_minutes_err)


@pytest.mark.parametrize("clock_minutes", [180.0, -180.0, 60.0])
def test_a_clock_hours_off_is_told_and_spoils_nothing(clock_minutes):
    for seed in range(60, 63):
        frame = night(seed, south=seed % 2 == 0)
        solution, air = frame.taken(clock_minutes)
        assert solution is frame.solution
        assert not air.taken_out
        told = air_reason_words(air)
        assert "check clock" in told or "below the horizon" in told


@pytest.mark.parametrize(("clock_minutes", "way"), [(60.0, "slow"), (-120.0, "fast")])
def test_the_wrong_hour_is_read_off_the_stars_near_the_horizon(clock_minutes, way):
    for seed in range(70, 73):
        _, air = night(seed, land=False).taken(clock_minutes)
        told = re.fullmatch(
            "the stars do not fit the air over this place at this time, better if the clock is "
            f"(\\d+) ± (\\d+) minutes {way}: check clock, time zone and place; a lens out of "
            "centre can look the same",
            air_reason_words(air),
        )
        assert told is not None, air.reason
        assert air.reason is AirReason.ANOTHER_CLOCK_FITS
        minutes, err = (float(text) for text in told.groups())
        assert minutes == pytest.approx(abs(clock_minutes), abs=3 * err)


def test_the_other_side_of_the_earth_is_no_place_for_these_stars():
    frame = night(71)
    site = frame.site
    there = Place("there", -site.latitude_degrees, site.longitude_degrees + 180)
    said = apparent_at(there, frame.at)
    solution, air = take_air_out(
        frame.stars, pattern_stars(frame.stars), frame.solution, said, 2026.5
    )
    assert solution is frame.solution
    assert air.reason is AirReason.STARS_BELOW_HORIZON
    assert 0.5 * air.stars < air.stars_below <= air.stars
    assert air_reason_words(air) == (
        f"by place and clock {air.stars_below} of the frame's {air.stars} stars stood below the "
        "horizon"
    )


def test_a_height_that_nobody_gave_is_asked_for():
    frame = next(f for f in map(night, range(80, 120)) if f.site.elevation_m > 2000)
    low = Place("low", frame.site.latitude_degrees, frame.site.longitude_degrees)
    said = apparent_at(low, frame.at)
    _, air = take_air_out(frame.stars, pattern_stars(frame.stars), frame.solution, said, 2026.5)
    assert air.strength == pytest.approx(0.8, abs=0.09)
    assert air.taken_out or air_reason_words(air).endswith(
        "check clock, time zone and place, and the place's height; a lens out of centre can look "
        "the same"
    )


def test_aim_and_roll_are_catalogue_directions_with_the_air_and_without():
    frame = night(72, without_hint=True)
    taken, air = frame.taken(0.0)
    assert air.taken_out
    # The frame's corners look at the same stars, to a pixel, whether or not the air is out.
    for x, y in ((0, 0), (WIDE - 1, 0), (2999.5, 1999.5)):
        one = vectors_at(frame.solution.camera, frame.solution.rotation, x, y)
        other = vectors_at(taken.camera, taken.rotation, x, y)
        assert np.linalg.norm(one - other) * frame.camera.focal_px < 2.5
    assert taken.ra_degrees == pytest.approx(frame.solution.ra_degrees, abs=0.03)
    assert taken.dec_degrees == pytest.approx(frame.solution.dec_degrees, abs=0.03)
    # What was planted is the direction as seen; the stars there stand lower without air.
    lower = catalogue_rotation(taken.camera, taken.rotation)[2]
    assert (frame.rotation[2] - lower) @ frame.zenith > 0.0003
    roll = roll_degrees(taken.rotation) - taken.roll_degrees
    assert abs((roll + 180) % 360 - 180) < 0.2
    assert without_air(taken.camera).apparent is None
