"""The one record of an opened picture file."""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import datetime
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from nightglass.optics.arrays import Counts, Floats, Floats32

ClippingFrom = Literal["data", "file", "unknown"]
Kind = Literal["mosaic", "demosaiced", "picture"]
"""mosaic: a maker's raw or a DNG with one colour per sample; demosaiced: linear raw with three
planes; picture: TIFF, PNG, JPEG or FITS, second class (not linear, or no mosaic)."""


@dataclass(frozen=True)
class Metadata:
    """What the camera wrote about the exposure; None is "not recorded"."""

    exposure_marked_s: float | None = None
    exposure_true_s: float | None = None
    """The exact power behind a marked time, else the recorded time."""
    f_number: float | None = None
    focal_mm: float | None = None
    iso: int | None = None
    taken_at: datetime | None = None
    """Aware when the zone is known, naive when it is not (see zone_known)."""
    zone_known: bool = False
    body: str | None = None
    body_serial: str | None = None
    lens: str | None = None
    lens_serial: str | None = None
    firmware: str | None = None
    exposure_mode: str | None = None
    notes: tuple[str, ...] = ()


Crop = tuple[int, int, int, int]
"""Top, left, height, width [px] in the visible raw area."""
ColourTop = tuple[tuple[float, int], ...]


@dataclass(frozen=True)
class TopSamples:
    """The brightest samples of one frame, per colour: what clipping levels are made of.

    black, file_clipping: counts per colour. values: per colour, pairs of count value and number
    of samples in the topmost 0.1 % of the range that this frame uses, rising.
    """

    black: tuple[float, ...]
    file_clipping: tuple[float, ...]
    values: tuple[ColourTop, ...]


@dataclass(frozen=True)
class Frame:
    """Samples as the decoder gave them, copied once, with what is needed to make light of them.

    samples: (rows, columns), or (rows, columns, 3) for demosaiced and colour pictures; uint16
        (float32 for FITS); the visible raw area only, never turned.
    pattern: (p, q) uint8 colour numbers of a mosaic, repeated from the top-left visible pixel;
        0 red, 1 green, 2 blue; second greens are 1. For a grey picture [[1]].
        For three planes [[0]] and the plane is the colour.
    black, clipping: (p, q) float64, counts at the same places of the pattern (for three planes
        (1, 3): per plane).
    """

    samples: Counts | Floats32
    pattern: NDArray[np.uint8]
    black: Floats
    clipping: Floats
    kind: Kind
    metadata: Metadata = field(default_factory=Metadata)
    file: str = ""
    content_hash: str = ""
    clipping_from: ClippingFrom = "file"
    """unknown: neither the samples nor the file tell, and clipping is infinite."""
    notes: tuple[str, ...] = ()
    """Plain words on what the reader should know: gain map not applied, black not in the file..."""
    crop_px: Crop | None = None
    """The part that the file says to show by default; None where it says nothing. Everything
    counts from the whole visible raw area: this is only what a pixel count may also mean."""
    top: TopSamples | None = None
    """Brightest samples as opened: pooled over frames of one body, ISO and mode (levels.py)."""

    @property
    def height_px(self) -> int:
        """Rows of the visible raw area."""
        return int(self.samples.shape[0])

    @property
    def width_px(self) -> int:
        """Columns of the visible raw area."""
        return int(self.samples.shape[1])

    @property
    def picture_height_px(self) -> int:
        """Short side of the visible raw area [px]."""
        return min(self.height_px, self.width_px)

    @property
    def colours(self) -> tuple[str, ...]:
        """Names of the colours that can be measured, in the order of their numbers."""
        if self.samples.ndim == 3:
            return ("red", "green", "blue")
        present = set(np.unique(self.pattern).tolist())
        if present == {1}:
            return ("grey",)
        return tuple(name for k, name in enumerate(("red", "green", "blue")) if k in present)
