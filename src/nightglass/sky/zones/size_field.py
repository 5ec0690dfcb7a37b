"""How the size of a lens's spot changes over a frame: a smooth surface through its zones."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from nightglass.optics.arrays import Floats
from nightglass.sky.zones.zone import Zone

TERMS_FROM = ((10, 6), (4, 3))
"""From this many zones on a surface of so many terms: 1, x, y, x^2, xy, y^2."""
MOST_CHANGE = 0.5
"""Of ln(size) between two places that are compared."""


@dataclass(frozen=True)
class SizeField:
    """A surface through ln(size) over the frame."""

    origin: Floats
    scale: Floats
    surface: Floats
    uneven: float
    """Scatter of ln(size) of the places that it was fitted to."""

    def change(self, places: ArrayLike, at: ArrayLike) -> Floats:
        """Return the size of the spot at places (n, 2) over that at one place (x, y)."""
        there, here = self._logs(np.asarray(places, dtype=np.float64)), self._logs(np.array([at]))
        return np.asarray(np.exp(np.clip(there - here, -MOST_CHANGE, MOST_CHANGE)))

    def _logs(self, places: Floats) -> Floats:
        terms = _powers((places - self.origin) / self.scale, self.surface.size)
        return np.asarray(terms @ self.surface)


def size_field(places: ArrayLike, logs: ArrayLike) -> SizeField:
    """Return the surface through ln(size) at places (n, 2) [px]; flat where they are few."""
    where, values = np.asarray(places, dtype=np.float64), np.asarray(logs, dtype=np.float64)
    terms = next((terms for zones, terms in TERMS_FROM if len(where) >= zones), 1)
    origin, scale = where.mean(axis=0), np.maximum(np.ptp(where, axis=0), 1.0) / 2
    design = _powers((where - origin) / scale, terms)
    surface: Floats = np.asarray(np.linalg.lstsq(design, values, rcond=None)[0], dtype=np.float64)
    left = values - design @ surface
    uneven = math.sqrt(float(left @ left) / max(len(where) - terms, 1))
    return SizeField(origin, scale, surface, uneven)


def field_of_zones(zones: Sequence[Zone]) -> SizeField | None:
    """Return the surface through the sizes of measured zones; None where there are none."""
    known = [
        (z.x_px, z.y_px, z.length_px * z.width_px) for z in zones if z.length_px and z.width_px
    ]
    if not known:
        return None
    x, y, area = np.array(known).T
    return size_field(np.column_stack([x, y]), 0.5 * np.log(area))


def _powers(places: Floats, terms: int) -> Floats:
    x, y = places.T
    return np.column_stack([np.ones_like(x), x, y, x * x, x * y, y * y])[:, :terms]
