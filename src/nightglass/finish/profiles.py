"""Colour spaces: embedded profiles, and the spaces of the standards that a picture may be in."""

from __future__ import annotations

import io
from functools import cache, lru_cache
from typing import Any

import imagecodecs
import numpy as np
from numpy.typing import NDArray
from PIL import ImageCms

from nightglass.optics.arrays import Counts, Floats32
from nightglass.optics.compiled import compiled

D65, D50 = (0.3127, 0.3290), (0.3457, 0.3585)
SPACES: dict[str, tuple[tuple[float, float], tuple[float, ...], float | None]] = {
    "sRGB": (D65, (0.64, 0.33, 0.30, 0.60, 0.15, 0.06), None),
    "linear sRGB": (D65, (0.64, 0.33, 0.30, 0.60, 0.15, 0.06), 1.0),
    "opRGB": (D65, (0.64, 0.33, 0.21, 0.71, 0.15, 0.06), 563 / 256),
    "P3-D65": (D65, (0.680, 0.320, 0.265, 0.690, 0.150, 0.060), None),
    "BT.2020": (D65, (0.708, 0.292, 0.170, 0.797, 0.131, 0.046), 2.4),
    "ROMM RGB": (D50, (0.7347, 0.2653, 0.1596, 0.8404, 0.0366, 0.0001), 1.8),
}
"""White, primaries (x, y of red, green, blue) and exponent; None is the curve of sRGB.

IEC 61966-2-1 (sRGB), IEC 61966-2-5 (opRGB), SMPTE EG 432-1 (primaries of P3 with D65), ITU-R
BT.2020 with the display exponent of BT.1886, ISO 22028-2 (ROMM RGB to four places, its straight
foot left out); figures as CSS Color Module Level 4 (W3C, chapter 10) quotes them.
"""
SOME, SAME_LIGHT = 2000, 5e-6
"""Colours on which a profile is tried as a sum, and by how much it may miss: a third of the step
between two neighbouring numbers of 16 bits."""


@cache
def profile_of(space: str) -> bytes:
    """Return the ICC profile of a colour space of SPACES. Raises KeyError for others."""
    white, xy, exponent = SPACES[space]
    primaries = [value for k in range(3) for value in (xy[2 * k], xy[2 * k + 1], 1.0)]
    curve: dict[str, Any] = {"gamma": exponent}
    if exponent is None:
        signal = np.linspace(0, 1, 4096)
        light = np.where(signal <= 0.04045, signal / 12.92, ((signal + 0.055) / 1.055) ** 2.4)
        curve = {"transferfunction": np.rint(light * 65535).astype(np.uint16)}
    return bytes(
        imagecodecs.cms_profile("rgb", whitepoint=[*white, 1.0], primaries=primaries, **curve)
    )


def to_light(samples: NDArray[Any], profile: bytes) -> Floats32:
    """Return (rows, columns, 3) samples of a profile as linear light of sRGB's primaries.

    samples: uint8, uint16, or float32 from 0 to 1. White is 1; what lies outside sRGB keeps its
    negative or larger values. Relative colorimetric (ICC.1:2022, 6.2.3). Raises ValueError for a
    profile that can't be used.
    """
    try:
        light = imagecodecs.cms_transform(
            np.ascontiguousarray(samples), profile, profile_of("linear sRGB"),
            colorspace="rgb", outcolorspace="rgb", outdtype=np.float32, intent=1,
        )  # fmt: skip
    except imagecodecs.CmsError as error:
        raise ValueError(f"the profile can't be used ({error})") from error
    return np.asarray(light, dtype=np.float32)


def light_of_counts(counts: Counts, ceiling: int, profile: bytes) -> Floats32:
    """Return whole numbers (rows, columns, 3) of a profile as `to_light` does, at once.

    Most profiles turn each colour by a curve and mix the three in linear light: then what each
    colour adds is looked up. Others go through the library pixel by pixel. Raises ValueError for a
    profile that can't be used.
    """
    tables = _tables(profile, ceiling)
    if tables is None:
        return to_light(counts.astype(np.float32) / np.float32(ceiling), profile)
    out = np.empty(counts.shape, dtype=np.float32)
    _look_up(np.ascontiguousarray(counts), tables, out)
    return out


@lru_cache(maxsize=4)
def _tables(profile: bytes, ceiling: int) -> Floats32 | None:
    """What each number of each colour adds to the light (3, ceiling + 1, 3); None if no sum."""
    values = np.linspace(0, 1, ceiling + 1, dtype=np.float32)
    alone = np.zeros((3, ceiling + 1, 3), dtype=np.float32)
    for k in range(3):
        alone[k, :, k] = values
    black = to_light(np.zeros((1, 1, 3), np.float32), profile)[0, 0]
    tables = to_light(alone, profile) - black
    tables[0] += black
    some = np.random.default_rng(1).integers(0, ceiling + 1, (SOME, 3))
    found = sum(tables[k, some[:, k]] for k in range(3))
    truth = to_light(values[some][None], profile)[0]
    return tables if np.abs(found - truth).max() < SAME_LIGHT else None


@compiled
def _look_up(counts, tables, out):  # type: ignore[no-untyped-def]
    for i in range(counts.shape[0]):
        for j in range(counts.shape[1]):
            r, g, b = counts[i, j, 0], counts[i, j, 1], counts[i, j, 2]
            for k in range(3):
                out[i, j, k] = tables[0, r, k] + tables[1, g, k] + tables[2, b, k]


def profile_name(profile: bytes) -> str | None:
    """Return the name that an RGB profile gives itself; None for damaged and other ones."""
    try:
        opened = ImageCms.ImageCmsProfile(io.BytesIO(profile))
        if opened.profile.xcolor_space.strip() != "RGB":
            return None
        return ImageCms.getProfileDescription(opened).strip() or "unnamed"
    except (OSError, ValueError, ImageCms.PyCMSError):
        return None
