"""Cap-on frames and evenly lit frames of a sensor whose faults are known."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from nightglass.optics.arrays import Counts, Floats, Ints64

ROWS_AT_ONCE = 256
HOT_E_PER_S = 40.0
"""Dark current of the typical hot pixel [e/s]; the strength has a long tail."""


@dataclass(frozen=True)
class Chip:
    """A sensor at one ISO step with the faults that a real one has; levels in counts."""

    width_px: int
    height_px: int
    pattern: NDArray[np.uint8]
    black: float
    clipping: int
    gain_e_per_count: float
    read_noise_e: float
    row_noise_e: float = 0.0
    """Rows that jump together, anew in each frame."""
    column_pattern_e: float = 0.0
    """Columns that differ, the same in each frame."""
    dark_pattern_e: float = 0.0
    """Pixels that differ in the dark (DSNU)."""
    response_pattern: float = 0.0
    """Pixels that differ in sensitivity (PRNU), a share."""
    bend: float = 0.0
    """How far the count at full scale lies under a straight line, a share."""
    dark_e_per_s: float = 0.0
    hot_share: float = 0.0
    multiplied: float = 1.0
    """Digital factor after the counts were taken."""
    seed: int = 0
    """The same seed gives the same pixels."""

    @property
    def full_scale_e(self) -> float:
        """Electrons between black and clipping on a straight line."""
        return (self.clipping - self.black) * self.gain_e_per_count


@dataclass(frozen=True)
class Light:
    """An evenly lit surface as a lens shows it."""

    green_e: float
    """Electrons per green sample in the middle of the frame."""
    shares: tuple[float, float, float] = (0.55, 1.0, 0.7)
    """Light of red, green and blue samples over green's."""
    falloff: float = 0.0
    """Share of the light that the corners lack."""
    flicker: float = 0.0
    """Swing of a lamp on mains current down the rows, a share."""
    flicker_rows: float = 700.0
    phase: float = 0.0


DARK = Light(0.0)


def hot_pixels(chip: Chip) -> tuple[Ints64, Ints64, Floats]:
    """Return rows, columns and dark current [e/s] of the hot pixels; no place comes twice."""
    rng = np.random.default_rng([chip.seed, 0x407])
    total = chip.width_px * chip.height_px
    places = rng.choice(total, round(chip.hot_share * total), replace=False)
    current = HOT_E_PER_S * (0.2 + rng.pareto(2.0, places.size))
    return places // chip.width_px, places % chip.width_px, current


def expose_flat(chip: Chip, light: Light, exposure_s: float, rng: np.random.Generator) -> Counts:
    """Return one frame of counts, (rows, columns) uint16, of an even light or of the dark.

    The same chip has the same pattern in every frame; rng draws what differs between frames.
    """
    height, width = chip.height_px, chip.width_px
    own = np.random.default_rng([chip.seed, 0x51])
    columns_e = own.normal(0.0, 1.0, width) * chip.column_pattern_e
    hot_rows, hot_columns, hot_e_per_s = hot_pixels(chip)
    counts = np.empty((height, width), dtype=np.uint16)
    for top in range(0, height, ROWS_AT_ONCE):
        rows = np.arange(top, min(top + ROWS_AT_ONCE, height))
        shape = (rows.size, width)
        mean_e = _lit(chip, light, rows)
        if chip.response_pattern and light.green_e:
            mean_e *= 1 + chip.response_pattern * own.standard_normal(shape)
        mean_e += chip.dark_e_per_s * exposure_s
        inside = (hot_rows >= top) & (hot_rows < top + rows.size)
        mean_e[hot_rows[inside] - top, hot_columns[inside]] += hot_e_per_s[inside] * exposure_s
        electrons = rng.poisson(mean_e).astype(np.float64)
        electrons *= 1 - chip.bend * electrons / chip.full_scale_e
        electrons += rng.normal(0.0, chip.read_noise_e, shape) + columns_e
        electrons += rng.normal(0.0, 1.0, (rows.size, 1)) * chip.row_noise_e
        if chip.dark_pattern_e:
            # Drawn from a generator of its own: the light must not change what pixel is which.
            dark = np.random.default_rng([chip.seed, 0xD5, top])
            electrons += chip.dark_pattern_e * dark.standard_normal(shape)
        values = np.rint(electrons / chip.gain_e_per_count + chip.black)
        if chip.multiplied != 1:
            values = np.rint((values - chip.black) * chip.multiplied + chip.black)
        counts[rows] = np.clip(values, 0, chip.clipping).astype(np.uint16)
    return counts


def _lit(chip: Chip, light: Light, rows: Ints64) -> Floats:
    """Mean electrons of the light in some rows."""
    if not light.green_e:
        return np.zeros((rows.size, chip.width_px))
    y = rows / (chip.height_px - 1) - 0.5
    x = np.arange(chip.width_px) / (chip.width_px - 1) - 0.5
    even = 1 - light.falloff * 2 * (x[None, :] ** 2 + y[:, None] ** 2)
    swing = 1 + light.flicker * np.sin(2 * np.pi * rows / light.flicker_rows + light.phase)
    p, q = chip.pattern.shape
    colour = chip.pattern[(rows % p)[:, None], np.arange(chip.width_px) % q]
    shares = np.asarray(light.shares)[colour]
    lit: Floats = light.green_e * shares * even * swing[:, None]
    return lit
