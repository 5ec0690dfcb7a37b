"""Frames with a Gaussian star at a stated place: pixel-integrated, any mosaic and phase."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
import pytest
from drawn_spots import MOSAICS
from scipy.special import erf

from nightglass.frame.record import Frame


@dataclass(frozen=True)
class Star:
    """A Gaussian star; its pixel blur adds 1/12 px^2 to each variance."""

    x: float = 121.37
    y: float = 88.61
    sigma_x: float = 2.0
    sigma_y: float = 1.3
    peak: float = 9000.0
    levels: tuple[float, float, float] = (0.55, 1.0, 0.7)
    offsets: tuple[tuple[float, float], ...] = ((0.0, 0.0), (0.0, 0.0), (0.0, 0.0))

    @property
    def lengths(self) -> tuple[float, float]:
        """Central 90 % along x and along y, pixel blur included [px]."""
        return (
            3.289707 * math.sqrt(self.sigma_x**2 + 1 / 12),
            3.289707 * math.sqrt(self.sigma_y**2 + 1 / 12),
        )


def integrated(n: int, centre: float, sigma: float) -> np.ndarray:
    """Return the share of a Gaussian in each pixel of a line, over its peak."""
    edges = (np.arange(n + 1) - 0.5 - centre) / (sigma * math.sqrt(2))
    return np.diff(erf(edges)) * 0.5 * sigma * math.sqrt(2 * math.pi)


@pytest.fixture
def make_frame() -> Callable[..., Frame]:
    """Return a maker of frames: 210 rows x 240 columns, black 512, read noise 3 counts."""

    def make(
        *stars: Star,
        mosaic: str = "bayer",
        phase: tuple[int, int] = (0, 0),
        seed: int = 1,
        floor: float = 20.0,
        shape: tuple[int, int] = (210, 240),
        spoil: Callable[[np.ndarray], None] | None = None,
    ) -> Frame:
        rng = np.random.default_rng(seed)
        pattern = np.roll(MOSAICS[mosaic], phase, (0, 1)) if mosaic != "grey" else np.ones((1, 1))
        pattern = pattern.astype(np.uint8)
        rows, columns = np.indices(shape)
        colour = pattern[rows % pattern.shape[0], columns % pattern.shape[1]]
        light = np.full(shape, floor)
        for star in stars:
            for c in range(3):
                dx, dy = star.offsets[c]
                profile = np.outer(
                    integrated(shape[0], star.y + dy, star.sigma_y),
                    integrated(shape[1], star.x + dx, star.sigma_x),
                )
                light += np.where(colour == c, star.levels[c] * star.peak * profile, 0)
        counts = rng.poisson(light * 2.0) / 2.0 + rng.normal(512, 3.0, shape)
        if spoil is not None:
            spoil(counts)
        samples = np.clip(np.round(counts), 0, 16383).astype(np.uint16)
        one = np.ones(pattern.shape)
        return Frame(samples, pattern, one * 512, one * 16383, "mosaic", file="planted.dng")

    return make
