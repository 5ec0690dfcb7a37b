"""Whether the intervals of sky over bench hold a true ratio of 1, through the proof itself.

Three settings with three places each. Bench: three repeats per place, focused anew, of 3 %
scatter. Sky: an error of 4 % per zone and of 2 % per place of redrawn stars, and a focus set anew
before each frame that moves sizes by 4 %: not at all, place by place, or all places of a frame
together. Printed: share of the 95 % intervals that hold 1, for the lens alone and as measured.
The bench's spots are Gaussians, measured by their moments here: the proof's own measuring takes
longer and gives the same.
Run: python design/proof_intervals.py   (about a minute)
"""

from __future__ import annotations

import math
from types import SimpleNamespace
from typing import cast

import numpy as np
from numpy.typing import NDArray

from nightglass.bench.records import Combined, SettingResult, ZoneResult
from nightglass.gear.body import Body
from nightglass.gear.lens import LensSetting
from nightglass.optics.extent import Extent
from nightglass.proof.comparison import nearby_zone as proof_place
from nightglass.proof.comparison import place as proof_compared
from nightglass.proof.comparison.bench_and_sky import compare_bench_and_sky
from nightglass.proof.records import RedrawnSize, SkyFrame
from nightglass.sky.zones.zone import Zone
from nightglass.verdict.records import Interval

RUNS = 200
BENCH, ALONE, ALIKE, FOCUS = 0.03, 0.04, 0.02, 0.04
BODY = Body("Loan body", pitch_um=6.0, width_px=1500, height_px=1000)
PLACES = {"centre": (749.5, 499.5), "left": (149.5, 499.5), "corner": (149.5, 166.2)}
CELLS = {"centre": (1, 2), "left": (1, 0), "corner": (0, 0)}
SIZE = 5.0
NONE = Combined(None, None)


def radius(x: float, y: float) -> float:
    """Return the field radius of a place."""
    return math.hypot(x - 749.5, y - 499.5) / math.hypot(750, 500)


def stamp(size_px: float) -> NDArray[np.float32]:
    """Return a round Gaussian of a length."""
    y, x = np.mgrid[-9:10, -9:10]
    spot = np.exp(-0.5 * (x * x + y * y) * (3.29 / size_px) ** 2)
    return np.asarray(spot / spot.sum(), dtype=np.float32)


def by_moments(image: NDArray[np.float64], fine: int) -> Extent:
    """Return length and width of a round Gaussian; the other measures are not used here."""
    y, x = np.mgrid[-9:10, -9:10]
    length = 3.29 * math.sqrt(float((image * (x * x + y * y)).sum() / image.sum()) / 2)
    return cast(Extent, SimpleNamespace(length_px=length, width_px=length))


def bench_zone(place: str, rng: np.random.Generator) -> ZoneResult:
    """Return three repeats of a place."""
    values = SIZE * np.exp(BENCH * rng.standard_normal(3))
    mean = float(np.exp(np.log(values).mean()))
    x, y = PLACES[place]
    length = Combined(mean, None, None, tuple(float(v) for v in values))
    area = Combined(20.0, 1.0, None, (19.0, 20.0, 21.0))
    return ZoneResult(
        place, x, y, radius(x, y), 3, 0, 0, length, NONE, NONE, NONE, NONE, area,
        NONE, NONE, NONE, NONE, NONE, "repeats", stamp(mean),
    )  # fmt: skip


def sky_frame(name: str, result: SettingResult, moves: str, rng: np.random.Generator) -> SkyFrame:
    """Return a frame whose sizes are the bench's true ones, but for errors and focus."""
    zones, redrawn_sizes = [], []
    common = rng.standard_normal()
    for bench, (place, (x, y)) in zip(result.zones, PLACES.items(), strict=True):
        own = {"not": 0.0, "place by place": rng.standard_normal(), "together": common}[moves]
        size = SIZE * math.exp(FOCUS * own + ALONE * rng.standard_normal())
        row, column = CELLS[place]
        zones.append(
            Zone(row, column, x, y, radius(x, y), 40, length_px=size, length_px_err=ALONE * size,
                 width_px=size, width_px_err=ALONE * size)
        )  # fmt: skip
        # What is drawn has the bench's error; without a trail all of it.
        drawn = math.log((bench.length_px.value or SIZE) / SIZE)
        log = FOCUS * own + ALIKE * rng.standard_normal() - drawn
        redrawn_sizes.append(RedrawnSize(place, 40, log, ALIKE, 30.0, SIZE, SIZE * math.exp(log)))
    return SkyFrame(name, result.setting, tuple(zones), redrawn_sizes=tuple(redrawn_sizes))


def held(span: Interval | None) -> bool:
    """Return whether an interval holds 1."""
    return span is not None and (span.low or 0.0) <= 1 <= (span.high or 0.0)


def main() -> None:
    for module in (proof_place, proof_compared):
        module.spot_extent = by_moments  # type: ignore[attr-defined]
        module.finer = np.asarray  # type: ignore[attr-defined]
    rng = np.random.default_rng(11)
    print("settings, frames each, focus moves sizes: lens alone, as measured")
    for count in (1, 3):
        for frames in (1, 2, 3, 5):
            for moves in ("not", "place by place", "together"):
                alone, alike, total = 0, 0, 0
                for _ in range(RUNS // count):
                    settings = [
                        LensSetting(BODY.name, f"lens {k}", 24.0, 2.0) for k in range(count)
                    ]
                    results = [
                        SettingResult(s, tuple(bench_zone(p, rng) for p in PLACES))
                        for s in settings
                    ]
                    seen = [
                        sky_frame(f"{r.setting.lens} {k}", r, moves, rng)
                        for r in results
                        for k in range(frames)
                    ]
                    for proof in compare_bench_and_sky(results, seen, BODY).settings:
                        alone += sum(held(place.ratio) for place in proof.places)
                        alike += sum(held(place.as_measured_ratio) for place in proof.places)
                        total += len(proof.places)
                shares = f"{alone / total:.3f}, {alike / total:.3f}"
                print(f"{count} settings, {frames} frames, {moves}: {shares}", flush=True)


if __name__ == "__main__":
    main()
