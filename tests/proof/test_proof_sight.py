"""What a sight of a frame says of its stars' trails."""

from __future__ import annotations

import math

import numpy as np
import pytest

from nightglass.frame.record import Frame
from nightglass.proof.sight import Sight
from nightglass.sky.astrometry.camera import look_at, plain_camera
from nightglass.sky.astrometry.matching import Fit, Match
from nightglass.sky.astrometry.refine import Solution
from nightglass.sky.stars.find import COLUMNS, Detections, FoundStars

SCALE, DEC = 1100.0, 25.0
MIDDLE = np.array([649.5]), np.array([409.5])


def sight(**more) -> Sight:
    camera, rotation = plain_camera(1300, 820, SCALE), look_at(300.0, DEC)
    none = np.empty(0, dtype=np.intp)
    fit = Fit(camera, rotation, np.zeros(5), 0.0, 0.0, 0.0)
    match = Match(none, none, np.empty(0))
    frame = Frame(
        samples=np.zeros((820, 1300), dtype=np.uint16),
        pattern=np.array([[0, 1], [1, 2]], dtype=np.uint8),
        black=np.zeros((2, 2)),
        clipping=np.full((2, 2), 4000.0),
        kind="mosaic",
    )
    stars = FoundStars(**{name: np.full(3, 30.0) for name in COLUMNS})
    found = Detections(stars, None, 1.5, 0, np.ones(3))  # type: ignore[arg-type]
    return Sight(
        frame, found, Solution(camera, rotation, fit, match, 0.1, -99.0, True), 16.0, 2000.0, **more
    )


def test_a_trail_is_the_sky_s_at_its_rate_and_the_camera_s_own_motion():
    # In the middle of a rectilinear frame: f x 7.2921e-5 x cos(declination) x t.
    long_px = SCALE * 7.2921e-5 * math.cos(math.radians(DEC)) * 16
    (tripod,) = sight().trails(*MIDDLE)
    assert math.hypot(*tripod) == pytest.approx(long_px, rel=1e-3)
    (half,) = sight(rate=0.5).trails(*MIDDLE)
    assert half == pytest.approx(0.5 * tripod)
    (tracked,) = sight(rate=0.0, extra_px=(0.7, -0.3)).trails(*MIDDLE)
    assert tracked == pytest.approx((0.7, -0.3))
    (moved,) = sight(extra_px=(0.7, -0.3)).trails(*MIDDLE)
    assert moved == pytest.approx(tripod + np.array([0.7, -0.3]))
