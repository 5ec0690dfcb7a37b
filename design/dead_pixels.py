"""Dead blocks inside spots: how many that matter are found, and how many sound spots suffer.

Run: python design/dead_pixels.py [spots per kind and mosaic, default 12]. Spots of 5 to 45 px:
Gaussians, discs, rings of light with a dark middle, cat's eyes, lines, coma, ellipses; edges
blurred by 0.25 to 0.7 px and the pixel; red and blue shifted by 0.35 px against green. Each is
looked at whole, where every sample called dead is a false one, and with two dead blocks of 2 x 2 to
4 x 4 samples, one after the other, anywhere within 0.62 lengths of its centre. A block matters
where it moves the length or width of the noiseless green light by more than half of the error that
a frame states at least (spot/trust.py). It is found where three quarters of the light that it takes
away are called dead.
"""

from __future__ import annotations

import math
import sys
from collections import defaultdict
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import gaussian_filter

sys.path.append(str(Path(__file__).parents[1] / "benchmarks"))

from drawn_spots import MOSAICS

from nightglass.frame.record import Frame
from nightglass.optics.extent import (
    GAUSSIAN_LENGTH,
    RING_OUTER,
    Extent,
    NoLightError,
    extent,
    within,
)
from nightglass.spot.dead import without_dead
from nightglass.spot.patch import Patch, cut
from nightglass.spot.shape import distance
from nightglass.spot.trust import method_err

BLACK, FULL, FINE, SKY, READ = 512.0, 16383.0, 4, 20.0, 3.0
DISC_LENGTH = 0.805384
"""length_px of an even disc over its diameter."""
LONG_PX = 12.0
KINDS = ("Gaussian", "disc", "ring", "cat's eye", "line", "coma", "ellipse")
Light = NDArray[np.float64]
Block = tuple[slice, slice]


@dataclass(frozen=True)
class Drawn:
    """One exposed spot, its noiseless green light and the measures of that."""

    samples: NDArray[np.uint16]
    pattern: NDArray[np.uint8]
    green: Light
    truth: Extent


def shape(kind: str, length: float, rng: np.random.Generator) -> Callable[[Light, Light], Light]:
    """Return the light of a spot over the offsets from its middle [px], before any blur."""
    turn, ratio, hole = rng.uniform(0, 2 * np.pi), rng.uniform(0.5, 1), rng.uniform(0, 0.55)
    cat, width, flare = rng.uniform(0.3, 0.9), rng.uniform(1.2, 4.0), rng.uniform(1, 2)
    radius = length / DISC_LENGTH / 2

    def light(dx: Light, dy: Light) -> Light:
        u, v = np.cos(turn) * dx + np.sin(turn) * dy, np.cos(turn) * dy - np.sin(turn) * dx
        far = np.hypot(u, v)
        if kind == "Gaussian":
            sigma = length / GAUSSIAN_LENGTH
            return np.exp(-0.5 * ((u / sigma) ** 2 + (v / (ratio * sigma)) ** 2))
        if kind == "line":
            return 1.0 * ((np.abs(u) < length / 1.8) & (np.abs(v) < width / 2))
        if kind == "ellipse":
            return 1.0 * ((u / radius) ** 2 + (v / (radius * max(0.15, ratio - 0.35))) ** 2 < 1)
        if kind == "coma":
            sizes = [(k / 24) ** 2 * length / 3 for k in range(1, 25)]
            circles = [
                (np.hypot(u - flare * s + length / 3, v) < s + 0.4) * np.sqrt(s) / (s + 0.4) ** 2
                for s in sizes
            ]
            return np.sum(circles, axis=0)
        second = np.hypot(u - cat * radius, v) < 1.1 * radius if kind == "cat's eye" else True
        inner = hole * radius if kind == "ring" else 0.0
        # A bright rim, as spherical aberration gives.
        return (far < radius) * (far >= inner) * second * (1 + 0.4 * (far / radius) ** 2)

    return light


