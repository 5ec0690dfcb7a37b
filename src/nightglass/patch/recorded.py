"""A patch of the sky as one setting records it: electrons in raw pixels, with their noise.

Pixels are grey: each gathers what the mosaic's samples gather in the mean, and has the readout
noise of one sample.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from scipy.fft import irfft2, next_fast_len, rfft2
from scipy.ndimage import rotate

from nightglass.bench.records import ZoneResult
from nightglass.gear.body import Body
from nightglass.light.defaults import V_MINUS_G
from nightglass.light.noise import mosaic_mix
from nightglass.light.photons import star_e_per_s
from nightglass.optics.arrays import Floats
from nightglass.optics.extent import trailed
from nightglass.patch.stars import PatchStars
from nightglass.verdict.blur import REACH, inside_aperture, spot_image
from nightglass.verdict.candidate import Candidate

FINER = 3
"""Stars are put on a net so many times finer than the pixels, drawn, and read at the pixels."""


@dataclass(frozen=True)
class FramePlace:
    """A place of the frame: field radius and direction (0 right, 90 down), by its name."""

    name: str
    field_radius: float
    direction_degrees: float

    def of_sides(self, body: Body) -> tuple[float, float]:
        """Return the place from side to side and from top to bottom, each -1 to 1."""
        corner, turn = (
            math.hypot(body.width_mm, body.height_mm),
            math.radians(self.direction_degrees),
        )
        return (
            self.field_radius * math.cos(turn) * corner / body.width_mm,
            self.field_radius * math.sin(turn) * corner / body.height_mm,
        )


@dataclass(frozen=True)
class RecordedPatch:
    """What a setting records of a patch, in electrons of a grey pixel: arrays (rows, columns)."""

    electrons: Floats
    """With noise."""
    clean: Floats
    """Without."""
    sky_e: float
    """The sky beside the Milky Way."""
    pixels_per_degree: float
    spot: Floats
    """Every star's spot with its trail, 1 px steps, sum 1."""
    at_limit: bool
    """The spot counts with its upper bound."""
    frames: int
    read_noise_e: float


def recorded_patch(
    one: Candidate, stars: PatchStars, place: FramePlace, seed: int, frames: int = 1
) -> RecordedPatch:
    """Return a patch as a setting records it at a place of its frame.

    frames: stacked, their mean. The Milky Way's even light lies over the lower half of the patch,
    with a soft edge. Raises ValueError for fewer than one frame, and where no place near that
    field radius was measured.
    """
    if frames < 1:
        raise ValueError(f"frames is {frames}; at least 1")
    light, mix = one.light, mosaic_mix(one.body.mosaic).light
    cell = _cell(one, place)
    zone = nearest_zone(one, place)
    spot = _spot(zone, one, place, cell)
    scale = 1 / math.degrees(math.sqrt(float(light.pixel_solid_angle_sr[cell])))
    side = math.ceil(stars.side_degrees * scale)
    per_star = star_e_per_s(
        stars.magnitude_g + V_MINUS_G.value, light.path, float(light.pupil_falloff[cell]),
        light.extinction_mag,
    )  # fmt: skip
    drawn = _drawn(stars, per_star * light.exposure_s * mix, spot, scale, side)
    sky, glow = float(light.sky_e[cell]) * mix, float(light.glow_e[cell]) * mix
    clean = drawn + sky + glow * _milky_way(side)[:, None]
    rng = np.random.default_rng(seed)
    read = light.read_noise.electrons
    counted = rng.poisson(np.maximum(clean, 0.0) * frames) + rng.normal(
        0.0, read * math.sqrt(frames), clean.shape
    )
    at_limit = zone.length_px.value is None
    return RecordedPatch(counted / frames, clean, sky, scale, spot, at_limit, frames, read)


def nearest_zone(one: Candidate, place: FramePlace) -> ZoneResult:
    """Return the measured place of a setting that is nearest in field radius.

    Raises ValueError where none is within 0.3 of it.
    """
    nearest = min(one.zones, key=lambda zone: abs(zone.field_radius - place.field_radius))
    if abs(nearest.field_radius - place.field_radius) > REACH:
        setting = one.result.setting
        raise ValueError(
            f"{setting.lens} at f/{setting.f_number:g} was not tested near {place.name}; measured "
            f"are: {', '.join(zone.place for zone in one.zones)}"
        )
    return nearest


