"""Spots drawn by two independent simulators, and mosaic frames of them, with known truth.

Half of the spots come from GalSim (its own wavefront and Fourier code), half from
nightglass.optics.wavefront. The mosaic, the noise and the sub-pixel place are drawn here, apart
from the demo's sensor. Used by benchmarks/spot_accuracy.py and by tests/spot.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import galsim
import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import map_coordinates

from nightglass.frame.record import Frame
from nightglass.optics.extent import Extent, extent
from nightglass.optics.wavefront import Pupil, blurred, mixed_spot

COLOURS = ("red", "green", "blue")
WAVELENGTH_UM = {"red": 0.610, "green": 0.540, "blue": 0.460}
KINDS = ("defocus", "spherical", "coma", "astigmatism", "mixed", "trefoil", "vignetted")
MOSAICS = {
    "bayer": np.array([[0, 1], [1, 2]], dtype=np.uint8),
    "6x6": np.array(
        [
            [1, 2, 1, 1, 0, 1],
            [0, 1, 0, 2, 1, 2],
            [1, 2, 1, 1, 0, 1],
            [1, 0, 1, 1, 2, 1],
            [2, 1, 2, 0, 1, 0],
            [1, 0, 1, 1, 2, 1],
        ],
        dtype=np.uint8,
    ),
}
BLACK, FULL = 512.0, 16383.0


@dataclass(frozen=True)
class Drawn:
    """A spot on a fine grid: pixel-blurred light per colour, steps per px, and its truth."""

    light: dict[str, NDArray[np.float64]]
    steps: int
    kind: str
    simulator: str
    truth: dict[str, Extent]

    def centre_px(self, colour: str) -> tuple[float, float]:
        """Return the centre of light from the middle of the grid [px]."""
        middle = (self.light[colour].shape[0] // 2) / self.steps
        return self.truth[colour].x_px - middle, self.truth[colour].y_px - middle


@dataclass(frozen=True)
class Exposed:
    """A frame with the true centre of light per colour [px]."""

    frame: Frame
    centre_px: dict[str, tuple[float, float]]
    level: dict[str, float]
    """Light per pixel of each colour, green 1."""


def zernikes(kind: str, rng: np.random.Generator) -> NDArray[np.float64]:
    """Return Noll coefficients (index = j) of one kind of blur, to be scaled to a size."""
    c = np.zeros(16)
    turn = rng.uniform(0, 2 * np.pi)

    def pair(even: int, odd: int, order: int, size: float) -> None:
        c[even] += size * math.cos(order * turn)
        c[odd] += size * math.sin(order * turn)

    sign = rng.choice([-1.0, 1.0])
    if kind in ("defocus", "vignetted"):
        c[4] = sign
    elif kind == "spherical":
        c[11], c[4] = 0.7 * sign, rng.uniform(-0.6, 0.6)
    elif kind == "coma":
        pair(8, 7, 1, 1.0)
        c[4] = rng.uniform(-0.4, 0.4)
    elif kind == "astigmatism":
        pair(6, 5, 2, 1.0)
        c[4] = rng.uniform(-0.8, 0.8)
    elif kind == "trefoil":
        pair(10, 9, 3, 0.7)
        c[4] = rng.uniform(-0.5, 0.5)
    elif kind == "mixed":
        c[4], c[11], c[9] = rng.normal(0, 0.5), rng.normal(0, 0.2), rng.normal(0, 0.2)
        pair(8, 7, 1, rng.uniform(0.2, 0.8))
        pair(6, 5, 2, 0.5)
    return c


def scaled_to(c: NDArray[np.float64], length_um: float, f_number: float) -> NDArray[np.float64]:
    """Return the coefficients [um] with which geometric rays spread over a length."""
    shape = galsim.zernike.Zernike(c)
    r = np.sqrt(np.linspace(0.001, 1, 60))[:, None]
    t = np.linspace(0, 2 * np.pi, 60, endpoint=False)[None, :]
    x, y = r * np.cos(t), r * np.sin(t)
    rays = 2 * f_number * np.stack([shape.gradX(x, y).ravel(), shape.gradY(x, y).ravel()])
    axis = np.linalg.eigh(np.cov(rays))[1][:, 1]
    low, high = np.quantile(axis @ rays, [0.05, 0.95])
    return c * (length_um / max(high - low, 1e-9))


def draw(rng: np.random.Generator, simulator: str, smallest_px: float, largest_px: float) -> Drawn:
    """Return a spot whose green length lies in a range, its kind, lens and pixel drawn anew."""
    for _ in range(200):
        wanted = math.exp(rng.uniform(math.log(smallest_px), math.log(largest_px)))
        kind = str(rng.choice(KINDS))
        drawn = _draw_one(rng, simulator, kind, wanted)
        if drawn is not None and smallest_px <= drawn.truth["green"].length_px < largest_px:
            return drawn
    raise RuntimeError(f"no spot of {smallest_px} to {largest_px} px in 200 draws; widen the range")


def point(rng: np.random.Generator, simulator: str) -> Drawn:
    """Return a perfect lens's spot of a point."""
    drawn = _draw_one(rng, simulator, "point", 0.0)
    if drawn is None:
        raise RuntimeError("a perfect spot could not be drawn")
    return drawn


