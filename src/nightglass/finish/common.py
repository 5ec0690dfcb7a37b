"""Picture and reference on one grid: the picture's pixels, the reference in the picture's tone."""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np
from scipy.ndimage import binary_dilation, gaussian_filter, map_coordinates

from nightglass.finish.picture import STRIP_ROWS, Picture, light_of
from nightglass.finish.placing.align import Placement
from nightglass.finish.sampled import Squares, gathered, some, squares_of
from nightglass.finish.smoothing import enlarged, means, smoothed
from nightglass.finish.tone import SMOOTH_PX, Tone, slopes, tone_of
from nightglass.optics.arrays import Flags, Floats, Floats32
from nightglass.optics.extent import MAD_TO_SIGMA

ON_GRID_PX = 0.15
"""Farther than this from whole pixels the reference is drawn anew between its samples."""
SURE = 4.0
RIM_PX = 3
SAME_SCALE = 0.005
STAR_SIGMAS = 4.0
STAR_REACH_PX = 5
SLOPES_PX, SLOPES_BIN_PX = 24.0, 4
"""Deviation of the Gaussian that the sky's slopes are read from, on means of squares."""


@dataclass(frozen=True)
class Common:
    """Both pictures on the pixels of the developed one, linear light, (rows, columns, 3).

    expected: the reference in the tone of the picture, which is what a picture with nothing but
    that tone would be. reference: the same in its own light. valid: what both cover. sky: what
    is valid and no star. scale: reference pixels per pixel.
    """

    picture: Floats32
    reference: Floats32
    expected: Floats32
    valid: Flags
    sky: Flags
    tones: tuple[Tone, Tone, Tone]
    scale: float
    resampled: bool

    @property
    def rescaled(self) -> bool:
        """Whether the picture was made larger or smaller."""
        return self.resampled and abs(self.scale - 1) > SAME_SCALE

    @cached_property
    def picture_light(self) -> Floats32:
        """The picture's light of all colours together, (rows, columns)."""
        return light_of(self.picture)

    @cached_property
    def expected_light(self) -> Floats32:
        """The expected light of all colours together, (rows, columns)."""
        return light_of(self.expected)

    @cached_property
    def sampled(self) -> Common:
        """Squares of a large picture, below each other, for what noise tells; a small one whole."""
        squares = self.squares
        if not squares:
            return self
        return replace(
            self,
            picture=gathered(self.picture, squares),
            reference=gathered(self.reference, squares),
            expected=gathered(self.expected, squares),
            valid=gathered(self.valid, squares),
            sky=gathered(self.sky, squares),
        )

    @property
    def squares(self) -> Squares:
        """The squares that stand for the whole; none for a small picture."""
        return squares_of(self.valid.shape)


def on_one_grid(
    picture: Picture, reference: Picture, place: Placement, stars: tuple[Floats, Floats]
) -> Common:
    """Return both on one grid. stars: places (x, y) of clear reference stars in the picture."""
    drawn, valid, resampled = _drawn(reference.light, picture.light.shape[:2], place)
    star = _stars(smoothed(light_of(drawn), SMOOTH_PX), valid)
    star |= _stars(smoothed(picture.grey, SMOOTH_PX), valid)
    sky = valid & ~binary_dilation(star, iterations=STAR_REACH_PX)
    squares = squares_of(valid.shape)
    tones = [
        tone_of(drawn[..., k], picture.light[..., k], (valid, sky), slope)
        for k, slope in enumerate(slopes(drawn, picture.light, sky, stars, squares))
    ]
    # What the picture's numbers can't hold was clipped, not lost.
    white = picture.light.max(axis=(0, 1))
    expected = np.empty_like(drawn)
    for top in range(0, len(drawn), STRIP_ROWS):
        part = slice(top, top + STRIP_ROWS)
        for k, tone in enumerate(tones):
            expected[part, :, k] = np.minimum(tone(drawn[part, :, k]), white[k])
    return Common(
        picture.light, drawn, expected, valid, sky, (tones[0], tones[1], tones[2]),
        place.similarity.scale, resampled,
    )  # fmt: skip


