"""Lens and motion told apart on rendered frames: what comes out against what was drawn.

    python benchmarks/sky_motion.py [name ...]

A 20 mm lens on 13 Mpx under several skies and wavefronts (SCENES), stars by the catalogue to G 9.5
and by the table of counts beyond. One line per scene, then over all zones: misses of length, width
and trail, and how true the errors are. Promised: lens length within 5 % where it is 3 px or more,
the trail at most 3 of it, and the zone has RICH stars; trail within 0.3 px and 3 degrees.
"""

from __future__ import annotations

import math
import sys
import time
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from nightglass.scene.sky.starfield import Aberrations, Scene, lens_spots, render, star_paths
from nightglass.sky.astrometry.camera import Camera, look_at, vectors_at
from nightglass.sky.astrometry.refine import Solution
from nightglass.sky.astrometry.solve import solve
from nightglass.sky.stars.find import Detections, find_stars
from nightglass.sky.zones.motion import Motion, measure_motion
from nightglass.sky.zones.zone import ZONE_COLUMNS, ZONE_ROWS, Zone

CAMERA = Camera(4500, 3000, 2500.0, 2255, 1490, -0.02, 0.005)
SEIDEL = Aberrations(defocus_um=1.0, coma_um=2.0, astigmatism_um=2.0)
RICH, RICH_SNR = 100, 50.0
"""Unclipped stars of so much SNR in a zone, from which its length is promised."""
SHARP = Aberrations(
    defocus_um=0.2, spherical_um=0.2, coma_um=0.3, astigmatism_um=0.2, curvature_um=0.2
)


@dataclass(frozen=True)
class Drawn:
    """What a scene is drawn with; electrons of a G 0 star over the whole exposure."""

    exposure_s: float = 20.0
    lens: Aberrations = SEIDEL
    f_number: float = 1.8
    drift_px: tuple[float, float] = (0.0, 0.0)
    rate: float = 1.0
    aim: tuple[float, float, float] = (300.0, 10.0, 30.0)
    light: float = 2e6
    faintest_g: float = 10.0
    seed: int = 3


SCENES = {
    "tripod": Drawn(),
    "other aim": Drawn(aim=(80.0, -35.0, 200.0), seed=4),
    "near the pole": Drawn(aim=(40.0, 80.0, 10.0), seed=5),
    "long": Drawn(exposure_s=40.0, seed=6),
    "drift": Drawn(drift_px=(3.0, 1.5)),
    "wind": Drawn(drift_px=(-1.0, 2.0), seed=7),
    "mount": Drawn(exposure_s=60.0, rate=0.05),
    "half speed": Drawn(exposure_s=40.0, rate=0.5, seed=8),
    "sharp": Drawn(lens=SHARP),
    "coma": Drawn(10.0, Aberrations(defocus_um=0.5, coma_um=4.0, astigmatism_um=1.0)),
    "decentred": Drawn(lens=Aberrations(defocus_um=0.6, coma_um=1.0, decentre_um=2.5), seed=9),
    "out of focus": Drawn(lens=Aberrations(defocus_um=5.0, coma_um=1.0)),
    "faint": Drawn(light=2e5, faintest_g=11.5, seed=10),
    "two seconds": Drawn(exposure_s=2.0, light=5e4, seed=11),
    "few stars": Drawn(exposure_s=5.0, lens=SHARP, light=5e4, seed=12),
}


def scene_of(drawn: Drawn) -> Scene:
    """Return the scene; its lens changes from star to star, with a known spot in each middle."""
    grid = (3 * ZONE_ROWS, 3 * ZONE_COLUMNS)
    spots = lens_spots(CAMERA, 6.0, drawn.f_number, drawn.lens, grid=grid)
    return Scene(
        CAMERA,
        look_at(*drawn.aim),
        spots,
        exposure_s=drawn.exposure_s,
        zero_counts_per_s=drawn.light / drawn.exposure_s,
        faintest_g=drawn.faintest_g,
        drift_px=drawn.drift_px,
        rate=drawn.rate,
        clipping=60000,
        seed=drawn.seed,
        smooth=True,
    )


@dataclass(frozen=True)
class Misses:
    """Per zone of all scenes: relative misses, pulls, and the trail's miss."""

    length: list[float]
    length_pull: list[float]
    width_pull: list[float]
    trail_px: list[float]
    trail_pull: list[float]
    degrees: list[float]
    promised: list[float]
    others: list[float]
    """Relative misses of length where it is 3 px or more, with fewer stars."""


def rich(found: Detections, scene: Scene, zone: Zone) -> bool:
    """Return whether a zone has the stars from which its length is promised."""
    stars, camera = found.stars, scene.camera
    good = (stars.snr >= RICH_SNR) & ~stars.clipped
    good &= np.abs(stars.x_px - zone.x_px) <= camera.width_px / ZONE_COLUMNS / 2
    good &= np.abs(stars.y_px - zone.y_px) <= camera.height_px / ZONE_ROWS / 2
    return np.count_nonzero(good) >= RICH


