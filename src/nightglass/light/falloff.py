"""How the light of stars falls toward the corners of a lens, as it was measured at a setting."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from enum import StrEnum

import numpy as np
from numpy.typing import ArrayLike

from nightglass.optics.arrays import Floats

LN_PER_MAG = 0.4 * math.log(10)
STOPS_PER_MAG = 0.4 * math.log2(10)


class FalloffSource(StrEnum):
    """How a falloff is known."""

    FLAT = "flat"
    SKY = "sky"
    MODEL = "model"
    """Nobody measured it: cos(angle off axis)."""


@dataclass(frozen=True)
class PupilFalloff:
    """Star light lost over the field, in magnitudes: the terms of q^2 and q^4, q the field radius.

    Of the pupil alone: the projection's solid angle per pixel is taken out.
    """

    terms_mag: tuple[float, float]
    covariance: tuple[float, float, float]
    """Variance of the first term, covariance, variance of the second [mag^2]."""
    source: FalloffSource
    frames: int = 1

    def share(self, field_radius: ArrayLike) -> Floats:
        """Return the light at field radii over that at the centre."""
        first, second = self.terms_mag
        square = np.asarray(field_radius, dtype=np.float64) ** 2
        return np.asarray(10 ** (-0.4 * (first * square + second * square**2)))

    def log_err(self, field_radius: ArrayLike) -> Floats:
        """Return the 1-sigma error of ln(share) at field radii."""
        one, both, other = self.covariance
        square = np.asarray(field_radius, dtype=np.float64) ** 2
        variance = square**2 * one + 2 * square**3 * both + square**4 * other
        return np.asarray(LN_PER_MAG * np.sqrt(np.maximum(variance, 0.0)))

    def stops(self, field_radius: float) -> float:
        """Return the stops lost at a field radius."""
        first, second = self.terms_mag
        return STOPS_PER_MAG * (first * field_radius**2 + second * field_radius**4)

    def stops_err(self, field_radius: float) -> float:
        """Return the 1-sigma error of the stops lost."""
        return float(self.log_err(field_radius)) / math.log(2)

    @property
    def corner_stops(self) -> float:
        """Stops lost at field radius 1."""
        return self.stops(1.0)


def combined_falloff(several: Sequence[PupilFalloff]) -> PupilFalloff:
    """Return the falloff of one setting from several frames: of flats where there are any.

    Frames count by the inverse of their variance in the corner. The error is that of the best
    frame: what the method itself leaves is common to all. Raises ValueError for none.
    """
    if not several:
        raise ValueError("no falloff was given; measure one frame at least")
    flats = [one for one in several if one.source is FalloffSource.FLAT]
    used = flats or list(several)
    corner = [max(one.covariance[0] + 2 * one.covariance[1] + one.covariance[2], 1e-12)
              for one in used]  # fmt: skip
    weights = 1 / np.array(corner)
    first, second = (
        float(np.average([one.terms_mag[k] for one in used], weights=weights)) for k in (0, 1)
    )
    best = used[int(np.argmin(corner))]
    return replace(best, terms_mag=(first, second), frames=sum(one.frames for one in used))