def draw(kind: str, mosaic: str, rng: np.random.Generator) -> Drawn:
    """Return a spot off the pixel grid, with photon and read noise, on a mosaic of any phase."""
    length = math.exp(rng.uniform(math.log(5), math.log(45)))
    light, blur = shape(kind, length, rng), 0.0 if kind == "Gaussian" else rng.uniform(0.25, 0.7)
    half = int(3.1 * length) + 14
    side = 2 * half + 1
    axis = (np.arange(side * FINE) + 0.5) / FINE - side / 2
    x, y = rng.uniform(-0.5, 0.5, 2)
    planes = []
    for colour, level in enumerate((rng.uniform(0.35, 0.9), 1.0, rng.uniform(0.35, 0.9))):
        dx, dy = (0.0, 0.0) if colour == 1 else rng.normal(0, 0.35, 2)
        fine = light(axis[None, :] - x - dx, axis[:, None] - y - dy)
        fine = gaussian_filter(fine.astype(np.float64), blur * FINE)
        planes.append(level * fine.reshape(side, FINE, side, FINE).mean(axis=(1, 3)))
    scale = math.exp(rng.uniform(math.log(800), math.log(11000))) / planes[1].max()
    pattern = np.roll(MOSAICS[mosaic], tuple(rng.integers(0, 6, 2)), (0, 1))
    rows, columns = np.indices((side, side))
    seen = SKY + scale * np.choose(pattern[rows % len(pattern), columns % len(pattern)], planes)
    gain = math.exp(rng.uniform(math.log(0.8), math.log(8)))
    counts = rng.poisson(seen * gain) / gain + rng.normal(BLACK, READ, seen.shape)
    samples = np.clip(np.round(counts), 0, FULL).astype(np.uint16)
    return Drawn(samples, pattern, scale * planes[1], extent(scale * planes[1]))


def spoilt(drawn: Drawn, rng: np.random.Generator) -> tuple[Drawn, Block]:
    """Return the spot with a block in it that reads black, or nothing at all, and its place."""
    height, width = (int(v) for v in rng.integers(2, 5, 2))
    away, turn = rng.uniform(0, 0.62) * drawn.truth.length_px, rng.uniform(0, 2 * np.pi)
    row = round(drawn.truth.y_px + away * math.sin(turn) - (height - 1) / 2)
    column = round(drawn.truth.x_px + away * math.cos(turn) - (width - 1) / 2)
    block = slice(row, row + height), slice(column, column + width)
    samples = drawn.samples.copy()
    dead = rng.integers(-3, 4, (height, width)) if rng.random() < 0.7 else 12 - BLACK
    samples[block] = BLACK + dead
    return Drawn(samples, drawn.pattern, drawn.green, drawn.truth), block


def patch_of(drawn: Drawn) -> Patch:
    """Return the patch around a spot, cut for its true aperture."""
    tile = np.ones(drawn.pattern.shape)
    frame = Frame(drawn.samples, drawn.pattern, tile * BLACK, tile * FULL, "mosaic")
    truth = drawn.truth
    return cut(frame, truth.x_px, truth.y_px, math.ceil(RING_OUTER * truth.aperture_px) + 6)


def called_dead(drawn: Drawn) -> NDArray[np.bool_]:
    """Return which samples of the whole frame are called dead."""
    patch = patch_of(drawn)
    inside = distance(patch, drawn.truth.x_px, drawn.truth.y_px) <= drawn.truth.aperture_px
    rows, columns = np.nonzero(without_dead(patch, inside).dead)
    called = np.zeros(drawn.samples.shape, dtype=bool)
    called[rows + patch.top_px, columns + patch.left_px] = True
    return called


def matters(drawn: Drawn, block: Block) -> bool:
    """Whether a block moves a size of the green light by over half of the stated error."""
    light, truth = drawn.green.copy(), drawn.truth
    light[block] = 0
    try:
        moved = within(light, 1.0, truth.x_px, truth.y_px, truth.aperture_px)
    except NoLightError:
        return True
    error = method_err("length_px", truth.length_px, 0.0, "bayer")
    steps = moved.length_px - truth.length_px, moved.width_px - truth.width_px
    return max(abs(step) for step in steps) > 0.5 * error


def main(spots: int) -> None:
    """Print the share found of the blocks that matter and the false calls, per kind and size."""
    found, false = defaultdict(list), defaultdict(list)
    for kind in KINDS:
        for number in range(2 * spots):
            rng = np.random.default_rng([11, KINDS.index(kind), number])
            whole = draw(kind, ("bayer", "6x6")[number % 2], rng)
            group = kind, whole.truth.length_px > LONG_PX
            false[group].append(bool(called_dead(whole).any()))
            for _ in range(2):
                bad, block = spoilt(whole, rng)
                if matters(bad, block):
                    lost = np.abs(bad.samples.astype(float) - whole.samples)
                    share = lost[called_dead(bad)].sum() / max(lost.sum(), 1.0)
                    found[group].append(share >= 0.75)
    print(f"{'':24s}found of those that matter   sound spots called dead")
    for long in (False, True):
        size = f"{'over' if long else 'up to'} {LONG_PX:g} px"
        for kinds in (*((kind,) for kind in KINDS), KINDS):
            name = kinds[0] if len(kinds) == 1 else "all"
            groups = [(kind, long) for kind in kinds]
            print(f"{name + ', ' + size:24s}{_of(found, groups):28s}{_of(false, groups)}")


def _of(table: dict[tuple[str, bool], list[bool]], groups: list[tuple[str, bool]]) -> str:
    several = [one for group in groups for one in table.get(group, [])]
    return f"{sum(several)} of {len(several)}"


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else 12)
