"""How many stars are found against how many bench and night predict: two constants of the proof.

FILTER_ERR: SNR of catalogue stars as found over the formula's, by field radius, on frames of the
invented club's night whose lenses are known exactly. MERGE_AREAS: share of the stars that are
found, by magnitude, against the share that the formula gives without neighbours; the difference,
over the density of brighter stars, is the area within which a neighbour hides a star.
Run: python design/proof_counts.py   (about a minute)
"""

from __future__ import annotations

import math

import numpy as np
from scipy.spatial import cKDTree

from nightglass.bench.records import Combined, ZoneResult
from nightglass.frame.record import Frame
from nightglass.gear.benchfile import BenchFile
from nightglass.gear.lens import LensSetting
from nightglass.optics.extent import extent
from nightglass.proof.prediction import stars as proof_stars
from nightglass.proof.prediction.cells import NightCase, cells_of, colour_parts, snr_of_one_count
from nightglass.proof.sight import Sight
from nightglass.scene.club import BLACK, BODY, CLIPPING, CLUB, PATTERN
from nightglass.scene.sky.fieldspots import FINE
from nightglass.scene.sky.plan import EXPOSURE_TRUE_S, SkyShot, sky_plan
from nightglass.scene.sky.shot import lens_spots, render_sky, sky_metadata
from nightglass.sky.astrometry.refine import Solution, catalogue_vectors, stars_in_frame
from nightglass.sky.astrometry.solve import Hint, solve
from nightglass.sky.observe import year_of
from nightglass.sky.photometry.conditions import measure_night
from nightglass.sky.stars.find import find_stars

GRID = (7, 9)


def zones(shot: SkyShot) -> tuple[ZoneResult, ...]:
    """Return zones of a perfect bench at every cell of the lens's grid."""
    spots = lens_spots(shot, GRID)
    none = Combined(None, None)
    found = []
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


def main() -> None:
    """Print both tables for each frame of the club's night."""
    bench = BenchFile(BODY, tuple(c.lens for c in CLUB))
    for shot in sky_plan():
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
        if not isinstance(solution, Solution):
            raise SystemExit(f"{shot.file_name}: not solved")
        sight = Sight(frame, found, solution, EXPOSURE_TRUE_S, year_of(frame))
        night = measure_night(frame, found, solution, EXPOSURE_TRUE_S)
        setting = LensSetting(BODY.name, shot.club.lens.name, shot.focal_mm, shot.f_number)
        case = NightCase(sight, night, zones(shot), setting, bench)
        _tell(shot, case)


def _tell(shot: SkyShot, case: NightCase) -> None:
    cells = cells_of(case)
    one = snr_of_one_count(cells, colour_parts(case))
    assert cells.zero_mag is not None
    deepest = cells.zero_mag - 2.5 * np.log10(5 / one)
    solution, stars = case.sight.solution, case.sight.found.stars
    index, x, y = stars_in_frame(solution.camera, solution.rotation, 9.9)
    magnitude = catalogue_vectors()[1][index]
    away, star = cKDTree(np.column_stack([stars.x_px, stars.y_px])).query(np.column_stack([x, y]))
    cell = proof_stars._cell_of(case, x, y)
    ought = 5 * 10 ** (-0.4 * (magnitude - deepest[cell]))
    radius = np.hypot(x - BODY.width_px / 2, y - BODY.height_px / 2)
    radius *= 2 / math.hypot(BODY.width_px, BODY.height_px)
    print(f"{shot.club.lens.name} f/{shot.f_number}: SNR found over the formula's")
    sure = (away < 2) & (ought > 12) & (ought < 60)
    for low in (0.0, 0.2, 0.4, 0.6, 0.8):
        some = sure & (radius >= low) & (radius < low + 0.2)
        print(f"  radius {low:.1f}: {np.median(stars.snr[star[some]] / ought[some]):.3f}")
    chance = proof_stars._seen(magnitude, deepest[cell])
    area = float(np.mean(cells.area_px))
    print(f"  noise area along the trail {area:.1f} px; share found, share by formula, areas")
    for low, high in ((7.0, 8.0), (8.0, 8.5), (8.5, 9.0), (9.0, 9.25)):
        some = (magnitude > low) & (magnitude <= high)
        seen, ought_seen = float(np.mean(away[some] < 3.5)), float(np.mean(chance[some]))
        brighter = np.count_nonzero(magnitude < (low + high) / 2) / (BODY.width_px * BODY.height_px)
        hidden = -math.log(max(seen / ought_seen, 1e-3)) / brighter / area
        print(f"  G {low:g} to {high:g}: {seen:.3f} {ought_seen:.3f} {hidden:.1f}")


if __name__ == "__main__":
    main()