def _draw_one(
    rng: np.random.Generator, simulator: str, kind: str, wanted_px: float
) -> Drawn | None:
    pitch_um = rng.uniform(3.8, 7.9)
    f_number = math.exp(rng.uniform(math.log(1.4), math.log(4.0)))
    blur_px = math.sqrt(max(wanted_px**2 - 2.0, 0.3))
    c = np.zeros(16)
    if kind != "point":
        c = scaled_to(zernikes(kind, rng), blur_px * pitch_um, f_number)
    cat = (rng.uniform(0.2, 0.7), rng.uniform(0, 2 * np.pi)) if kind == "vignetted" else None
    steps = 8 if wanted_px < 12 else 4
    half_px = 3.3 * max(wanted_px, 4.0) * 1.25 / 2 * 1.5 + 4
    # Above 20 px our own grids would need gigabytes: GalSim draws all of those.
    make = _galsim_light if simulator == "galsim" or wanted_px > 20 else _own_light
    light = {
        colour: make(c, WAVELENGTH_UM[colour], f_number, pitch_um, cat, steps, half_px)
        for colour in COLOURS
    }
    try:
        truth = {colour: extent(image, 1 / steps) for colour, image in light.items()}
    except ValueError:
        return None
    return Drawn(light, steps, kind, simulator, truth)


def _galsim_light(c, wavelength_um, f_number, pitch_um, cat, steps, half_px):  # type: ignore[no-untyped-def]
    lam_over_diam = wavelength_um * f_number / pitch_um
    pupil = {}
    if cat is not None:
        y, x = np.mgrid[-1:1:512j, -1:1:512j] * 1.25
        shift, turn = cat
        open_ = (x**2 + y**2 < 1) & (
            (x - shift * math.cos(turn)) ** 2 + (y - shift * math.sin(turn)) ** 2 < 1.15**2
        )
        pupil = {"pupil_plane_im": galsim.Image(open_.astype(float))}
    psf = galsim.OpticalPSF(
        lam_over_diam=lam_over_diam,
        aberrations=list(c / wavelength_um),
        pad_factor=max(1.0, 2.6 * half_px / (6.2 * 40 * lam_over_diam) * 2),
        oversampling=1.5,
        suppress_warning=True,
        gsparams=galsim.GSParams(maximum_fft_size=16384),
        **pupil,
    )
    seen = galsim.Convolve(psf, galsim.Pixel(1.0))
    side = int(2 * half_px * steps) | 1
    image = seen.drawImage(nx=side, ny=side, scale=1 / steps, method="no_pixel").array
    return np.maximum(image.astype(np.float64), 0)


def _own_light(c, wavelength_um, f_number, pitch_um, cat, steps, half_px):  # type: ignore[no-untyped-def]
    # The wavefront code wants steps under half of wavelength x f-number; then every n-th is kept.
    finer = math.ceil(pitch_um / (steps * 0.499 * wavelength_um * f_number))
    step_um = pitch_um / (steps * finer)
    middle = math.ceil(half_px * steps) * finer
    shift, turn = cat or (0.0, 0.0)
    cut = {"cut_shift": (shift * math.cos(turn), shift * math.sin(turn)), "cut_radius": 1.15}
    pupil = Pupil(f_number, {j: c[j] for j in range(4, 16) if c[j]}, **(cut if cat else {}))
    seen = blurred(mixed_spot(pupil, [wavelength_um], step_um, 2 * middle), step_um, pitch_um)
    kept = seen[middle % finer :: finer, middle % finer :: finer].astype(np.float64)
    return np.maximum(kept[1:, 1:], 0) if kept.shape[0] % 2 == 0 else np.maximum(kept, 0)


def expose(
    drawn: Drawn,
    rng: np.random.Generator,
    mosaic: str,
    peak_share: tuple[float, float] = (0.35, 0.75),
    margin_px: int = 12,
) -> Exposed:
    """Return a frame of the spot: phase, place, colours, gain, noise, slope, hot pixels drawn."""
    base = MOSAICS[mosaic]
    pattern = np.roll(base, (rng.integers(6), rng.integers(6)), (0, 1))
    half = drawn.light["green"].shape[0] // 2 / drawn.steps
    height = int(2 * half) + 2 * margin_px
    width = height + 7
    cx, cy = width / 2 + rng.uniform(-2, 2), height / 2 + rng.uniform(-2, 2)
    gain = math.exp(rng.uniform(math.log(0.8), math.log(12)))
    y, x = np.mgrid[0:height, 0:width]
    colour = pattern[y % pattern.shape[0], x % pattern.shape[1]]
    level = {"red": rng.uniform(0.35, 0.9), "green": 1.0, "blue": rng.uniform(0.35, 0.9)}
    light = np.zeros((height, width))
    centre = {}
    for k, name in enumerate(COLOURS):
        turn, reach = rng.uniform(0, 2 * np.pi), 0.5 * math.sqrt(rng.uniform())
        dx, dy = (0.0, 0.0) if k == 1 else (reach * math.cos(turn), reach * math.sin(turn))
        at, middle = colour == k, drawn.light[name].shape[0] // 2
        fy = (y[at] - cy - dy) * drawn.steps + middle
        fx = (x[at] - cx - dx) * drawn.steps + middle
        light[at] = level[name] * map_coordinates(drawn.light[name], [fy, fx], order=1)
        own = drawn.centre_px(name)
        centre[name] = (cx + dx + own[0], cy + dy + own[1])
    light *= rng.uniform(*peak_share) * (FULL - BLACK) / drawn.light["green"].max()
    slope = rng.normal(0, 0.02, 2)
    light += np.maximum(rng.uniform(2, 60) + slope[0] * (x - cx) + slope[1] * (y - cy), 0)
    read_counts = max(rng.uniform(2, 8) / gain, 0.4)
    counts = rng.poisson(light * gain) / gain + rng.normal(0, read_counts, light.shape)
    counts = np.clip(np.round(counts + BLACK), 0, FULL)
    tile = np.ones(pattern.shape)
    frame = Frame(
        counts.astype(np.uint16), pattern, tile * BLACK, tile * FULL, "mosaic", file="drawn"
    )
    return Exposed(frame, centre, level)
