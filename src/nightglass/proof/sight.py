"""A solved frame with its exposure and motion, and the light of its stars in each colour."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from nightglass.frame.record import Frame
from nightglass.optics.arrays import Floats
from nightglass.sky.astrometry.refine import Solution
from nightglass.sky.stars.background import level_at
from nightglass.sky.stars.find import Detections, FoundStars
from nightglass.sky.zones.size_field import SizeField
from nightglass.sky.zones.zone import expected_trails


@dataclass(frozen=True)
class Sight:
    """A solved frame with what is known of its exposure and its motion."""

    frame: Frame
    found: Detections
    solution: Solution
    exposure_s: float
    """True seconds."""
    year: float
    extra_px: tuple[float, float] = (0.0, 0.0)
    """Motion of the camera beyond the sky's, end minus start."""
    rate: float = 1.0
    """Rate of the stars' motion, of the sky's: 1 on a tripod."""
    e_per_count: float | None = None
    """None: the sky's own ratio of variance to counts stands in."""
    sizes: SizeField | None = None
    """How the lens's spot changes over the frame; None: not known."""

    def trails(self, x_px: Floats, y_px: Floats) -> Floats:
        """Return end minus start (n, 2) [px] of stars whose middles are given."""
        still = expected_trails(self.solution, x_px, y_px, self.exposure_s, self.year)
        return still * self.rate + np.asarray(self.extra_px)


def colour_ratios(sight: Sight, stars: FoundStars) -> Floats:
    """Return the light of stars in red, green and blue over green's (n, 3), from the samples in
    each one's aperture."""
    frame = sight.frame
    p, q = frame.pattern.shape
    black = np.broadcast_to(frame.black, frame.pattern.shape)
    level = level_at(sight.found.sky, stars.x_px, stars.y_px).astype(np.float64)
    out = np.ones((len(stars), 3))
    for k in range(len(stars)):
        radius = stars.aperture_px[k]
        reach, cx, cy = math.ceil(radius), round(stars.x_px[k]), round(stars.y_px[k])
        v, u = np.mgrid[
            max(cy - reach, 0) : min(cy + reach + 1, frame.height_px),
            max(cx - reach, 0) : min(cx + reach + 1, frame.width_px),
        ]
        colour = frame.pattern[v % p, u % q]
        counts = frame.samples[v, u] - black[v % p, u % q] - level[k][colour]
        counts = np.where(np.hypot(u - stars.x_px[k], v - stars.y_px[k]) <= radius, counts, 0.0)
        means = np.array(
            [counts[colour == c].mean() if np.any(colour == c) else 0.0 for c in range(3)]
        )
        if means[1] > 0:
            out[k] = np.clip(means / means[1], 0.0, 4.0)
    return out