def _cell(one: Candidate, place: FramePlace) -> int:
    light, radius = one.light, math.hypot(one.body.width_mm, one.body.height_mm) / 2
    turn = math.radians(place.direction_degrees)
    x, y = (radius * place.field_radius * f(turn) for f in (math.cos, math.sin))
    return int(np.argmin((light.x_mm - x) ** 2 + (light.y_mm - y) ** 2))


def _spot(zone: ZoneResult, one: Candidate, place: FramePlace, cell: int) -> Floats:
    """The zone's spot turned about the centre to the place, drawn along the trail there."""
    spot = inside_aperture(spot_image(zone), zone.length_px.bound or 0.0)
    spot = np.maximum(spot, 0.0)
    turn = 0.0 if zone.field_radius < 0.05 else place.direction_degrees - zone_direction(zone, one)
    if turn % 360:
        # Rows run down: a turn from +x toward +y is clockwise on the screen.
        corner = math.ceil(0.21 * max(spot.shape)) + 1
        spot = np.maximum(rotate(np.pad(spot, corner), -turn, order=3, reshape=False), 0.0)
    drawn = trailed(spot, float(one.light.trail_px[cell]), float(one.light.trail_degrees[cell]))
    drawn = np.maximum(drawn, 0.0)
    return np.asarray(drawn / drawn.sum())


def zone_direction(zone: ZoneResult, one: Candidate) -> float:
    """Return the direction of a zone from the frame's middle [degrees, 0 right, 90 down]."""
    body = one.body
    return math.degrees(
        math.atan2(zone.y_px - (body.height_px - 1) / 2, zone.x_px - (body.width_px - 1) / 2)
    )


def _drawn(stars: PatchStars, electrons: Floats, spot: Floats, scale: float, side: int) -> Floats:
    """Stars drawn with one spot, (side, side) pixels."""
    room = math.ceil(max(spot.shape) / 2) + 2
    count = side + 2 * room
    net = _splat(stars, electrons, scale * FINER, FINER * count, FINER * (count - 1) / 2)
    fine = _finer(spot)
    shape = tuple(next_fast_len(net.shape[k] + fine.shape[k], real=True) for k in (0, 1))
    together = irfft2(rfft2(net, shape) * rfft2(fine, shape), shape)
    # The middle sample of the spot is the star's place.
    top, left = (n // 2 for n in fine.shape)
    whole = together[top : top + net.shape[0] : FINER, left : left + net.shape[1] : FINER]
    return np.asarray(whole[room : room + side, room : room + side]) * FINER**2


def _splat(
    stars: PatchStars, electrons: Floats, net_per_degree: float, size: int, middle: float
) -> Floats:
    """Stars shared by the four points of a net around each."""
    x, y = middle + stars.x_degrees * net_per_degree, middle + stars.y_degrees * net_per_degree
    kept = (x >= 0) & (y >= 0) & (x < size - 1) & (y < size - 1)
    x, y, light = x[kept], y[kept], electrons[kept]
    column, row = np.floor(x).astype(int), np.floor(y).astype(int)
    right, down = x - column, y - row
    net = np.zeros((size, size))
    for dx, dy, share in (
        (0, 0, (1 - right) * (1 - down)), (1, 0, right * (1 - down)),
        (0, 1, (1 - right) * down), (1, 1, right * down),
    ):  # fmt: skip
        np.add.at(net, (row + dy, column + dx), light * share)
    return net


def _finer(spot: Floats) -> Floats:
    """A spot on a net FINER times as fine, its middle kept, its sum 1.

    Zeros around its spectrum: nothing is added that the samples do not hold.
    """
    padded = np.pad(spot, 1)
    odd = [n if n % 2 else n + 1 for n in padded.shape]
    padded = np.pad(padded, [(0, o - n) for o, n in zip(odd, padded.shape, strict=True)])
    spectrum = np.fft.fftshift(np.fft.fft2(np.fft.ifftshift(padded)))
    wide = [FINER * n for n in odd]
    around = [((w - n) // 2, w - n - (w - n) // 2) for w, n in zip(wide, odd, strict=True)]
    fine = np.fft.fftshift(np.fft.ifft2(np.fft.ifftshift(np.pad(spectrum, around)))).real
    # ifft2 divides by the finer count: the sum over the net is that of the spot.
    return np.asarray(fine / fine.sum())


def _milky_way(side: int) -> Floats:
    """Share of the Milky Way's light by row: none above, all below, a soft edge between."""
    row = (np.arange(side) + 0.5) / side - 0.5
    return np.asarray(0.5 * (1 + np.tanh(row / 0.06)))
