"""The Milky Way's even light: how far it stands above the noise, in the picture or on the sky."""

from __future__ import annotations

import numpy as np

from nightglass.gear.body import Body
from nightglass.light.noise import glow_snr, mosaic_mix, pixels_per_square_degree
from nightglass.verdict.frame_light import FrameLight

PATCH_PERCENT = 1.0
"""Side of the patch of picture in which `glow` is told [% of picture height]."""


def glow_in_view(light: FrameLight, body: Body) -> float:
    """Return the signal-to-noise of the Milky Way's even light in a patch of 1 % x 1 % of picture
    height, averaged over the frame, read noise included. What lies outside the image has none."""
    patch_px = (PATCH_PERCENT / 100 * body.picture_height_px) ** 2
    snr = glow_snr(
        light.glow_e,
        light.sky_e,
        light.read_noise.electrons,
        patch_px,
        mosaic_mix(body.mosaic),
    )
    return float(snr.sum() * light.pixels / (body.width_px * body.height_px))


def glow_on_sky(light: FrameLight, body: Body) -> float:
    """Return the signal-to-noise of the Milky Way's even light per square degree, averaged over
    the solid angle of the frame, read noise included."""
    snr = glow_snr(
        light.glow_e,
        light.sky_e,
        light.read_noise.electrons,
        pixels_per_square_degree(light.pixel_solid_angle_sr),
        mosaic_mix(body.mosaic),
    )
    return float(np.average(snr, weights=light.pixel_solid_angle_sr))
