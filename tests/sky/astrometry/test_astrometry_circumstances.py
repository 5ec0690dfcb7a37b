"""What place and clock say of a frame through the whole chain: stars found, solved, air out."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, datetime, timedelta, timezone

import erfa
import numpy as np
import pytest

from nightglass.almanac.place import Place, place
from nightglass.frame.record import Metadata
from nightglass.scene.sky.starfield import Aberrations, Scene, lens_spots, render, star_paths
from nightglass.show.sky.words.place import (
    AIR_REASONS,
    air_reason_words,
    place_data,
    place_words,
)
from nightglass.sky.astrometry.camera import Camera, vectors_at
from nightglass.sky.astrometry.circumstances import circumstances_of
from nightglass.sky.astrometry.codes import AirReason
from nightglass.sky.astrometry.moment import sky_moment
from nightglass.sky.astrometry.refine import Solution
from nightglass.sky.observe import observe
from nightglass.sky.zones.zone import expected_trails

CAMERA = Camera(2400, 1600, 14 / 0.015, 1205.0, 795.0, -0.02, 0.004)
HERE = place("30.2 S 21.4 E", "Africa/Johannesburg")
NIGHT = datetime(2026, 5, 14, 20, 0, tzinfo=UTC)


def rotation_here(altitude_degrees: float, azimuth_degrees: float) -> tuple[np.ndarray, ...]:
    """Level camera, zenith and the earth's motion, by SOFA (pyerfa)."""
    utc = erfa.dtf2d("UTC", 2026, 5, 14, 20, 0, 0)
    terrestrial = erfa.taitt(*erfa.utctai(*utc))
    matrix = erfa.c2t06a(*terrestrial, *utc, 0, 0)
    lon, lat = np.radians([HERE.longitude_degrees, HERE.latitude_degrees])
    up = np.array([np.cos(lat) * np.cos(lon), np.cos(lat) * np.sin(lon), np.sin(lat)])
    east = np.array([-np.sin(lon), np.cos(lon), 0.0])
    north = np.cross(up, east)
    h, a = np.radians([altitude_degrees, azimuth_degrees])
    level = np.cos(a) * north + np.sin(a) * east
    ahead, above = np.cos(h) * level + np.sin(h) * up, np.cos(h) * up - np.sin(h) * level
    _, moving = erfa.epv00(*terrestrial)
    rows = np.stack([np.cross(ahead, above), -above, ahead])
    return rows @ matrix, up @ matrix, moving["v"] / 173.1446


@pytest.fixture(scope="module")
def observed():
    rotation, zenith, velocity = rotation_here(20.0, 205.0)
    spots = lens_spots(CAMERA, 15.0, 2.8, Aberrations(coma_um=0.0), grid=(2, 3), size_px=21)
    scene = Scene(
        CAMERA, rotation, spots, exposure_s=1.0, faintest_g=7.5, zero_counts_per_s=4e6, land=0.25,
        hot_pixels=300, zenith=zenith, air=(1013.25, 15.0), satellites=0, velocity=velocity,
        metadata=Metadata(taken_at=NIGHT),
    )  # fmt: skip
    frame, _ = render(scene)
    return observe(frame, place=HERE), observe(frame)


def test_a_rendered_frame_over_land_gives_its_lens_free_of_the_air(observed):
    seen, _ = observed
    assert isinstance(seen.solution, Solution)
    assert seen.circumstances is not None
    assert seen.circumstances.solution is seen.solution
    assert seen.circumstances.air.taken_out, seen.circumstances.air.reason
    found = seen.solution.camera
    # A perfect lens has no coma: what is left is the fit's own error.
    assert abs(found.focal_px - CAMERA.focal_px) < 4 * seen.solution.fit.errors[0]
    assert abs(found.centre_y_px - CAMERA.centre_y_px) < 4 * seen.solution.fit.errors[2]
    assert abs(found.k1 - CAMERA.k1) < 4 * seen.solution.fit.errors[3]
    # The aim is told among the catalogue's stars, and its height without air.
    moment = seen.circumstances.moment
    assert moment is not None
    # The middle of the frame lies 5.5 px left of the optical centre and 4.5 px below it.
    left, down = np.degrees(np.array([5.5, 4.5]) / CAMERA.focal_px)
    altitude = 20.0 - down
    assert moment.aim_altitude_degrees == pytest.approx(altitude - 2.6 / 60, abs=0.02)
    turned = left / np.cos(np.radians(altitude))
    assert moment.aim_azimuth_degrees == pytest.approx(205.0 - turned, abs=0.02)
    again = sky_moment(seen.solution, seen.found.stars, HERE, NIGHT)
    assert again.aim_altitude_degrees == pytest.approx(moment.aim_altitude_degrees, abs=0.02)
    told = place_words(seen.circumstances)[-1]
    assert told.startswith("air: taken out of the camera (standard air times ")
    assert place_data(seen.circumstances)["air"]["taken_out"] is True