def add(misses: Misses, scene: Scene, found: Detections, motion: Motion) -> tuple[float, float]:
    """Add a scene's zones; return the largest misses of length (share) and trail [px]."""
    worst = [0.0, 0.0]
    ends = np.array([-0.5, 0.5])
    for zone in motion.zones:
        if zone.length_px is None or zone.trail_seen_px is None or zone.trail_expected_px is None:
            continue
        if zone.columns > 1:
            # The mean of two zones: nothing is known of their common middle.
            continue
        true = scene.spots.truth(3 * zone.row + 1, 3 * zone.column + 1)
        # The mean path of the zone's own stars is what was expected of a tripod.
        drawn = scene.rate * np.array(zone.trail_expected_px) + scene.drift_px
        off = np.subtract(zone.trail_seen_px, drawn)
        miss = zone.length_px / true.length_px - 1
        misses.length.append(miss)
        misses.length_pull.append((zone.length_px - true.length_px) / zone.length_px_err)
        misses.width_pull.append((zone.width_px - true.width_px) / zone.width_px_err)
        misses.trail_px.append(float(np.hypot(*off)))
        misses.trail_pull.extend(off / np.array(zone.trail_err_px))
        size = float(np.hypot(*drawn))
        if size > 3:
            across = abs(off[0] * drawn[1] - off[1] * drawn[0]) / size
            misses.degrees.append(math.degrees(math.atan2(across, size)))
        if true.length_px >= 3 and size <= 3 * true.length_px:
            (misses.promised if rich(found, scene, zone) else misses.others).append(miss)
        worst = [max(worst[0], abs(miss)), max(worst[1], misses.trail_px[-1])]
    check_expected(scene, motion, ends)
    return worst[0], worst[1]


def check_expected(scene: Scene, motion: Motion, ends: NDArray[np.float64]) -> None:
    """Stop if the path that a zone expects is not the one that the scene draws there."""
    still = [z for z in motion.zones if z.trail_expected_px is not None]
    x, y = (np.array([getattr(z, name) for z in still]) for name in ("x_px", "y_px"))
    vectors = vectors_at(scene.camera, scene.rotation, x, y)
    px, py = star_paths(scene, vectors, ends)
    drawn = np.column_stack([px[:, 1] - px[:, 0], py[:, 1] - py[:, 0]]) - scene.drift_px
    expected = scene.rate * np.array([z.trail_expected_px for z in still])
    # A zone's stars lie about its middle, not on it.
    if np.any(np.hypot(*(drawn - expected).T) > 0.3 + 0.25 * np.hypot(*expected.T)):
        raise SystemExit("the scene's paths are not those that are expected: check rate and year")


def told(name: str, values: list[float]) -> None:
    v = np.array(values)
    inside, beyond = 100 * np.mean(np.abs(v) < 1), 100 * np.mean(np.abs(v) > 2)
    print(f"{name}: median {np.median(v):+.2f}, within 1 {inside:.0f} %, over 2 {beyond:.0f} %")


def main() -> None:
    misses = Misses([], [], [], [], [], [], [], [])
    for name in sys.argv[1:] or SCENES:
        scene = scene_of(SCENES[name])
        frame, _ = render(scene)
        found = find_stars(frame)
        solution = solve(found.stars, frame.width_px, frame.height_px)
        if not isinstance(solution, Solution):
            print(f"{name}: not solved, {solution.reason}")
            continue
        start, clock = time.process_time(), time.perf_counter()
        motion = measure_motion(frame, found, solution, scene.exposure_s)
        times = time.process_time() - start, time.perf_counter() - clock
        worst = add(misses, scene, found, motion)
        measured = sum(zone.length_px is not None for zone in motion.zones)
        print(
            f"{name}: {measured} zones, length off by up to {100 * worst[0]:.1f} %, trail by "
            f"{worst[1]:.2f} px; {times[0]:.1f} s of processor, {times[1]:.1f} s; {motion.kind}",
            flush=True,
        )
    print(f"\n{len(misses.length)} zones")
    for name, values in (("with a promise", misses.promised), ("with fewer stars", misses.others)):
        if not values:
            continue
        held = np.abs(values)
        shares = [100 * np.mean(held < limit) for limit in (0.05, 0.03)]
        print(
            f"{held.size} of 3 px or more {name}: length within 5 % {shares[0]:.1f} %, within 3 % "
            f"{shares[1]:.1f} %, median {100 * np.median(values):+.1f} %"
        )
    print(
        f"trail within 0.3 px: {100 * np.mean(np.array(misses.trail_px) < 0.3):.1f} %; direction "
        f"within 3 degrees (trails over 3 px): {100 * np.mean(np.array(misses.degrees) < 3):.1f} %"
    )
    told("length, miss over error", misses.length_pull)
    told("width, miss over error", misses.width_pull)
    told("trail x and y, miss over error", misses.trail_pull)


if __name__ == "__main__":
    main()
