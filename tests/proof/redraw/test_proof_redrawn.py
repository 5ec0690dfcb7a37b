"""Stars drawn once more with a known spot in the place of a frame's own, and measured alike."""

from __future__ import annotations

import numpy as np
import pytest
from scipy import ndimage

from nightglass.proof.redraw.redrawn import redrawn, stars_about
from nightglass.proof.redraw.trailed_spot import TrailedSpot
from nightglass.proof.sight import Sight
from nightglass.scene.sky.fieldspots import FINE
from nightglass.scene.sky.starfield import Aberrations, Scene, lens_spots, render
from nightglass.sky.astrometry.camera import look_at, plain_camera
from nightglass.sky.astrometry.matching import Fit, Match
from nightglass.sky.astrometry.refine import Solution
from nightglass.sky.stars.find import find_stars

pytestmark = pytest.mark.slow

AT_PX, HALF_PX = (640.0, 410.0), 390.0


def known(camera, rotation) -> Solution:
    """Make a solution that is the truth."""
    fit = Fit(camera, rotation, np.zeros(5), 0.0, 0.0, 0.0)
    nothing = np.empty(0, dtype=np.intp)
    return Solution(camera, rotation, fit, Match(nothing, nothing, np.empty(0)), 0.1, -100.0, True)


@pytest.fixture(scope="module")
def night():
    camera = plain_camera(1300, 820, 1100.0)
    terms = Aberrations(defocus_um=1.2, coma_um=0.0, astigmatism_um=0.0, curvature_um=0.0)
    spots = lens_spots(camera, 6.0, 2.0, terms, grid=(1, 1), size_px=31)
    scene = Scene(
        camera,
        look_at(300.0, 25.0, 30.0),
        spots,
        exposure_s=16.0,
        year=2026.0,
        zero_counts_per_s=4e4,
        faintest_g=11.0,
        clipping=60000,
        satellites=0,
        hot_pixels=100,
        seed=5,
    )
    frame, _ = render(scene)
    solution = known(camera, scene.rotation)
    sight = Sight(frame, find_stars(frame), solution, 16.0, 2026.0)
    middle = spots.stamps.shape[2] // 2
    first = middle % FINE
    return sight, spots.stamps[0, 0][first::FINE, first::FINE].astype(np.float64)


def test_the_true_spot_comes_out_as_the_sky_did(night):
    sight, spot = night
    assert spot.shape[0] % 2 == 1
    pairs = redrawn(sight, AT_PX, HALF_PX, spot)
    assert len(pairs) > 25
    assert len(pairs) <= stars_about(sight, AT_PX, HALF_PX)
    # A crowded field of the Milky Comparison: 260 stars scatter by 25 % each.
    ratio = np.median(pairs.sky_length_px / pairs.drawn_length_px)
    assert ratio == pytest.approx(1.0, abs=0.05)
    assert np.median(pairs.sky_width_px / pairs.drawn_width_px) == pytest.approx(1.0, abs=0.03)
    narrow = [np.percentile(v, 25) for v in (pairs.sky_width_px, pairs.drawn_width_px)]
    assert narrow[0] / narrow[1] == pytest.approx(1.0, abs=0.05)
    again = redrawn(sight, AT_PX, HALF_PX, spot)
    assert np.array_equal(pairs.drawn_length_px, again.drawn_length_px)


def test_the_tail_of_a_comet_points_away_from_the_optical_centre_at_every_star(night):
    sight, _ = night
    # A head in the middle and a tail of 12 px along x: outward at a place right of the centre.
    at_px = 850.0, 410.0
    y, x = np.mgrid[-18:19, -18:19]
    comet = np.exp(-(x**2 + y**2) / 4.0)
    for step in range(1, 13):
        comet += 0.3 * np.exp(-((x - step) ** 2 + y**2) / 4.0)
    seen = redrawn(sight, at_px, 200.0, comet, copies=1, picture_half_px=16).picture
    away = np.array([seen.x_px - 649.5, seen.y_px - 409.5])
    turn = np.degrees(np.arctan2(away[1], abs(away[0])))
    # Far enough from the line through centre and place that the sense of the turn shows.
    assert abs(turn) > 12
    v, u = np.mgrid[-16:17, -16:17]
    pieces, _ = ndimage.label(seen.drawn > 0.2 * seen.drawn[16, 16])
    light = np.where(pieces == pieces[16, 16], seen.drawn, 0.0)
    tail = np.array([(light * u).sum(), (light * v).sum()]) / light.sum()
    assert np.hypot(*tail) > 2
    off = np.degrees(np.arccos(tail @ away / np.hypot(*tail) / np.hypot(*away)))
    assert off < 10


def test_a_sharper_bench_than_the_sky_shows(night):
    sight, _ = night
    axis = np.arange(-15, 16)
    point = np.exp(-0.5 * (axis[:, None] ** 2 + axis[None, :] ** 2) / 0.6**2)
    pairs = redrawn(sight, AT_PX, HALF_PX, point, copies=1)
    # Neighbours widen most stars alike; among the narrowest quarter the lens's own blur shows.
    sky, drawn = (np.percentile(v, 25) for v in (pairs.sky_width_px, pairs.drawn_width_px))
    assert sky / drawn > 1.4
    assert np.median(pairs.sky_width_px / pairs.drawn_width_px) > 1.1


def test_a_spot_without_light_is_refused_and_an_empty_corner_gives_none(night):
    sight, spot = night
    with pytest.raises(ValueError, match=r"the spot holds no light; measure the place"):
        redrawn(sight, AT_PX, HALF_PX, np.zeros((9, 9)))
    assert len(redrawn(sight, (5.0, 5.0), 8.0, spot)) == 0


def test_a_trailed_spot_has_the_moments_of_spot_and_line():
    axis = np.arange(-12, 13)
    spot = np.exp(-0.5 * ((axis[None, :] / 1.4) ** 2 + (axis[:, None] / 1.1) ** 2))
    image, middle = TrailedSpot(spot / spot.sum(), 7.0).drawn((5.0, -2.0), (0.3, -0.2))
    y, x = np.mgrid[0 : image.shape[0], 0 : image.shape[1]]
    total = image.sum()
    cx, cy = (image * x).sum() / total, (image * y).sum() / total
    assert total == pytest.approx(1.0, abs=1e-9)
    assert (cx - middle[1], cy - middle[0]) == pytest.approx((0.3, -0.2), abs=1e-4)
    # A line of vector T adds T T^t / 12 to the second moments.
    assert (image * (x - cx) ** 2).sum() == pytest.approx(1.4**2 + 25 / 12, rel=1e-3)
    assert (image * (y - cy) ** 2).sum() == pytest.approx(1.1**2 + 4 / 12, rel=1e-3)
    assert (image * (x - cx) * (y - cy)).sum() == pytest.approx(-10 / 12, rel=1e-3)
