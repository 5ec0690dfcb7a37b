"""How far a colour's fitted height is off when the Gaussian's width is not the star's.

Noiseless Gaussian stars on a Bayer mosaic at random sub-pixel places; heights of red over green
from `amplitudes` with a Gaussian of 0.7 to 1.4 times the star's deviation, over the true ratio.
Run: python design/colour_ratio.py   (seconds)
"""

from __future__ import annotations

import numpy as np

from nightglass.sky.stars.centres import amplitudes

PATTERN = np.array([[0, 1], [1, 2]], dtype=np.uint8)
PLACES = 400


def main() -> None:
    rng = np.random.default_rng(1)
    rows, columns = np.mgrid[0:41, 0:41]
    print("star's deviation [px], filter over star: scatter of red over green, %")
    for sigma in (1.0, 1.3, 1.8):
        for share in (0.7, 0.85, 1.0, 1.2, 1.4):
            ratios = []
            for x, y in 20 + rng.uniform(-1, 1, size=(PLACES, 2)):
                light = np.exp(-0.5 * ((columns - x) ** 2 + (rows - y) ** 2) / sigma**2)
                spread = ((share * sigma) ** 2, 0.0, (share * sigma) ** 2)
                heights, _ = amplitudes(light.astype(np.float32), x, y, spread, np.ones(3), PATTERN)
                ratios.append(heights[0] / heights[1])
            print(f"{sigma:.1f}, {share:.2f}: {100 * np.std(ratios):.1f}")


if __name__ == "__main__":
    main()
