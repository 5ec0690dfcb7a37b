"""Light, limit, stars and glow: predicted from a perfect bench, and found in a rendered frame."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest

from nightglass.bench.records import Combined, ZoneResult
from nightglass.frame.record import Frame
from nightglass.gear.benchfile import BenchFile
from nightglass.gear.lens import LensSetting
from nightglass.optics.extent import extent
from nightglass.proof.prediction.cells import NightCase
from nightglass.proof.prediction.night import frame_night
from nightglass.proof.sight import Sight
from nightglass.scene.club import BLACK, BODY, CLIPPING, CLUB, PATTERN
from nightglass.scene.sky.fieldspots import FINE
from nightglass.scene.sky.plan import EXPOSURE_TRUE_S, sky_plan
from nightglass.scene.sky.shot import lens_spots, render_sky, sky_metadata
from nightglass.sky.astrometry.refine import Solution
from nightglass.sky.astrometry.solve import Hint, solve
from nightglass.sky.photometry.conditions import measure_night
from nightglass.sky.stars.find import find_stars

GRID = (3, 5)


def perfect_bench(shot) -> tuple[ZoneResult, ...]:
    """Return zones that know the lens exactly."""
    spots, none, found = lens_spots(shot, GRID), Combined(None, None), []
    for row, column in np.ndindex(GRID):
        stamp = spots.stamps[row, column].astype(np.float64)
        seen = extent(np.pad(stamp, stamp.shape[0] // 2), 1 / FINE)
        x = (column + 0.5) / GRID[1] * BODY.width_px
        y = (row + 0.5) / GRID[0] * BODY.height_px
        away = math.hypot(x - BODY.width_px / 2, y - BODY.height_px / 2)
        found.append(
            ZoneResult(
                f"{row} {column}", x, y, 2 * away / math.hypot(BODY.width_px, BODY.height_px),
                3, 0, 0, Combined(seen.length_px, 0.0), Combined(seen.width_px, 0.0), none, none,
                none, Combined(seen.noise_area_px, 0.0), none, none, none, none, none, "repeats",
                stamp[2::FINE, 2::FINE].astype(np.float32),
            )
        )  # fmt: skip
    return tuple(found)


@pytest.fixture(scope="module")
def case() -> NightCase:
    shot = next(s for s in sky_plan() if s.club.lens.name.startswith("Plover"))
    frame = Frame(
        samples=render_sky(shot),
        pattern=PATTERN,
        black=np.full((2, 2), float(BLACK)),
        clipping=np.full((2, 2), float(CLIPPING)),
        kind="mosaic",
        metadata=sky_metadata(shot),
    )
    found = find_stars(frame)
    hint = Hint((shot.focal_mm * 1000 / BODY.pitch_um,), shot.club.lens.projection)
    solution = solve(found.stars, frame.width_px, frame.height_px, hint)
    assert isinstance(solution, Solution)
    night = measure_night(frame, found, solution, EXPOSURE_TRUE_S)
    return NightCase(
        Sight(frame, found, solution, EXPOSURE_TRUE_S, 2026.2),
        night,
        perfect_bench(shot),
        LensSetting(BODY.name, shot.club.lens.name, shot.focal_mm, shot.f_number),
        BenchFile(BODY, tuple(club.lens for club in CLUB)),
        iso=1600,
        aim_altitude_degrees=48.0,
    )


def test_a_perfect_bench_predicts_the_frame(case):
    told = frame_night(case)
    for name in ("light", "stars", "limit", "glow"):
        against = getattr(told, name)
        assert against.ratio is not None, f"{name}: {against.reason}"
        assert against.differs == 0, (name, against)
    assert told.stars.ratio.value == pytest.approx(1.0, abs=0.2)
    assert abs(told.limit.ratio.value) < 0.3
    # Widths that say something: not so wide that nothing could ever differ.
    assert told.stars.ratio.high / told.stars.ratio.low < 2.0
    assert told.light.ratio.high / told.light.ratio.low < 1.7
    assert told.tested_share > 0.8


def test_a_blurred_bench_predicts_fewer_stars(case):
    def wider(zone: ZoneResult) -> ZoneResult:
        area = zone.noise_area_px.value or 0.0
        return replace(zone, noise_area_px=Combined(6 * area + 30, 0.0), stamp=None)

    told = frame_night(replace(case, zones=tuple(wider(zone) for zone in case.zones)))
    assert told.stars.ratio is not None
    assert told.stars.differs == 1
    assert told.stars.ratio.value > 1.5


def test_what_was_not_tested_or_not_recorded_has_its_reason(case):
    none = frame_night(replace(case, zones=()))
    assert none.stars.ratio is None
    assert none.stars.reason
    dark = frame_night(replace(case, night=replace(case.night, zero_point_mag=None)))
    assert dark.light.ratio is None
    assert dark.light.reason
