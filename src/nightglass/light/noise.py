"""Signal-to-noise of a star and of an even glow, and the faintest star that stands out.

A colour mosaic is a mix of samples: each colour has a share of the pixels and gathers a part of
what a green sample would. Fluxes here are "were all samples green"; the mix does the rest. With
a share s and a part r per colour, a matched filter over all samples of a star of F electrons
whose spot has the noise area A on a background of B electrons per green sample finds

    SNR^2 = sum over colours of s (F r)^2 / (A (B r + read noise^2))

to which the star's own photons add as 1/SNR^2 = 1/SNR_background^2 + 1/(F sum of s r). With one
colour this is the CCD equation, as astropy.stats.signal_to_noise_oir_ccd has it. Against the best
filter for a Gaussian star it reads 2 % high at SNR 5 and 5 % for bright stars
(tests/light/test_light_noise.py): the same for every setting, so rankings don't see it.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from nightglass.gear.body import Mosaic
from nightglass.light.defaults import BLUE_SHARE, DETECTION_SNR, RED_SHARE
from nightglass.optics.arrays import Floats


@dataclass(frozen=True)
class ColourMix:
    """Samples of a mosaic: each colour's share of the pixels, and its light over green's."""

    shares: tuple[float, ...]
    parts: tuple[float, ...]

    def __post_init__(self) -> None:
        if len(self.shares) != len(self.parts) or not math.isclose(sum(self.shares), 1.0):
            raise ValueError(
                f"shares {self.shares} and parts {self.parts}: one of each per colour, and the "
                "shares add up to 1"
            )

    @property
    def light(self) -> float:
        """Light that the mosaic gathers over what green samples everywhere would."""
        return sum(s * r for s, r in zip(self.shares, self.parts, strict=True))


ONE_COLOUR = ColourMix((1.0,), (1.0,))
_PARTS = (RED_SHARE.value, 1.0, BLUE_SHARE.value)
_MIXES: dict[Mosaic, ColourMix] = {
    "bayer": ColourMix((1 / 4, 2 / 4, 1 / 4), _PARTS),
    "6x6": ColourMix((8 / 36, 20 / 36, 8 / 36), _PARTS),
    "none": ONE_COLOUR,
}


def mosaic_mix(mosaic: Mosaic) -> ColourMix:
    """Return the mix of a mosaic with the default light per colour; ValueError if unknown."""
    if mosaic not in _MIXES:
        raise ValueError(f"mosaic {mosaic!r} is not known; use {', '.join(_MIXES)}")
    return _MIXES[mosaic]


def star_snr(
    star_e: ArrayLike,
    noise_area_px: ArrayLike,
    background_e: ArrayLike,
    read_noise_e: ArrayLike,
    mix: ColourMix = ONE_COLOUR,
) -> Floats:
    """Return the signal-to-noise of stars under a matched filter over all colours.

    star_e: electrons of the star were all samples green; background_e: sky, glow and dark
    electrons per green sample; noise_area_px: (sum)^2 / sum of squares of the spot. Broadcast
    shape; 0 for a star of 0. Raises ValueError for negative values or an area of 0.
    """
    f = np.asarray(star_e, dtype=np.float64)
    _check_not_negative(star_e=f)
    with np.errstate(divide="ignore"):
        inverse = 1 / background_weight(noise_area_px, background_e, read_noise_e, mix) / f**2
        return 1 / np.sqrt(inverse + 1 / (f * mix.light))


def limiting_star_e(
    noise_area_px: ArrayLike,
    background_e: ArrayLike,
    read_noise_e: ArrayLike,
    mix: ColourMix = ONE_COLOUR,
    snr: float = DETECTION_SNR.value,
) -> Floats:
    """Return the electrons of the star that stands out at a signal-to-noise, in closed form.

    The positive root of F^2 / snr^2 - F / (sum of s r) - 1 / w = 0, where w F^2 is the SNR^2
    against the background alone; the inverse of star_snr in its first argument.
    """
    if not snr > 0:
        raise ValueError(f"snr is {snr:g}; a signal-to-noise is above 0, 5 for a sure star")
    weight = background_weight(noise_area_px, background_e, read_noise_e, mix)
    own = snr**2 / mix.light
    with np.errstate(divide="ignore"):
        return own / 2 + np.sqrt(own**2 / 4 + snr**2 / weight)


def glow_snr(
    glow_e: ArrayLike,
    background_e: ArrayLike,
    read_noise_e: ArrayLike,
    pixels: ArrayLike,
    mix: ColourMix = ONE_COLOUR,
) -> Floats:
    """Return the signal-to-noise of an even glow over a number of pixels, read noise included.

    glow_e: its electrons per green sample; background_e: the sky's beside it; pixels: all samples
    of the patch, so for `glow` those of a square degree (pixels_per_square_degree). Broadcast
    shape. Raises ValueError for negative values.
    """
    glow, sky, noise, n = np.broadcast_arrays(
        *(np.asarray(v, dtype=np.float64) for v in (glow_e, background_e, read_noise_e, pixels))
    )
    _check_not_negative(glow_e=glow, background_e=sky, read_noise_e=noise, pixels=n)
    with np.errstate(divide="ignore", invalid="ignore"):
        per_pixel = sum(
            s * (glow * r) ** 2 / ((glow + sky) * r + noise**2)
            for s, r in zip(mix.shares, mix.parts, strict=True)
        )
        return np.where(glow > 0, np.sqrt(n * per_pixel), 0.0)


def pixels_per_square_degree(pixel_solid_angle_sr: ArrayLike) -> Floats:
    """Return how many pixels of a solid angle [sr] a square degree holds."""
    return math.radians(1.0) ** 2 / np.asarray(pixel_solid_angle_sr, dtype=np.float64)


def noise_lengthening_percent(read_noise_e: ArrayLike, sky_e: ArrayLike) -> Floats:
    """Return by how much read noise lengthens the noise of the sky alone [%].

    100 (sqrt(1 + read noise^2 / sky) - 1); sky_e: electrons per sample. inf without any sky.
    """
    noise, sky = np.asarray(read_noise_e, dtype=np.float64), np.asarray(sky_e, dtype=np.float64)
    _check_not_negative(read_noise_e=noise, sky_e=sky)
    with np.errstate(divide="ignore", invalid="ignore"):
        return 100 * (np.sqrt(1 + noise**2 / sky) - 1)


def background_weight(
    noise_area_px: ArrayLike, background_e: ArrayLike, read_noise_e: ArrayLike, mix: ColourMix
) -> Floats:
    """Return SNR^2 / F^2 of a star against the background alone: no photon noise of its own.

    Arguments and errors as for star_snr; inf without any background.
    """
    area, sky, noise = np.broadcast_arrays(
        *(np.asarray(v, dtype=np.float64) for v in (noise_area_px, background_e, read_noise_e))
    )
    _check_not_negative(background_e=sky, read_noise_e=noise)
    if np.any(area <= 0):
        raise ValueError(f"noise_area_px is {np.min(area):g}; a spot covers more than 0 pixels")
    with np.errstate(divide="ignore"):
        weight: Floats = sum(
            (s * r**2 / (area * (sky * r + noise**2)))
            for s, r in zip(mix.shares, mix.parts, strict=True)
        )
    return weight


def _check_not_negative(**values: Floats) -> None:
    for name, value in values.items():
        if np.any(value < 0):
            raise ValueError(f"{name} is {np.min(value):g}; it can't be negative")
