"""Zenith and motion of a rendered tripod against an outside library."""

from __future__ import annotations

from datetime import UTC, datetime

import erfa
import numpy as np
import pytest

from nightglass.scene.sky.standing import velocity_of_earth, zenith_of


@pytest.mark.parametrize("month", [1, 4, 9])
@pytest.mark.parametrize(("latitude", "longitude"), [(44.2, 6.1), (-33.9, 151.2), (78.0, -15.0)])
def test_zenith_and_motion_are_those_of_sofa(month, latitude, longitude):
    at = datetime(2026, month, 19, 21, 10, tzinfo=UTC)
    utc = erfa.dtf2d("UTC", at.year, at.month, at.day, at.hour, at.minute, 0)
    terrestrial = erfa.taitt(*erfa.utctai(*utc))
    lat, lon = np.radians([latitude, longitude])
    up = np.array([np.cos(lat) * np.cos(lon), np.cos(lat) * np.sin(lon), np.sin(lat)])
    sofa = erfa.c2t06a(*terrestrial, *utc, 0, 0).T @ up
    assert np.degrees(np.linalg.norm(zenith_of(latitude, longitude, at) - sofa)) * 3600 < 25
    _, moving = erfa.epv00(*terrestrial)
    assert velocity_of_earth(at) == pytest.approx(moving["v"] / 173.1446, abs=2.5e-6)
