"""An artificial star behind a lens: its noiseless light on a fine grid, pixel blur included."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
import scipy.fft

from nightglass.optics.arrays import Floats32
from nightglass.optics.wavefront import Pupil, blurred, mixed_spot, steepest_um

Shift = tuple[float, float]

WAVELENGTHS_UM: dict[int, tuple[float, ...]] = {
    0: (0.59, 0.615, 0.64),
    1: (0.51, 0.54, 0.57),
    2: (0.45, 0.47, 0.49),
}
"""Wavelengths by colour number (0 red, 1 green, 2 blue): three samples of each filter's band."""
LED_COLOUR = (0.62, 1.0, 0.56)
"""Electrons in red, green and blue from a warm white LED, green 1 (a stated choice)."""
LEAST_STEPS = 4
"""Fine samples per pixel, at least."""
MARGIN_PX = 11.0
"""Room around the rays: the background ring of a perfect spot reaches to 10 px."""


@dataclass(frozen=True)
class Star:
    """One point of light as a lens shows it.

    x_px, y_px: ideal green image, raw pixels of the frame.
    red_shift_px, blue_shift_px: lateral colour, image in red or blue minus green (x, y).
    source_um: diameter of the source's image on the sensor [um].
    """

    pupil: Pupil
    x_px: float
    y_px: float
    red_shift_px: Shift = (0.0, 0.0)
    blue_shift_px: Shift = (0.0, 0.0)
    source_um: float = 0.0


@dataclass(frozen=True)
class FineSpot:
    """Noiseless light through square pixels, by colour number.

    light: per colour (rows, columns), `steps` samples to a pixel. Sample (i, j) is what a pixel
        whose centre lies there would collect: the share of the light of the lens's full opening.
    left_px, top_px: raw coordinates of sample [0, 0].
    """

    light: dict[int, Floats32]
    steps: int
    left_px: int
    top_px: int

    def on_pixels(self, colour: int) -> Floats32:
        """Return the share of the light that each raw pixel of the window collects."""
        return self.light[colour][:: self.steps, :: self.steps]


def fine_spot(star: Star, pitch_um: float, colours: tuple[int, ...] = (0, 1, 2)) -> FineSpot:
    """Return the star's light on a grid fine enough that it never aliases."""
    finest = 0.5 * min(min(WAVELENGTHS_UM[c]) for c in colours) * star.pupil.f_number
    # A fast length, else no number of pixels makes the whole grid fast.
    steps = scipy.fft.next_fast_len(max(LEAST_STEPS, math.ceil(pitch_um / finest)))
    pixels = _window_px(star, pitch_um, steps)
    column, row = round(star.x_px), round(star.y_px)
    shifts = {0: star.red_shift_px, 1: (0.0, 0.0), 2: star.blue_shift_px}
    light = {}
    for colour in colours:
        shift_um = (
            (star.x_px - column + shifts[colour][0]) * pitch_um,
            (star.y_px - row + shifts[colour][1]) * pitch_um,
        )
        sharp = mixed_spot(
            star.pupil, WAVELENGTHS_UM[colour], pitch_um / steps, pixels * steps, shift_um
        )
        seen = blurred(sharp, pitch_um / steps, pitch_um, star.source_um)
        light[colour] = np.maximum(seen * np.float32(steps**2), np.float32(0))
    return FineSpot(light, steps, column - pixels // 2, row - pixels // 2)


def _window_px(star: Star, pitch_um: float, steps: int) -> int:
    """Return an even number of pixels that holds the spot and is fast to transform."""
    rays_um = 2 * star.pupil.f_number * steepest_um(star.pupil)
    shift_px = max(math.hypot(*star.red_shift_px), math.hypot(*star.blue_shift_px))
    half = math.ceil(1.1 * rays_um / pitch_um + shift_px + MARGIN_PX)
    while scipy.fft.next_fast_len(2 * half * steps) != 2 * half * steps:
        half += 1
    return 2 * half
