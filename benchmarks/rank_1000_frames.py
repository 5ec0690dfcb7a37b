"""How long the verdict takes with 1,000 frames on record: 200 settings at 5 places.

Run: python benchmarks/rank_1000_frames.py
Prints seconds for the first call (compilation included) and the median of the next ones.
"""

from __future__ import annotations

import math
import statistics
import time

import numpy as np

from nightglass.bench.records import Combined, SettingResult, ZoneResult
from nightglass.gear.benchfile import BenchFile
from nightglass.gear.body import Body
from nightglass.gear.lens import Lens, LensSetting
from nightglass.verdict.judge import judge

BODY = Body("Loan body", pitch_um=6.05, width_px=3872, height_px=2592)
PLACES = ((0.5, 0.5), (0.06, 0.06), (0.94, 0.06), (0.06, 0.94), (0.94, 0.94))
LENSES = tuple(Lens(f"Lens {k}", 11 + k, 11 + k, 1.8, 1.8) for k in range(20))
F_NUMBERS = (1.8, 2.0, 2.2, 2.5, 2.8, 3.2, 3.5, 4.0, 4.5, 5.6)
ROUNDS = 3


def zone(place: int, length_px: float, rng: np.random.Generator) -> ZoneResult:
    half = math.ceil(1.6 * length_px) + 8
    y, x = np.mgrid[-half : half + 1, -half : half + 1].astype(float)
    t, s = rng.uniform(0, math.pi), length_px / 3.29
    u, v = x * math.cos(t) + y * math.sin(t), y * math.cos(t) - x * math.sin(t)
    spot = np.exp(-0.5 * ((u / s) ** 2 + (v / (0.6 * s)) ** 2))
    area = 4 * math.pi * 0.6 * s * s
    none = Combined(None, None)
    share = PLACES[place]
    return ZoneResult(
        f"place {place}", share[0] * 3871, share[1] * 2591, 0.0 if place == 0 else 0.88, 1, 0, 0,
        Combined(length_px, 0.1, None, (length_px,)), Combined(0.6 * length_px, 0.1),
        none, none, none, Combined(area, 0.04 * area, None, (area,)),
        none, Combined(math.degrees(t), 2.0), none, none, none, "photons alone",
        (spot / spot.sum()).astype(np.float32),
    )  # fmt: skip


def results() -> tuple[SettingResult, ...]:
    rng = np.random.default_rng(1)
    return tuple(
        SettingResult(
            LensSetting(BODY.name, lens.name, lens.focal_mm_min, n),
            tuple(zone(p, rng.uniform(3.5, 14.0) * (1.8 / n) ** 0.7, rng) for p in range(5)),
        )
        for lens in LENSES
        for n in F_NUMBERS
    )


def main() -> None:
    record, bench = results(), BenchFile(BODY, LENSES)
    times = []
    for _ in range(1 + ROUNDS):
        start = time.perf_counter()
        ranking = judge(record, bench)
        times.append(time.perf_counter() - start)
    print(f"{len(record)} settings, {sum(len(r.zones) for r in record)} frames")
    print(f"first call {times[0]:.2f} s, then {statistics.median(times[1:]):.2f} s (median)")
    print(f"{len(ranking.standings)} lenses ranked")


if __name__ == "__main__":
    main()
