"""A recorded patch as a viewer sees it: the picture's scale, the eye's blur, one tone curve."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import gaussian_filter, map_coordinates

from nightglass.gear.body import Body
from nightglass.optics.arrays import Floats
from nightglass.patch.recorded import RecordedPatch
from nightglass.verdict.view.eye import Eye

SAMPLES_PER_EYE = 3.0
"""Samples of the drawn picture per full width of the eye's blur: finer shows nothing more."""
BLACK, WHITE = 0.6, 6.0
"""Light over the sky's that is drawn black, and white: the same for every setting."""


@dataclass(frozen=True)
class ViewedPatch:
    """A patch in the viewed picture: grey levels 0 to 255, and the size of a sample."""

    grey: NDArray[np.uint8]
    sample_percent: float
    """Of the height of the frame that recorded it."""


def viewed_patch(patch: RecordedPatch, body: Body, eye: Eye) -> ViewedPatch:
    """Return a patch as an eye sees it in the whole picture, blur and noise included.

    eye: its blur over the height of the frame; of a panorama as `made.eye_in` says.
    """
    sample_percent = eye.eye_percent / SAMPLES_PER_EYE
    step_px = sample_percent / 100 * body.picture_height_px
    blurred = gaussian_filter(patch.electrons, eye.sigma_px(body), mode="nearest", truncate=5)
    side = blurred.shape[0]
    count = max(1, math.floor(side / step_px))
    at = (np.arange(count) + 0.5) * step_px - 0.5
    rows, columns = np.meshgrid(at, at, indexing="ij")
    seen = map_coordinates(blurred, [rows, columns], order=1, mode="nearest")
    return ViewedPatch(toned(seen / patch.sky_e), sample_percent)


def toned(light: Floats) -> NDArray[np.uint8]:
    """Return grey levels of light over the sky's: even steps between black and white, then the
    curve of sRGB (IEC 61966-2-1). Equal for all settings."""
    share = np.clip((light - BLACK) / (WHITE - BLACK), 0.0, 1.0)
    curve = np.where(share <= 0.0031308, 12.92 * share, 1.055 * np.power(share, 1 / 2.4) - 0.055)
    return np.asarray(np.rint(255 * curve), dtype=np.uint8)
