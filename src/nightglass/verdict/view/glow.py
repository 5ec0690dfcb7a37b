"""The Milky Way's even light: how far it stands above the noise, in the picture or on the sky."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import ArrayLike

from nightglass.gear.body import Body
from nightglass.light.noise import glow_snr, mosaic_mix, pixels_per_square_degree
from nightglass.optics.arrays import Floats
from nightglass.verdict.frame_light import FrameLight
from nightglass.verdict.view.cells import Cells, in_a_row, some_at_once

PATCH_PERCENT = 1.0
"""Side of the patch of picture in which `glow` is told [% of picture height]."""


def glow_in_view(light: FrameLight, body: Body) -> float:
    """Return the signal-to-noise of the Milky Way's even light in a patch of 1 % x 1 % of picture
    height, averaged over the frame, read noise included. What lies outside the image has none."""
    return glows_in_view([light], body)[0]


def glows_in_view(lights: Sequence[FrameLight], body: Body) -> list[float]:
    """Return glow_in_view of several frames of one body."""
    patch_px = (PATCH_PERCENT / 100 * body.picture_height_px) ** 2
    found = []
    for some in some_at_once(lights):
        cells = in_a_row(some)
        share = _snr(cells, patch_px, body) * cells.pixels / (body.width_px * body.height_px)
        found += [float(share[its].sum()) for its in cells.frames]
    return found


def glow_on_sky(light: FrameLight, body: Body) -> float:
    """Return the signal-to-noise of the Milky Way's even light per square degree, averaged over
    the solid angle of the frame, read noise included."""
    return glows_on_sky([light], body)[0]


def glows_on_sky(lights: Sequence[FrameLight], body: Body) -> list[float]:
    """Return glow_on_sky of several frames of one body."""
    found = []
    for some in some_at_once(lights):
        cells = in_a_row(some)
        omega = cells.pixel_solid_angle_sr
        snr = _snr(cells, pixels_per_square_degree(omega), body) * omega
        found += [float(snr[its].sum() / omega[its].sum()) for its in cells.frames]
    return found


def _snr(cells: Cells, pixels: ArrayLike, body: Body) -> Floats:
    mix = mosaic_mix(body.mosaic)
    return np.asarray(glow_snr(cells.glow_e, cells.sky_e, cells.read_noise_e, pixels, mix))
