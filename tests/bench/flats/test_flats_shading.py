"""A frame's falloff told from the light's own unevenness: planted lens, planted light."""

import math

import numpy as np
import pytest

from nightglass.bench.flats.shading import fit_shading
from nightglass.gear.body import Body
from nightglass.gear.lens import Lens
from nightglass.light.falloff import FalloffSource, PupilFalloff

BODY = Body("Test body", 6.0, 6000, 4000)
LENS = Lens("Wren 14 mm", 14, 14, 2, 2)
ROWS, COLUMNS, FINE = 8, 12, 20


def even(terms, light=lambda x, y: 1.0, focal_mm=14.0, rng=None, noise=0.0, body=BODY):
    """Mean counts of cells behind a lens, summed on a finer grid than the fit's."""
    half = math.hypot(body.width_mm, body.height_mm) / 2
    y = ((np.arange(ROWS * FINE) + 0.5) / (ROWS * FINE) - 0.5) * body.height_mm / half
    x = ((np.arange(COLUMNS * FINE) + 0.5) / (COLUMNS * FINE) - 0.5) * body.width_mm / half
    x, y = np.meshgrid(x, y)
    square = x**2 + y**2
    # A rectilinear pixel sees cos^3 of the solid angle that one on the axis sees.
    solid = np.cos(np.arctan(np.sqrt(square) * half / focal_mm)) ** 3
    seen = 10 ** (-0.4 * (terms[0] * square + terms[1] * square**2)) * solid * light(x, y)
    cells = 9000 * seen.reshape(ROWS, FINE, COLUMNS, FINE).mean(axis=(1, 3))
    return cells if rng is None else cells * (1 + rng.normal(0, noise, cells.shape))


@pytest.mark.parametrize("terms", [(0.0, 0.0), (0.37, 0.61), (1.2, 0.9), (0.1, -0.04)])
@pytest.mark.parametrize("body", [BODY, Body("Small", 3.9, 4001, 3003)])
def test_a_planted_falloff_comes_back(terms, body):
    found = fit_shading(even(terms, body=body), body, LENS, 14)
    assert found.terms_mag == pytest.approx(terms, abs=0.006)
    assert found.centre_counts == pytest.approx(9000, rel=0.002)


def test_an_ideal_rectilinear_lens_loses_the_stops_of_cos_to_the_fourth():
    """24 mm on 36 x 24 mm: 1.7 stops in the corner (the handbook's cos^4 law)."""
    half = math.hypot(36, 24) / 2
    body = Body("Full", 6.0, 6000, 4000)
    found = fit_shading(
        even((0, 0), lambda x, y: np.cos(np.arctan(np.hypot(x, y) * half / 24)), 24.0, body=body),
        body, LENS, 24,
    )  # fmt: skip
    pupil = PupilFalloff(found.terms_mag, found.covariance, FalloffSource.FLAT).corner_stops
    solid = -3 * math.log2(math.cos(math.atan(half / 24)))
    assert pupil + solid == pytest.approx(1.7, abs=0.05)


def test_a_light_brighter_on_one_side_leaves_the_falloff_alone():
    straight = fit_shading(even((0.5, 0.4)), BODY, LENS, 14)
    uneven = fit_shading(even((0.5, 0.4), lambda x, y: np.exp(0.3 * x - 0.2 * y)), BODY, LENS, 14)
    assert uneven.terms_mag == pytest.approx(straight.terms_mag, abs=1e-4)
    assert uneven.slope_mag == pytest.approx(math.hypot(0.3, 0.2) / (0.4 * math.log(10)), rel=0.01)


def test_a_light_that_bends_widens_the_error():
    flat = fit_shading(even((0.5, 0.4)), BODY, LENS, 14)
    bent = fit_shading(even((0.5, 0.4), lambda x, y: np.exp(-0.1 * x**2)), BODY, LENS, 14)
    assert bent.bent_mag == pytest.approx(0.05 / (0.4 * math.log(10)), rel=0.02)
    off = bent.terms_mag[0] - flat.terms_mag[0]
    assert abs(off) <= math.sqrt(bent.covariance[0])
    assert bent.covariance[0] > 5 * flat.covariance[0]


def test_errors_hold_on_lights_of_random_bend():
    """Second derivatives of a random field, the same for all directions: its round part is lost
    and the part that is not round tells how large it may be."""
    rng = np.random.default_rng(20261129)
    pulls = []
    for _ in range(200):
        common, one, other, cross = rng.normal(0, 0.06, 4)
        # Covariance of an isotropic field: <xx xx> = 3, <xx yy> = 1, <xy xy> = 1.
        xx, yy, xy = common + math.sqrt(2) * one, common + math.sqrt(2) * other, cross

        def light(x, y, xx=xx, yy=yy, xy=xy):
            return np.exp(-(xx * x**2 + yy * y**2) / 2 - xy * x * y)

        found = fit_shading(even((0.5, 0.4), light, rng=rng, noise=0.002), BODY, LENS, 14)
        falloff = PupilFalloff(found.terms_mag, found.covariance, FalloffSource.FLAT)
        true = 0.4 * math.log(10) * -0.9
        pulls.append((math.log(float(falloff.share(1.0))) - true) / float(falloff.log_err(1.0)))
    inside = np.mean(np.abs(pulls) < 1)
    assert 0.6 < inside < 0.76, inside
    assert np.mean(np.abs(pulls) < 3) > 0.9


def test_a_dark_part_is_refused():
    cells = even((0.5, 0.4))
    cells[2, 3] = 0
    with pytest.raises(ValueError, match="a part of the frame holds no light; take the cap off"):
        fit_shading(cells, BODY, LENS, 14)


@pytest.mark.parametrize("from_radius", [0.5, 0.65, 0.8])
def test_a_corner_that_a_rim_shades_stands_within_two_errors(from_radius):
    """Nothing is lost up to a radius and then a stop by the corner: no sum of two powers."""

    def shaded(x, y):
        beyond = np.clip(np.hypot(x, y) - from_radius, 0, None) / (1 - from_radius)
        return 2.0**-beyond

    found = fit_shading(even((0.0, 0.0), shaded), BODY, LENS, 14)
    falloff = PupilFalloff(found.terms_mag, found.covariance, FalloffSource.FLAT)
    for radius, lost in ((1.0, 1.0), (0.8, max(0.0, (0.8 - from_radius) / (1 - from_radius)))):
        away = abs(float(falloff.stops(radius)) - lost)
        assert away < 2 * falloff.stops_err(radius), (radius, away)
    assert falloff.stops_err(1.0) < 0.4