def _stars(smooth: Floats32, valid: Flags) -> Flags:
    """What stands out of the sky in a smoothed picture; a sky of large slopes moves with it."""
    capped = np.minimum(smooth, np.percentile(some(smooth, valid), 95))
    flat = smooth - _slopes(capped)
    quiet = some(flat, valid)
    middle = np.median(quiet)
    spread = MAD_TO_SIGMA * np.median(np.abs(quiet - middle))
    return np.asarray(valid & (flat > middle + STAR_SIGMAS * max(float(spread), 1e-7)))


def _slopes(light: Floats32) -> Floats32:
    """The light under a wide Gaussian, drawn on means of squares and straight between them."""
    side = SLOPES_BIN_PX
    rows, columns = light.shape
    padded = np.pad(light, ((0, -rows % side), (0, -columns % side)), mode="edge")
    wide = smoothed(means(padded, side), SLOPES_PX / side)
    return enlarged(wide, side, (rows, columns))


def _drawn(
    light: Floats32, shape: tuple[int, ...], place: Placement
) -> tuple[Floats32, Flags, bool]:
    """The reference at the picture's pixels: as it is where they coincide, else by cubic splines.

    A reference of finer pixels is first blurred to the width of the picture's.
    """
    rows, columns = shape[0], shape[1]
    grid = [np.unique(np.rint(np.linspace(0, side - 1, 40))) for side in (rows, columns)]
    here = np.add.outer(1j * grid[0], grid[1])
    there = place(here)
    pixel = np.round(there.real) + 1j * np.round(there.imag)
    off = np.abs(there - pixel).max()
    # Stars smoothed flat are placed badly: within the errors whole pixels are believed.
    whole = bool(off < np.clip(SURE * place.err_px, ON_GRID_PX, 0.4))
    if whole and np.ptp((pixel - here).real) == np.ptp((pixel - here).imag) == 0:
        j, i = int(pixel[0, 0].real), int(pixel[0, 0].imag)
        if min(i, j) >= 0 and i + rows <= light.shape[0] and j + columns <= light.shape[1]:
            seen = light[i : i + rows, j : j + columns]
            return seen, np.ones((rows, columns), dtype=bool), False
    scale = place.similarity.scale
    if not whole and scale > 1.2:
        sigma = np.sqrt(scale**2 - 1) / 2
        light = np.stack([gaussian_filter(light[..., k], sigma) for k in range(3)], axis=-1)
    out = np.zeros((rows, columns, 3), dtype=np.float32)
    valid = np.zeros((rows, columns), dtype=bool)
    height, width = light.shape[:2]
    rim = 0 if whole else RIM_PX
    across = np.arange(columns, dtype=np.float64)
    for top in range(0, rows, STRIP_ROWS):
        part = slice(top, min(top + STRIP_ROWS, rows))
        z = _places(place, np.arange(part.start, part.stop, dtype=np.float64), across)
        x, y = z.real, z.imag
        valid[part] = (x > rim - 0.5) & (x < width - rim - 0.5)
        valid[part] &= (y > rim - 0.5) & (y < height - rim - 0.5)
        if whole:
            i = np.clip(np.rint(y).astype(np.intp), 0, height - 1)
            j = np.clip(np.rint(x).astype(np.intp), 0, width - 1)
            out[part] = light[i, j]
        else:
            out[part] = _between(light, y, x)
    return out, valid, not whole


def _between(light: Floats32, y: Floats, x: Floats) -> Floats32:
    """Cubic splines over the rows that a strip needs, so that no whole picture is filtered anew."""
    low = int(np.clip(np.floor(y.min()) - 12, 0, light.shape[0] - 1))
    high = int(np.clip(np.ceil(y.max()) + 13, low + 1, light.shape[0]))
    planes = [
        map_coordinates(light[low:high, :, k], [y - low, x], order=3, mode="mirror")
        for k in range(3)
    ]
    return np.stack(planes, axis=-1).astype(np.float32)


def _places(place: Placement, rows: Floats, columns: Floats) -> np.ndarray:
    x, y = np.meshgrid(columns, rows)
    return place(x + 1j * y)
