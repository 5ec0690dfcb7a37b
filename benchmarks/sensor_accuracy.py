"""How well gain and read noise come out of 24 Mpx frames: one pair in the dark, ten lit pairs.

    python benchmarks/sensor_accuracy.py [FOLDER]

Draws sensors with gains of 0.2 to 12 electrons per count and read noise of 1 to 14 electrons, bent
by 1 %, with bands, patterns and hot pixels, in light that falls off to the corners and flickers,
writes them as raw files, measures those and prints what came out over what was planted. The goal:
gain within 1 %, read noise within 2 %. Where the read noise is under 0.4 counts only a bound is
given; it has to hold.
"""

from __future__ import annotations

import sys
import tempfile
import time
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from nightglass.frame.record import Metadata
from nightglass.scene.dng import write_dng
from nightglass.scene.flats import DARK, Chip, Light, expose_flat
from nightglass.sensor.measure import measure_sensor
from nightglass.sensor.records import IsoResult

PATTERN = np.array([[0, 1], [1, 2]], dtype=np.uint8)
WIDTH_PX, HEIGHT_PX = 6016, 4016
BLACK, CLIPPING = 512, 16383
LEVELS = np.geomspace(0.004, 0.62, 10)
GAIN_GOAL_PERCENT, NOISE_GOAL_PERCENT = 1.0, 2.0


@dataclass(frozen=True)
class Case:
    """A sensor at one ISO."""

    gain: float
    noise: float
    rows: float
    """Row noise [e]."""


CASES = (
    Case(0.2, 1.0, 0.1), Case(0.2, 3.0, 0.3), Case(0.5, 1.4, 0.2), Case(1.0, 3.0, 0.4),
    Case(2.5, 1.3, 0.1), Case(3.0, 5.0, 0.3), Case(6.0, 3.0, 0.2), Case(6.0, 9.0, 1.0),
    Case(12.0, 14.0, 1.0), Case(12.0, 2.0, 0.1),
)  # fmt: skip


def write_frames(case: Case, number: int, folder: Path) -> list[tuple[Path, str]]:
    """Write the frames of one case and return path and name of each."""
    chip = Chip(
        WIDTH_PX, HEIGHT_PX, PATTERN, BLACK + 0.3, CLIPPING, case.gain, case.noise,
        row_noise_e=case.rows, column_pattern_e=0.05 * case.noise,
        dark_pattern_e=0.15 * case.noise, response_pattern=0.008, bend=0.01, hot_share=2e-5,
        seed=number,
    )  # fmt: skip
    rng = np.random.default_rng([number, 0xF1A7])
    plan = [(DARK, 1 / 4000)] * 2
    for k, share in enumerate(LEVELS):
        for _ in range(2):
            level = share * chip.full_scale_e * (1 + 0.03 * rng.standard_normal())
            light = Light(
                level, falloff=0.6, flicker=0.04, flicker_rows=900, phase=6 * rng.random()
            )
            plan.append((light, 1 / 2 ** (9 - 0.7 * k)))
    files = []
    for k, (light, seconds) in enumerate(plan):
        path = folder / f"{k:03d}.dng"
        said = Metadata(exposure_true_s=seconds, f_number=5.6, iso=100, body="Benchmark body")
        write_dng(
            path, expose_flat(chip, light, seconds, rng), white_level=CLIPPING, pattern=PATTERN,
            black=BLACK, metadata=said, compression="none", verify=False,
        )  # fmt: skip
        files.append((path, path.name))
    return files


def verdict(case: Case, found: IsoResult) -> str:
    """Return one line: green's gain and read noise over what was planted."""
    green = found.colour()
    gain, noise = green.gain_e_per_count, green.read_noise_e
    true_noise = float(np.hypot(case.noise, case.rows))
    if gain.value is None or gain.err is None:
        return f"{case}: no gain"
    off = 100 * (gain.value / case.gain - 1)
    words = f"gain {off:+.3f} +- {100 * gain.err / case.gain:.3f} %"
    met = abs(off) < GAIN_GOAL_PERCENT
    if noise.value is not None and noise.err is not None:
        off = 100 * (noise.value / true_noise - 1)
        words += f", read noise {off:+.3f} +- {100 * noise.err / true_noise:.3f} %"
        met = met and abs(off) < NOISE_GOAL_PERCENT
    else:
        at_most = noise.at_most or 0.0
        words += f", read noise at most {at_most:.2f} e"
        met = met and at_most >= true_noise
    bend = green.bend_percent
    words += f", bend {bend.value:.2f} +- {bend.err:.2f} %" if bend.value is not None else ""
    return f"{case.gain:5.1f} e/count, {true_noise:5.2f} e: {words}  {'met' if met else 'MISSED'}"


def main() -> None:
    """Run all cases."""
    where = sys.argv[1] if len(sys.argv) > 1 else None
    print(f"{WIDTH_PX * HEIGHT_PX / 1e6:.1f} Mpx, 2 bias frames, {len(LEVELS)} pairs of flats")
    for number, case in enumerate(CASES):
        with tempfile.TemporaryDirectory(dir=where) as folder:
            files = write_frames(case, number, Path(folder))
            began = time.monotonic()
            report = measure_sensor(files)
            seconds = time.monotonic() - began
        print(f"{verdict(case, report.isos[0])}  ({seconds:.0f} s)", flush=True)


if __name__ == "__main__":
    main()
