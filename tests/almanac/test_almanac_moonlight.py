"""Moonlight model and coordinate changes against published values."""

from datetime import UTC, datetime

import erfa
import numpy as np
import pytest

from nightglass.almanac.horizontal import equatorial, horizontal, icrs_from_galactic, unit_vectors
from nightglass.almanac.moonlight import dark_sky_nanolamberts, sky_with_moon
from nightglass.almanac.place import Place
from nightglass.light.atmosphere import nanolamberts


def test_the_darkest_place_of_the_dark_sky_is_the_zenith():
    # Krisciunas & Schaefer 1991, equations 2 and 3, worked by hand: Z = 60 gives X = 1.8898
    zenith, lower = dark_sky_nanolamberts([0.0, 60.0], 21.6, 0.2)
    assert zenith == pytest.approx(nanolamberts(21.6))
    assert lower / zenith == pytest.approx(1.8898 * 10 ** (-0.4 * 0.2 * 0.8898), rel=1e-4)


def test_moon_and_dark_sky_add_up():
    # Worked example of the model (specsim): 389.5 nL of moonlight at Z 20, moon at Z 70, k 0.15
    sky = sky_with_moon(70, 20, 50, 45, 21.6, 0.15)
    dark = dark_sky_nanolamberts(20, 21.6, 0.15)
    assert nanolamberts(sky.moonlit_mag) - dark == pytest.approx(389.5, abs=0.1)
    assert sky.cost_stops == pytest.approx(np.log2((dark + 389.5) / dark), abs=1e-3)


def test_a_moon_that_is_down_costs_nothing():
    dark = sky_with_moon(60, -5, 90, 10)
    assert dark.cost_stops == 0
    assert dark.moonlit_mag == dark.dark_mag


def test_a_full_moon_costs_stops():
    # Common practice puts the full moon's sky at 3 to 4 magnitudes, that is 3 to 5 stops
    assert 3 < sky_with_moon(60, 45, 60, 5).cost_stops < 5.5
    assert sky_with_moon(60, 45, 60, 90).cost_stops < 1.5


def test_sky_below_the_horizon_is_refused():
    with pytest.raises(ValueError, match="altitude -3 is below the horizon"):
        sky_with_moon(-3, 40, 60, 5)


def test_galactic_directions_agree_with_erfa():
    l_degrees, b_degrees = np.array([0.0, 77.3, 200.1]), np.array([0.0, -10.0, 55.5])
    ra, dec = erfa.g2icrs(np.radians(l_degrees), np.radians(b_degrees))
    assert icrs_from_galactic(l_degrees, b_degrees) == pytest.approx(erfa.s2c(ra, dec), abs=1e-12)


def test_horizontal_directions_agree_with_erfa():
    # erfa.atco13 without air; UT1 - UTC and polar motion taken as 0
    here = Place("there", 46.0, 8.0)
    moment = datetime(2027, 5, 6, 22, 41, tzinfo=UTC)
    for ra, dec in ((266.4168, -29.0078), (279.23, 38.78), (37.95, 89.26), (101.3, -16.7)):
        d1, d2 = erfa.dtf2d("UTC", 2027, 5, 6, 22, 41, 0.0)
        zenith_angle = erfa.atco13(
            np.radians(ra), np.radians(dec), 0, 0, 0, 0, d1, d2, 0.0,
            np.radians(8.0), np.radians(46.0), 0.0, 0, 0, 0, 0, 0, 0.55,
        )  # fmt: skip
        azimuth, zenith = zenith_angle[0], zenith_angle[1]
        altitude, turned = horizontal(unit_vectors(ra, dec), here, moment)
        assert altitude[0] == pytest.approx(90 - np.degrees(zenith), abs=2e-3)
        off = (turned[0] - np.degrees(azimuth) + 180) % 360 - 180
        assert abs(off * np.sin(zenith)) < 2e-3


def test_equatorial_to_horizontal_of_the_textbook():
    # Meeus, example 13.b: azimuth from north 248.0336, altitude 15.1250, and back
    sidereal = 8 + 34 / 60 + 56.853 / 3600  # apparent, 1987 Apr 10 19h21m UT
    hour_angle = sidereal * 15 - 77.0656 - (23 + 9 / 60 + 16.641 / 3600) * 15
    ha, dec = equatorial(15.1250, 248.0336, 38 + 55 / 60 + 17 / 3600)
    assert (ha - hour_angle + 180) % 360 - 180 == pytest.approx(0, abs=2e-3)
    assert dec == pytest.approx(-(6 + 43 / 60 + 11.61 / 3600), abs=2e-3)
