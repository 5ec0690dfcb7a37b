"""Dead blocks of 4 x 4 pixels inside spots: how often they are found, and what they cost.

Run: python design/dead_pixels.py [spots]. Spots are Gaussians of 5 to 23 px length and rings of
light with a dark middle (a defocused mirror lens), edges blurred by 0.25 to 0.7 px and the pixel;
the three colours are shifted against each other by 0.5 px. Each is measured whole, where every
sample called dead is a false one, and with a block of samples at black somewhere inside 0.4
lengths. The shares in spot/dead.py were set so that no whole spot is touched.
"""

from __future__ import annotations

import sys
from collections import defaultdict
from dataclasses import replace
from pathlib import Path

import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import gaussian_filter

sys.path.append(str(Path(__file__).parents[1] / "benchmarks"))

from drawn_spots import MOSAICS

from nightglass.frame.record import Frame
from nightglass.spot.measure import measure_frame
from nightglass.spot.record import Spot

ROWS, COLUMNS, FINE, BLACK = 210, 240, 4, 512.0
DEAD = "dead pixels inside"
Y, X = np.mgrid[: ROWS * FINE, : COLUMNS * FINE] / FINE - 0.375
Light = NDArray[np.float64]


def drawn(rng: np.random.Generator, ring: bool) -> tuple[Light, Light, Light]:
    """Return the light of red, green and blue [counts], off the pixel grid."""
    x, y = rng.uniform(118, 122), rng.uniform(86, 90)
    sigma, ratio = rng.uniform(1.5, 7), rng.uniform(0.5, 1)
    radius, hole, blur = rng.uniform(5, 12), rng.uniform(0, 0.45), rng.choice([0.25, 0.4, 0.7])
    planes = []
    for level in (0.55, 1.0, 0.7):
        dx, dy = X - x - rng.normal(0, 0.5), Y - y - rng.normal(0, 0.5)
        if ring:
            far = np.hypot(dx, dy)
            lit = (far < radius) & (far > hole * radius)
            light = gaussian_filter(7000.0 * lit, blur * FINE)
        else:
            light = 9000 * np.exp(-0.5 * ((dx / sigma) ** 2 + (dy / (ratio * sigma)) ** 2))
        planes.append(level * light.reshape(ROWS, FINE, COLUMNS, FINE).mean(axis=(1, 3)))
    return planes[0], planes[1], planes[2]


def exposed(light: tuple[Light, Light, Light], mosaic: str, rng: np.random.Generator) -> Frame:
    """Return a mosaic frame with photon and read noise."""
    pattern = MOSAICS[mosaic]
    rows, columns = np.indices((ROWS, COLUMNS))
    colour = pattern[rows % len(pattern), columns % len(pattern)]
    seen = 20 + np.choose(colour, light)
    counts = rng.poisson(seen * 2) / 2 + rng.normal(BLACK, 3, seen.shape)
    samples = np.clip(np.round(counts), 0, 16383).astype(np.uint16)
    levels = np.ones(pattern.shape)
    return Frame(samples, pattern, levels * BLACK, levels * 16383.0, "mosaic", file="drawn")


def green(frame: Frame) -> Spot:
    """Return the green spot of a frame."""
    return next(spot for spot in measure_frame(frame).spots if spot.colour == "green")


def main(spots: int) -> None:
    """Print false finds, finds, and how far the length moves, per kind of spot."""
    seen = defaultdict(list)
    false = whole_spots = 0
    for number in range(spots):
        rng = np.random.default_rng([5, number])
        light = drawn(rng, ring=bool(number % 2))
        for mosaic in ("bayer", "6x6"):
            frame = exposed(light, mosaic, rng)
            whole = green(frame)
            if whole.length_px is None or whole.x_px is None or whole.y_px is None:
                continue
            whole_spots += 1
            false += DEAD in whole.flags
            away, turn = rng.uniform(0, 0.4) * whole.length_px, rng.uniform(0, 2 * np.pi)
            row = int(whole.y_px + away * np.sin(turn)) - 2
            column = int(whole.x_px + away * np.cos(turn)) - 2
            samples = frame.samples.copy()
            samples[row : row + 4, column : column + 4] = BLACK + rng.integers(-3, 4, (4, 4))
            spoilt = green(replace(frame, samples=samples))
            kind = ("Gaussian", "ring")[number % 2], whole.length_px > 12
            moved = np.nan if spoilt.length_px is None else spoilt.length_px / whole.length_px - 1
            seen[kind].append((DEAD in spoilt.flags, abs(moved)))
    print(f"{false} of {whole_spots} whole spots called dead")
    for (kind, long), several in sorted(seen.items()):
        found = np.array([flag for flag, _ in several])
        moved = np.array([change for _, change in several])
        print(
            f"{kind}, {'over' if long else 'up to'} 12 px: {len(several)} spots, "
            f"{found.mean():.0%} found; length moved by at most {_most(moved[found])} where found, "
            f"{_most(moved[~found])} where not; no sizes in {np.isnan(moved).mean():.0%}"
        )


def _most(moved: Light) -> str:
    return f"{np.nanmax(moved):.1%}" if np.isfinite(moved).any() else "-"


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else 60)
