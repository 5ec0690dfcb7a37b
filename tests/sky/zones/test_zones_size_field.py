"""How a spot's size changes over a frame: planted surfaces, and spots drawn by them."""

from __future__ import annotations

import numpy as np
import pytest

from nightglass.proof.redraw.redrawn import SIZE_STEP, _turned
from nightglass.sky.zones.size_field import MOST_CHANGE, field_of_zones, size_field
from nightglass.sky.zones.zone import Zone

PLACES = np.array([(300.0 * c + 149.5, 310.0 * r + 154.5) for r in range(3) for c in range(5)])


def test_a_bowl_is_found_and_told_relative_to_a_place():
    x, y = (PLACES / 1000).T
    logs = 0.4 + 0.3 * (x - 0.6) ** 2 + 0.2 * y - 0.1 * x * y
    field = size_field(PLACES, logs)
    assert field.uneven == pytest.approx(0.0, abs=1e-9)
    there, here = np.array([[1400.0, 100.0], [77.0, 801.0]]), (700.0, 450.0)
    x, y = (np.vstack([there, here]) / 1000).T
    true = 0.3 * (x - 0.6) ** 2 + 0.2 * y - 0.1 * x * y
    assert np.log(field.change(there, here)) == pytest.approx(true[:2] - true[2], abs=1e-9)
    assert field.change([here], here) == pytest.approx(1.0)
    assert np.log(field.change([(9e4, 9e4)], here))[0] == pytest.approx(MOST_CHANGE)


def test_few_zones_give_a_plane_or_nothing_and_say_how_uneven_they_are():
    bowl = ((PLACES - PLACES.mean(axis=0)) ** 2).sum(axis=1) / 1e6
    few = size_field(PLACES[:3], bowl[:3])
    assert few.change(PLACES, PLACES[7]) == pytest.approx(1.0)
    assert few.uneven == pytest.approx(np.std(bowl[:3], ddof=1))
    plane = size_field(PLACES[5:10], bowl[5:10])
    assert plane.uneven > 0.05
    unmeasured = Zone(0, 0, 149.5, 154.5, 0.8, 3)
    assert field_of_zones([unmeasured]) is None


def test_a_spot_is_made_larger_by_its_steps():
    y, x = np.mgrid[-20:21, -20:21]
    spot = np.exp(-(x**2) / 8 - y**2 / 18)
    larger = _turned(spot, 0, 4)
    assert larger.sum() == pytest.approx(1.0)
    for axis, variance in ((x, 4.0), (y, 9.0)):
        seen = (larger * axis**2).sum() / larger.sum()
        assert seen == pytest.approx(variance * np.exp(2 * 4 * SIZE_STEP), rel=0.02)
