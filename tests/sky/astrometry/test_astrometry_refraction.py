"""Apparent directions against an outside library and a ray that was followed; and back again."""

from __future__ import annotations

from datetime import UTC, datetime

import erfa
import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from nightglass.almanac.horizontal import earth_velocity, horizontal, zenith_vector
from nightglass.almanac.place import place
from nightglass.scene.sky.airpath import ray_refraction_degrees
from nightglass.sky.astrometry.airless import apparent_at
from nightglass.sky.astrometry.camera import unit_vectors
from nightglass.sky.astrometry.refraction import (
    Apparent,
    air_density,
    altitude_degrees,
    catalogue_directions,
    lift_degrees,
    seen_directions,
)

SITES = ("52.1 N 4.4 E", "33.9 S 151.2 E", "70.0 N 20.0 E", "0.2 S 78.5 W")
NIGHT = datetime(2026, 7, 14, 23, 10, tzinfo=UTC)


def dates(at: datetime) -> tuple[float, float]:
    return erfa.dtf2d("UTC", at.year, at.month, at.day, at.hour, at.minute, at.second)


def test_the_lift_is_that_of_a_ray_through_standard_air():
    altitude = np.array([90.0, 75.0, 60.0, 45.0, 30.0, 20.0, 10.0, 5.0, 3.0])
    ray = ray_refraction_degrees(altitude, 1010.0, 10.0)
    off = (lift_degrees(altitude) - ray) * 3600
    assert np.abs(off[:7]).max() < 2.2
    assert np.abs(off[7:]).max() < 12
    # 34' at the horizon: U.S. Naval Observatory, as the source of skyfield.almanac quotes it.
    assert float(lift_degrees(0.0)) * 60 == pytest.approx(34, abs=1)


def test_the_lift_agrees_with_an_outside_library_away_from_the_horizon():
    # SOFA's refco: R = A tan z + B tan^3 z, of its own model of the air (pyerfa).
    a, b = erfa.refco(1010.0, 10.0, 0.0, 0.55)
    z = np.radians(np.array([5.0, 20.0, 45.0, 60.0, 70.0]))
    expected = np.degrees(a * np.tan(z) + b * np.tan(z) ** 3)
    assert np.abs(lift_degrees(90 - np.degrees(z)) - expected).max() * 3600 < 1.3


@pytest.mark.parametrize("site", SITES)
def test_directions_as_seen_agree_with_an_outside_library(site):
    here = place(site, "UTC")
    apparent = apparent_at(here, NIGHT)
    ra = np.linspace(0, 350, 36)
    vectors = unit_vectors(ra, np.linspace(-80, 80, 36))
    seen = seen_directions(vectors, apparent)
    altitude = altitude_degrees(seen, apparent)
    high = altitude > 12
    assert np.count_nonzero(high) > 8
    # Azimuth and zenith distance as observed, aberration and refraction in (SOFA's atco13). The
    # earth's rotation is behind atomic time as in that year, under 0.1 s: 1.5".
    aob, zob, *_ = erfa.atco13(
        np.radians(ra), np.radians(np.linspace(-80, 80, 36)), 0, 0, 0, 0, *dates(NIGHT), 0.0,
        np.radians(here.longitude_degrees), np.radians(here.latitude_degrees), 0.0, 0, 0,
        1010.0, 10.0, 0.0, 0.55,
    )  # fmt: skip
    assert np.abs(altitude - (90 - np.degrees(zob)))[high].max() * 3600 < 3
    plain, azimuth = horizontal(vectors, here, NIGHT)
    assert np.all(altitude[high] > plain[high])
    off = (azimuth - np.degrees(aob) + 180) % 360 - 180
    assert np.abs(off * np.sin(zob))[high].max() * 3600 < 3


def test_zenith_and_the_earths_motion_agree_with_an_outside_library():
    here = place("33.9 S 151.2 E", "UTC")
    terrestrial = erfa.utctai(*dates(NIGHT))
    terrestrial = erfa.taitt(*terrestrial)
    matrix = erfa.c2t06a(*terrestrial, *dates(NIGHT), 0, 0)
    up = unit_vectors(here.longitude_degrees, here.latitude_degrees)
    away = np.linalg.norm(zenith_vector(here, NIGHT) - matrix.T @ up)
    assert np.degrees(away) * 3600 < 2
    _, moving = erfa.epv00(*terrestrial)
    # Light crosses 173.1446 astronomical units a day.
    assert earth_velocity(NIGHT) == pytest.approx(moving["v"] / 173.1446, abs=2e-6)


@settings(max_examples=50, deadline=None)
@given(st.floats(-70, 89.9), st.floats(0, 360), st.floats(0.6, 1.1))
def test_catalogue_directions_undo_the_air_at_any_altitude(altitude, azimuth, strength):
    zenith = unit_vectors(211.0, -35.0)
    air = Apparent(tuple(zenith), strength, (5e-5, 6e-5, -4e-5))
    level = unit_vectors(121.0, 0.0)
    side = np.cross(zenith, level)
    turn, up = np.radians(azimuth), np.radians(altitude)
    vector = np.cos(up) * (np.cos(turn) * level + np.sin(turn) * side) + np.sin(up) * zenith
    back = catalogue_directions(seen_directions(vector, air), air)
    assert np.linalg.norm(back - vector) < 1e-6


def test_the_density_falls_as_the_standard_atmosphere_has_it():
    # ISO 2533:1975, 2.1 and table 4, as the source of the library atmospheric lists them: 288.15 K
    # at the sea, 6.5 K less per km, g = 9.80665 m/s^2, R = 287.05287 J / (kg K). The density falls
    # with the pressure, (T / T0)^(g / (lapse R)), and rises with T0 / T.
    power = 9.80665 / (0.0065 * 287.05287) - 1
    heights = [0.0, 1000.0, 3000.0, 11_000.0]
    expected = [(1 - 0.0065 * h / 288.15) ** power for h in heights]
    assert [air_density(h) for h in heights] == pytest.approx(expected, rel=1e-5)
    # 1.1116 and 0.3639 kg/m^3 at 1,000 and 11,000 m: documentation of an aerospace toolbox
    # (atmosisa); 1.225 at the sea.
    assert 1.225 * air_density(1000.0) == pytest.approx(1.1116, abs=6e-5)
    assert 1.225 * air_density(11_000.0) == pytest.approx(0.3639, abs=6e-5)
