"""The ray through a layered atmosphere against an outside library and an almanac's table."""

from __future__ import annotations

import erfa
import numpy as np
import pytest

from nightglass.scene.sky.airpath import ray_lifted, ray_refraction_degrees, refractivity
from nightglass.sky.astrometry.camera import unit_vectors


@pytest.mark.parametrize(("pressure_hpa", "celsius"), [(1010.0, 10.0), (1013.25, 15.0), (700, -5)])
def test_away_from_the_horizon_it_agrees_with_an_outside_library(pressure_hpa, celsius):
    # SOFA's refco (pyerfa), whose own two terms are good to 0.1" down to 15 degrees.
    a, b = erfa.refco(pressure_hpa, celsius, 0.0, 0.55)
    z = np.radians(np.array([1.0, 30.0, 45.0, 60.0, 75.0]))
    expected = np.degrees(a * np.tan(z) + b * np.tan(z) ** 3)
    found = ray_refraction_degrees(90 - np.degrees(z), pressure_hpa, celsius)
    assert found * 3600 == pytest.approx(expected * 3600, abs=0.15)


def test_down_to_the_horizon_it_is_the_almanacs_table():
    # Refraction at 1010 hPa and 10 °C [minutes of arc], as almanacs for navigators print it; from
    # memory.
    altitude = [20.0, 10.0, 5.0, 2.0, 1.0, 0.0]
    table = [2.6, 5.3, 9.9, 18.3, 24.5, 34.5]
    found = ray_refraction_degrees(altitude, 1010.0, 10.0) * 60
    assert found[:3] == pytest.approx(table[:3], abs=0.15)
    assert found[3:] == pytest.approx(table[3:], rel=0.03)


def test_refractivity_of_standard_air():
    # 550 nm in vacuum are 549.84723175 nm in air of 15 °C and 1013.25 hPa: documentation of the
    # package ref_index, by the equation of Ciddor 1996.
    assert refractivity(1013.25, 15.0) == pytest.approx(550 / 549.84723175 - 1, rel=1e-4)


def test_stars_go_straight_up_and_those_below_the_horizon_are_gone():
    zenith = unit_vectors(40.0, 20.0)
    east = unit_vectors(130.0, 0.0)
    true = np.array([-3.0, -0.4, 10.0, 90.0])
    h = np.radians(true)[:, None]
    seen = ray_lifted(np.cos(h) * east + np.sin(h) * zenith, zenith, 1010.0, 10.0)
    altitude = np.degrees(np.arcsin(np.minimum(seen @ zenith, 1.0)))
    assert np.isnan(altitude[0])
    # 33' lift a star that stands 24' below the horizon over it.
    assert 0 < altitude[1] < 0.25
    # Meeus, Astronomical Algorithms, 2nd ed., formula 16.4 at 10 degrees: 5.408'; his 4" of error.
    assert (altitude[2] - true[2]) * 60 == pytest.approx(5.35, abs=0.12)
    assert altitude[3] == pytest.approx(90.0, abs=1e-4)
    assert np.linalg.norm(seen[1]) == pytest.approx(1.0)
    assert float(seen[2] @ np.cross(zenith, east)) == pytest.approx(0.0, abs=1e-12)
