"""All stars of a frame, found and measured, against sep on the same samples; one run, one frame.

    python benchmarks/sky_find.py [millions of pixels] [stars]

The frame: Bayer, Gaussian stars of FWHM 3 px with counts by the slope of the star counts, 5,000
hot pixels. sep gets the mosaic over its per-colour sky level (float32), its own background and
extraction: threshold 1.5 sigma on its default 3 x 3 filter, least area 5, no cleaning. Both run
once before the clock starts. Completeness counts injected stars at SNR 4.5 to 5.5 by the matched
filter without a neighbour within 2 FWHM; a star is found within 2 px.
"""

from __future__ import annotations

import sys
import time

import numpy as np
import sep
from scipy.spatial import cKDTree

from nightglass.frame.record import Frame
from nightglass.sky.find import find_stars
from nightglass.sky.skylevel import sky_level

SIGMA = 3.0 / 2.3548
SKY = np.array([60.0, 120.0, 80.0])
SHARES = np.array([0.5, 1.0, 0.6])
PATTERN = np.array([[0, 1], [1, 2]], dtype=np.uint8)


def make(pixels: float, stars: int) -> tuple[Frame, np.ndarray, np.ndarray]:
    """Return the frame, the places (n, 2) and the matched-filter SNR of the injected stars."""
    rng = np.random.default_rng(1)
    rows, columns = int((pixels / 1.5) ** 0.5), int((pixels * 1.5) ** 0.5)
    colour = PATTERN[np.arange(rows)[:, None] % 2, np.arange(columns)[None, :] % 2]
    light = SKY[colour].astype(np.float32)
    places = np.column_stack(
        [rng.uniform(20, columns - 21, stars), rng.uniform(20, rows - 21, stars)]
    )
    # Half a dex of stars per magnitude: light^-1.25 in all.
    green = 300.0 * rng.uniform(size=stars) ** (-1 / 1.25)
    green = np.minimum(green, 4e5)
    for (x, y), counts in zip(places, green, strict=True):
        cx, cy = int(x), int(y)
        box = np.s_[cy - 7 : cy + 9, cx - 7 : cx + 9]
        v, u = np.mgrid[cy - 7 : cy + 9, cx - 7 : cx + 9]
        spot = np.exp(-0.5 * ((u - x) ** 2 + (v - y) ** 2) / SIGMA**2) / (2 * np.pi * SIGMA**2)
        light[box] += (counts * SHARES[colour[box]] * spot).astype(np.float32)
    noisy = light + np.sqrt(light + 9) * rng.standard_normal(light.shape, dtype=np.float32)
    hot = rng.integers(0, light.size, 5000)
    noisy.ravel()[hot] += 60 + rng.exponential(800, 5000).astype(np.float32)
    samples = np.clip(np.rint(noisy + 512), 0, 16000).astype(np.uint16)
    frame = Frame(samples, PATTERN, np.full((2, 2), 512.0), np.full((2, 2), 16000.0), "mosaic")
    # Mean over the mosaic of share^2 / variance, times the spot's own sum of squares.
    cell = np.mean((SHARES**2 / (SKY + 9))[[0, 1, 1, 2]])
    return frame, places, green * np.sqrt(cell / (4 * np.pi * SIGMA**2))


def main() -> None:
    millions = float(sys.argv[1]) if len(sys.argv) > 1 else 6.0
    stars = int(sys.argv[2]) if len(sys.argv) > 2 else 6000
    frame, places, snr = make(millions * 1e6, stars)
    sky = sky_level(frame)
    levels = np.nanmedian(sky.level, axis=(0, 1))
    colour = PATTERN[
        np.arange(frame.height_px)[:, None] % 2, np.arange(frame.width_px)[None, :] % 2
    ]
    flat = np.ascontiguousarray(frame.samples.astype(np.float32) - 512 - levels[colour])
    sep.set_extract_pixstack(3_000_000)

    def ours():
        found = find_stars(frame).stars
        return np.column_stack([found.x_px, found.y_px])

    def theirs():
        background = sep.Background(flat)
        objects = sep.extract(
            flat - background, 1.5, err=background.globalrms, minarea=5, clean=False
        )
        return np.column_stack([objects["x"], objects["y"]])

    pairs = cKDTree(places)
    lone = np.array([len(pairs.query_ball_point(p, 6.0)) == 1 for p in places])
    faint = lone & (snr > 4.5) & (snr < 5.5)
    for name, run in (("nightglass", ours), ("sep", theirs)):
        run()
        times = []
        for _ in range(3):
            start = time.perf_counter()
            got = run()
            times.append(time.perf_counter() - start)
        near = np.asarray(cKDTree(got).query(places)[0])
        false = np.mean(np.asarray(pairs.query(got)[0]) > 3.0)
        print(
            f"{name}: {min(times):.2f} s, {len(got)} found, false {100 * false:.2f} %, complete at "
            f"SNR 5: {100 * np.mean(near[faint] < 2.0):.1f} % of {np.count_nonzero(faint)}"
        )


if __name__ == "__main__":
    main()
