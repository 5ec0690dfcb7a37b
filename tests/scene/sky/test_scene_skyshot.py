"""The club's night: aim, sky, light and lens of its frames against independent figures."""

from __future__ import annotations

import math
from dataclasses import replace
from datetime import timedelta

import numpy as np
import pytest

from nightglass.almanac.ephemeris import ephemeris, unix_seconds
from nightglass.almanac.horizontal import horizontal, look, unit_vectors
from nightglass.almanac.place import place
from nightglass.optics.extent import extent
from nightglass.scene.club import BODY
from nightglass.scene.plan import plan
from nightglass.scene.shoot import star
from nightglass.scene.sky.fieldspots import FINE
from nightglass.scene.sky.plan import (
    AIM_DEGREES,
    EXPOSURE_TRUE_S,
    SITE_PLACE,
    SITE_ZONE,
    sky_plan,
)
from nightglass.scene.sky.shot import SKY_ISO, lens_spots, star_counts, trail_px
from nightglass.scene.star import fine_spot
from nightglass.scene.truth import truth

MIDDLE = (BODY.width_px - 1) / 2, (BODY.height_px - 1) / 2
GRID = (9, 13)


def test_the_night_is_dark_and_the_aim_stands_in_the_south_west():
    site, at = place(SITE_PLACE, SITE_ZONE), sky_plan()[0].taken_at
    altitude, azimuth = horizontal(unit_vectors(*AIM_DEGREES[:2]), site, at)
    assert float(altitude[0]) == pytest.approx(48, abs=1)
    assert 225 < float(azimuth[0]) < 250
    sky = ephemeris(at - timedelta(hours=1), at + timedelta(hours=1))
    seconds = np.array([unix_seconds(at)])
    assert float(look(sky, "sun", site, seconds).altitude_degrees[0]) < -18
    assert float(look(sky, "moon", site, seconds).altitude_degrees[0]) < 0


def test_a_star_gives_the_light_of_the_handbook():
    shot = sky_plan()[0]
    counts = star_counts(shot, np.array([6.0]), *(np.array([v]) for v in MIDDLE))
    # 8.79e9 photons per second and square metre from V 0 (Bessell 1979, as tabled on J. Huchra's
    # page); f/2.2 is 2^(7/6) = 2.245 exactly, its T-stop 2.4; efficiency of the body; 0.2
    # magnitudes per airmass of 1.35 (common practice) and V fainter than G by a tenth or two: 15 %
    # of room for both.
    area_m2 = math.pi / 4 * (0.024 / 2.245) ** 2 * (2.245 / 2.4) ** 2
    ought = 8.79e9 * area_m2 * (BODY.efficiency or 1.0) * EXPOSURE_TRUE_S
    ought *= 10 ** (-0.4 * (6.0 + 0.15 + 0.2 * 1.35))
    electrons = float(counts[0]) * BODY.gain_e_per_count[SKY_ISO]
    assert electrons == pytest.approx(ought, rel=0.15)


def test_trails_are_those_of_the_turning_sky():
    shot = sky_plan()[0]
    seen = math.hypot(*trail_px(shot, *MIDDLE))
    # f omega cos(declination) t, omega = 7.2921e-5 rad/s.
    equator = shot.focal_mm * 1000 / BODY.pitch_um * 7.2921e-5 * EXPOSURE_TRUE_S
    assert seen == pytest.approx(equator * math.cos(math.radians(AIM_DEGREES[1])), rel=0.01)


def test_the_lens_of_the_night_is_the_lens_of_the_bench():
    night = next(s for s in sky_plan() if s.club.lens.name.startswith("Heron"))
    bench = next(
        s
        for s in plan()
        if s.club is night.club and s.f_number == night.f_number and "right" in s.place
    )
    spots = lens_spots(replace(night, focus_error_um=bench.focus_error_um), GRID)
    row = min(int(bench.y_px / BODY.height_px * GRID[0]), GRID[0] - 1)
    column = min(int(bench.x_px / BODY.width_px * GRID[1]), GRID[1] - 1)
    image = spots.stamps[row, column].astype(np.float64)
    seen = extent(np.pad(image, image.shape[0] // 2), 1 / FINE)
    true = truth(fine_spot(star(bench), BODY.pitch_um, (1,)), 1, MIDDLE)
    # The bench's star stands within half a cell of the cell's middle.
    sizes = [math.sqrt(v.length_px * v.width_px) for v in (seen, true)]
    assert sizes[0] == pytest.approx(sizes[1], rel=0.12)
    assert sizes[0] > 8


def test_the_same_frame_is_the_same_night_and_frames_differ():
    first, *others = sky_plan()
    assert first == sky_plan()[0]
    assert len({shot.taken_at for shot in sky_plan()}) == len(sky_plan())
    assert all(shot.focus_error_um != first.focus_error_um for shot in others)
