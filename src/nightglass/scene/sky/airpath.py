"""How the air lifts stars, by following the ray through a layered atmosphere.

For truth only: what takes the air out of a frame (sky.air) is a formula of another origin, so that
either can be found wrong by the other.
"""

from __future__ import annotations

import math
from functools import lru_cache
from itertools import pairwise

import numpy as np
from numpy.typing import ArrayLike
from scipy.interpolate import CubicSpline

from nightglass.optics.arrays import Floats

EARTH_RADIUS_M = 6.371e6
GRAVITY_M_S2 = 9.80665
GAS_J_KG_K = 287.05287
"""Of dry air; this, gravity, the lapse and the tropopause: ISO 2533:1975, 2.1 and table 4, as the
source of the library atmospheric lists them."""
LAPSE_K_M = 0.0065
TROPOPAUSE_M = 11_000.0
LAYERS_M = (0.0, TROPOPAUSE_M, 30_000.0, 90_000.0)
WAVELENGTH_UM = 0.55
"""Green, middle of what a camera sees."""
NODES = 24
TABLE_DEGREES = np.concatenate([np.linspace(0, 12, 121), np.linspace(13, 90, 78)])


def refractivity(pressure_hpa: float, temperature_c: float) -> float:
    """Return n - 1 of dry air. Edlén 1966, Metrologia 2, 71, DOI 10.1088/0026-1394/2/2/002."""
    s2 = 1 / WAVELENGTH_UM**2
    standard = 1e-8 * (8342.13 + 2406030 / (130 - s2) + 15997 / (38.9 - s2))
    # Of 15 °C and 1013.25 hPa; otherwise as the density.
    return standard * pressure_hpa / 1013.25 * 288.15 / (273.15 + temperature_c)


def ray_refraction_degrees(
    seen_altitude_degrees: ArrayLike, pressure_hpa: float = 1013.25, temperature_c: float = 15.0
) -> Floats:
    """Return how far the air lifts what is seen at altitudes of 0 to 90 degrees (n,) [degrees].

    Pressure and temperature are those at the camera. The integral of Auer & Standish 2000,
    Astron. J. 119, 2472, DOI 10.1086/301325 (equation 3, by the source of an open library of
    refraction that follows it), in which nothing grows without bound at the horizon.
    """
    altitude = np.atleast_1d(np.asarray(seen_altitude_degrees, dtype=np.float64))
    # Straight up the ray has no inclination to find a height by.
    z = np.maximum(np.radians(90 - altitude), 1e-6)[:, None]
    ground = refractivity(pressure_hpa, temperature_c)
    wanted = (1 + ground) * EARTH_RADIUS_M * np.sin(z)
    nodes, weights = np.polynomial.legendre.leggauss(NODES)
    total = np.zeros(altitude.size)
    for low, high in pairwise(LAYERS_M):
        # The slope of the density jumps at the tropopause: no panel goes across it.
        last, first = (_inclination(h, wanted, ground, temperature_c) for h in (low, high))
        psi = first + (last - first) * (nodes + 1) / 2
        height = _height(psi, wanted, ground, temperature_c)
        n, slope = _air(height, ground, temperature_c)
        bending = -(EARTH_RADIUS_M + height) * slope
        total += np.sum(bending / (n - bending) * weights * (last - first) / 2, axis=1)
    return np.degrees(total)


def ray_lifted(
    vectors: ArrayLike, zenith: Floats, pressure_hpa: float = 1013.25, temperature_c: float = 15.0
) -> Floats:
    """Return unit vectors (..., 3) as seen through the air; nan for what is below the horizon.

    zenith: unit vector in the same axes.
    """
    v = np.asarray(vectors, dtype=np.float64)
    lift = _table(pressure_hpa, temperature_c)
    height = v @ zenith
    level = v - height[..., None] * zenith
    flat = np.linalg.norm(level, axis=-1)
    altitude = np.degrees(np.arctan2(height, flat))
    seen = np.where(altitude > lift.x[0], altitude + lift(altitude), math.nan)
    lifted = np.radians(seen)[..., None]
    level = level / np.maximum(flat, 1e-12)[..., None]
    return np.asarray(np.cos(lifted) * level + np.sin(lifted) * zenith)


@lru_cache(maxsize=64)
def _table(pressure_hpa: float, temperature_c: float) -> CubicSpline[np.float64]:
    """The lift over the altitude without air [degrees]."""
    lift = ray_refraction_degrees(TABLE_DEGREES, pressure_hpa, temperature_c)
    return CubicSpline(TABLE_DEGREES - lift, lift)


def _inclination(height_m: float, wanted: Floats, ground: float, temperature_c: float) -> Floats:
    """Angle between ray and plumb line at a height: n r sin psi stays the same along the ray."""
    n, _ = _air(np.array(height_m), ground, temperature_c)
    return np.arcsin(np.minimum(wanted / (n * (EARTH_RADIUS_M + height_m)), 1.0))


def _height(psi: Floats, wanted: Floats, ground: float, temperature_c: float) -> Floats:
    """Height at which the ray is inclined by psi, by Newton's method."""
    height = np.maximum(wanted / np.sin(psi) - EARTH_RADIUS_M, 0.0)
    for _ in range(8):
        n, slope = _air(height, ground, temperature_c)
        radius = EARTH_RADIUS_M + height
        miss = n * radius * np.sin(psi) - wanted
        height = height - miss / ((n + slope * radius) * np.sin(psi))
    return height


def _air(height_m: Floats, ground: float, temperature_c: float) -> tuple[Floats, Floats]:
    """Refractive index and its slope [1/m] over height above the camera.

    Temperature falls evenly to the tropopause and stays; density by the balance of weight.
    """
    below = 273.15 + temperature_c
    power = GRAVITY_M_S2 / (GAS_J_KG_K * LAPSE_K_M)
    low = np.minimum(height_m, TROPOPAUSE_M)
    share = 1 - LAPSE_K_M * low / below
    density = share ** (power - 1)
    top = below - LAPSE_K_M * TROPOPAUSE_M
    scale = GAS_J_KG_K * top / GRAVITY_M_S2
    density = density * np.exp(-(height_m - low) / scale)
    steep = np.where(
        height_m < TROPOPAUSE_M, -(power - 1) * LAPSE_K_M / (below * share), -1 / scale
    )
    return 1 + ground * density, ground * density * steep
