"""What the mosaic alone does to bulk measures of stars: bright stars, noise hardly there.

Gaussian stars of several widths at random sub-pixel places, Bayer and 6x6, without the noise of
their own light, measured by find_stars. Printed: scatter (from the median deviation) of place,
length and light about the truth, and for the length what spans.method_error gives.
Run: python design/star_errors.py   (about ten seconds)
"""

from __future__ import annotations

import numpy as np
from scipy.spatial import cKDTree

from nightglass.frame.record import Frame
from nightglass.optics.extent import MAD_TO_SIGMA
from nightglass.sky.stars.find import find_stars
from nightglass.sky.stars.spans import method_error

BAYER = np.array([[0, 1], [1, 2]], dtype=np.uint8)
SIX = np.array(
    [
        [1, 0, 1, 1, 2, 1],
        [2, 1, 2, 0, 1, 0],
        [1, 0, 1, 1, 2, 1],
        [1, 2, 1, 1, 0, 1],
        [0, 1, 0, 2, 1, 2],
        [1, 2, 1, 1, 0, 1],
    ],
    dtype=np.uint8,
)
SKY = np.array([60.0, 120.0, 80.0])
SHARES = np.array([0.5, 1.0, 0.6])
CENTRAL_90 = 3.29
PEAK = 40_000.0
NOISE = 3.0
"""Counts of every sample, hardly there beside the stars."""


def frame_of(pattern: np.ndarray, sigma: float, counts: float) -> tuple[Frame, np.ndarray]:
    """Return a frame of stars of one width and light, and their places (n, 2)."""
    rng = np.random.default_rng(7)
    rows, columns, apart = 1200, 1700, 80
    p, q = pattern.shape
    colour = pattern[np.arange(rows)[:, None] % p, np.arange(columns)[None, :] % q]
    x, y = np.meshgrid(np.arange(60, columns - 60, apart), np.arange(60, rows - 60, apart))
    places = np.column_stack([x.ravel(), y.ravel()]) + rng.uniform(-3, 3, size=(x.size, 2))
    light = SKY[colour].astype(np.float64)
    for px, py in places:
        cx, cy = round(px), round(py)
        box = np.s_[cy - 24 : cy + 25, cx - 24 : cx + 25]
        v, u = np.mgrid[cy - 24 : cy + 25, cx - 24 : cx + 25]
        spot = np.exp(-0.5 * ((u - px) ** 2 + (v - py) ** 2) / sigma**2) / (2 * np.pi * sigma**2)
        light[box] += counts * SHARES[colour[box]] * spot
    noisy = light + NOISE * rng.standard_normal(light.shape)
    samples = np.clip(np.rint(noisy + 512), 0, 65000).astype(np.uint16)
    levels = np.full(pattern.shape, 512.0), np.full(pattern.shape, 64000.0)
    return Frame(samples, pattern, *levels, "mosaic"), places


def scatter(misses: np.ndarray) -> float:
    return MAD_TO_SIGMA * float(np.median(np.abs(misses - np.median(misses))))


def main() -> None:
    print(
        "mosaic, length [px]: place [px], length and root of length times width [px] (given), "
        "light [%]; bias of that root, of the light"
    )
    for name, pattern in (("Bayer", BAYER), ("6x6", SIX)):
        for sigma in (0.9, 1.2, 1.6, 2.2, 3.0):
            counts = PEAK * 2 * np.pi * sigma**2
            frame, places = frame_of(pattern, sigma, counts)
            stars = find_stars(frame).stars
            near, which = cKDTree(np.column_stack([stars.x_px, stars.y_px])).query(places)
            which = which[near < 2]
            where = places[near < 2]
            away = stars.x_px[which] - where[:, 0]
            true = CENTRAL_90 * sigma
            size = np.sqrt(stars.length_px[which] * stars.width_px[which]) - true
            light = stars.flux_counts[which] / counts - 1
            length = scatter(stars.length_px[which])
            print(
                f"{name}, {true:.1f}: {scatter(away):.3f}, {length:.3f} and {scatter(size):.3f} "
                f"({method_error(true):.3f}), {100 * scatter(light):.2f}; "
                f"{np.median(size):+.3f} px, {100 * np.median(light):+.1f} %"
            )


if __name__ == "__main__":
    main()
