"""A made-up developed sky with coloured stars, noise, real colour; saved as files of any kind."""

from __future__ import annotations

import numpy as np

SIZE = (420, 630)
SKY = np.array([0.045, 0.050, 0.060])


def sky_light(seed=5, stars=260, size=SIZE, sigma=1.4, noise=0.06, cloud=0.0, offset=(0.0, 0.0)):
    """Linear light (rows, columns, 3) of sRGB: stars of 6 magnitudes, white noise of single
    samples, a slope, and a cloud of real colour 60 px wide of so much of the sky's light."""
    rng = np.random.default_rng(seed)
    rows, columns = size
    y, x = np.mgrid[0:rows, 0:columns].astype(float)
    light = np.ones((rows, columns, 3)) * SKY * (1 + 0.15 * x / columns)[..., None]
    blob = np.exp(-((x - 0.3 * columns) ** 2 + (y - 0.6 * rows) ** 2) / (2 * 60.0**2))
    light *= 1 + cloud * blob[..., None] * np.array([1.0, 0.3, -0.4])
    places = rng.uniform((4, 4), (columns - 4, rows - 4), (stars, 2)) + np.array(offset)
    flux = 0.12 * 10 ** (0.4 * rng.uniform(0, 5, stars) ** 1.0)
    colour = 2 ** rng.normal(0, 0.35, stars)
    for (px, py), f, c in zip(places, flux, colour, strict=True):
        i, j = int(py), int(px)
        part = (slice(max(i - 9, 0), i + 10), slice(max(j - 9, 0), j + 10))
        near = np.exp(-((x[part] - px) ** 2 + (y[part] - py) ** 2) / (2 * sigma**2))
        light[part] += (f * near / (2 * np.pi * sigma**2))[..., None] * np.array([c, 1.0, 1 / c])
    light += rng.normal(0, 1, light.shape) * noise * np.sqrt(SKY * np.maximum(light, 0))
    return np.clip(light, 0, 1)


def encoded(light):
    """Values from 0 to 1 by the curve of sRGB (IEC 61966-2-1)."""
    light = np.clip(light, 0, 1)
    return np.where(light <= 0.0031308, 12.92 * light, 1.055 * light ** (1 / 2.4) - 0.055)


def decoded(values):
    return np.where(values <= 0.04045, values / 12.92, ((values + 0.055) / 1.055) ** 2.4)
