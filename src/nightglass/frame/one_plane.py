"""One plane from the three of a developed picture or a linear raw: enough to find stars in."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from nightglass.frame.record import Frame

BLOCK_ROWS = 256
PEDESTAL, CEILING = 2000, 62000
"""Black and clipping of the plane in its own 16-bit counts: room for noise below black, and steps
of a third of an 8-bit count are not lost."""


def one_plane(frame: Frame) -> Frame:
    """Return a frame of three planes as one grey plane, uint16; any other frame as it is.

    The plane is the mean of the three above their black, so that its noise is the least, brought
    to counts of its own; where one of them clips, it clips. Sizes in it are not those of a mosaic,
    and its light is linear only if nobody processed the picture.
    """
    if frame.samples.ndim != 3:
        return frame
    black = frame.black.reshape(3).astype(np.float32)
    clipping = frame.clipping.reshape(3).astype(np.float32)
    weights = np.full(3, (CEILING - PEDESTAL) / (clipping - black).sum(), dtype=np.float32)
    # Rounded to the nearest count; black may differ between the planes.
    offset = np.float32(PEDESTAL + 0.5 - black @ weights)
    grey = np.empty(frame.samples.shape[:2], dtype=np.uint16)
    for top in range(0, frame.height_px, BLOCK_ROWS):
        planes = frame.samples[top : top + BLOCK_ROWS]
        light = np.clip(planes.astype(np.float32) @ weights + offset, 0, CEILING)
        light[(planes >= clipping).any(axis=2)] = CEILING
        grey[top : top + BLOCK_ROWS] = light
    return replace(
        frame,
        samples=grey,
        pattern=np.ones((1, 1), dtype=np.uint8),
        black=np.full((1, 1), float(PEDESTAL)),
        clipping=np.full((1, 1), float(CEILING)),
        top=None,
    )