def test_without_the_place_the_same_frame_has_the_air_in_its_camera(observed):
    seen, left = observed
    assert isinstance(seen.solution, Solution)
    plain = circumstances_of(seen.found.stars, seen.solution, seen.frame.metadata, None)
    assert not plain.air.taken_out
    assert plain.moment is None
    assert isinstance(left.solution, Solution)
    assert left.solution.camera.apparent is None
    assert left.solution.camera.focal_px < CAMERA.focal_px * (1 - 0.0002)
    assert left.solution.ra_degrees == pytest.approx(seen.solution.ra_degrees, abs=0.05)
    assert left.solution.dec_degrees == pytest.approx(seen.solution.dec_degrees, abs=0.05)
    assert left.solution.roll_degrees == pytest.approx(seen.solution.roll_degrees, abs=0.1)


def test_trails_near_the_horizon_are_those_that_the_air_leaves(observed):
    seen, left = observed
    rotation, zenith, velocity = rotation_here(20.0, 205.0)
    spots = lens_spots(CAMERA, 15.0, 2.8, Aberrations(), grid=(2, 3), size_px=21)
    scene = Scene(CAMERA, rotation, spots, exposure_s=60.0, zenith=zenith, velocity=velocity)
    # Down from the middle of the frame: 5 degrees over the horizon and lower.
    x, y = np.array([400.0, 1200.0, 2000.0]), np.array([1060.0, 1090.0, 1060.0])
    vectors = vectors_at(seen.solution.camera, seen.solution.rotation, x, y)
    px, py = star_paths(scene, vectors, np.array([-0.5, 0.0, 0.5]))
    true = np.stack([px[:, 2] - px[:, 0], py[:, 2] - py[:, 0]], axis=1)
    found = expected_trails(seen.solution, x, y, 60.0, 2026.4)
    plain = expected_trails(left.solution, x, y, 60.0, 2026.4)
    assert np.abs(found - true).max() < 0.006
    # The air squeezes the last degrees: without it their upward motion is 3 % too large.
    assert np.abs(plain - true).max() > 2 * np.abs(found - true).max()


@pytest.mark.parametrize(
    ("metadata", "where", "reason"),
    [
        (Metadata(), HERE, AirReason.PLACE_OR_TIME_UNKNOWN),
        (Metadata(taken_at=NIGHT), None, AirReason.PLACE_OR_TIME_UNKNOWN),
        (
            Metadata(taken_at=NIGHT + timedelta(hours=14)),
            HERE,
            AirReason.CLOCK_REFUTED,
        ),
        (
            Metadata(taken_at=NIGHT.replace(year=2099)),
            HERE,
            AirReason.PLACE_OR_TIME_UNKNOWN,
        ),
        (
            Metadata(taken_at=NIGHT),
            replace(HERE, latitude_degrees=62.0),
            AirReason.CLOCK_REFUTED,
        ),
    ],
)
def test_the_air_stays_where_place_or_clock_can_not_be_right(observed, metadata, where, reason):
    seen, left = observed
    assert isinstance(left.solution, Solution)
    circumstances = circumstances_of(seen.found.stars, left.solution, metadata, where)
    assert circumstances.solution is left.solution
    assert circumstances.air.reason is reason
    words = f"air: not taken out of the camera, {AIR_REASONS[reason]}; "
    assert place_words(circumstances)[-1].startswith(words)


def test_a_clock_set_to_summer_time_is_told_in_words(observed):
    seen, left = observed
    assert isinstance(left.solution, Solution)
    at = NIGHT.astimezone(timezone(timedelta(hours=1))).replace(tzinfo=UTC)
    circumstances = circumstances_of(seen.found.stars, left.solution, Metadata(taken_at=at), HERE)
    assert not circumstances.air.taken_out
    assert circumstances.solution is left.solution
    assert "check clock, time zone and place" in air_reason_words(circumstances.air)


def test_a_place_given_as_a_record_is_the_one_that_is_told(observed):
    seen, _ = observed
    assert isinstance(seen.circumstances.place, Place)
    assert seen.circumstances.place.name == "30.2 S 21.4 E"
