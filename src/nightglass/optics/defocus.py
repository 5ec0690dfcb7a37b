"""Blur from focus, distance and the size of the artificial star: thin-lens geometry.

The blur disc as the documentation of ISETCam (opticsCoC) derives it from the lens equation; each
formula is worked out in its test.
"""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import ArrayLike

from nightglass.optics.arrays import Floats


def defocus_blur_um(focus_error_um: ArrayLike, f_number: float) -> Floats:
    """Return the diameter [um] of the disc that a focus error at the sensor [um] makes: dz / N."""
    _check_above_zero(f_number=f_number)
    return np.abs(np.asarray(focus_error_um, dtype=np.float64)) / f_number


def star_blur_um(focal_mm: float, f_number: float, focused_at_m: ArrayLike) -> Floats:
    """Return the diameter [um] of a star's disc when focus stands at a near distance [m].

    f^2 / (N (s - f)), distance from the lens. Raises ValueError for distances inside the focal
    length.
    """
    _check_above_zero(focal_mm=focal_mm, f_number=f_number)
    s_mm = np.asarray(focused_at_m, dtype=np.float64) * 1000
    if np.any(s_mm <= focal_mm):
        raise ValueError(
            f"focused_at_m is {np.min(s_mm) / 1000:g}; it must be more than the focal length of "
            f"{focal_mm:g} mm"
        )
    return 1000 * focal_mm**2 / (f_number * (s_mm - focal_mm))


def source_blur_um(focal_mm: float, f_number: float, distance_m: ArrayLike) -> Floats:
    """Return the diameter [um] of a near source's disc when focus stands at infinity: f^2 / (N L).

    Its sharp image lies f^2 / (L - f) behind the sensor, where the cone of light from the pupil
    f / N meets; the sensor cuts that cone. Raises ValueError as star_blur_um does.
    """
    _check_above_zero(focal_mm=focal_mm, f_number=f_number)
    distance_mm = np.asarray(distance_m, dtype=np.float64) * 1000
    if np.any(distance_mm <= focal_mm):
        raise ValueError(
            f"distance_m is {np.min(distance_mm) / 1000:g}; it must be more than the focal length "
            f"of {focal_mm:g} mm"
        )
    return 1000 * focal_mm**2 / (f_number * distance_mm)


def hyperfocal_m(focal_mm: float, f_number: float, blur_mm: float) -> float:
    """Return the hyperfocal distance [m]: f^2 / (N c) + f for an allowed disc c [mm].

    Focused there, stars get a disc of just that diameter and the near limit is half of it.
    """
    _check_above_zero(focal_mm=focal_mm, f_number=f_number, blur_mm=blur_mm)
    return (focal_mm**2 / (f_number * blur_mm) + focal_mm) / 1000


def off_axis_focus_error_um(
    focal_mm: float, distance_m: float, off_axis_degrees: ArrayLike
) -> Floats:
    """Return the focus error [um] of a bench star that stays put while the camera is turned.

    Its distance along the axis shrinks to L cos(theta): f^2 (1 / (L cos) - 1 / L).
    """
    _check_above_zero(focal_mm=focal_mm, distance_m=distance_m)
    cosine = _cosine(off_axis_degrees)
    return focal_mm**2 / distance_m * (1 / cosine - 1)


def off_axis_distance_m(distance_m: float, off_axis_degrees: ArrayLike) -> Floats:
    """Return the distance [m] to stand at for an off-axis place to stay in the focused plane."""
    _check_above_zero(distance_m=distance_m)
    return distance_m / _cosine(off_axis_degrees)


def source_image_um(source_mm: float, focal_mm: float, distance_m: float) -> float:
    """Return the size [um] of the image of the artificial star: s f / L."""
    _check_above_zero(source_mm=source_mm, focal_mm=focal_mm, distance_m=distance_m)
    return source_mm * focal_mm / distance_m


def largest_source_mm(pitch_um: float, focal_mm: float, distance_m: float) -> float:
    """Return the largest source [mm] whose image stays within half a pixel: (p / 2) L / f."""
    _check_above_zero(pitch_um=pitch_um, focal_mm=focal_mm, distance_m=distance_m)
    return pitch_um / 2 * distance_m / focal_mm


def _cosine(off_axis_degrees: ArrayLike) -> Floats:
    cosine = np.cos(np.radians(np.asarray(off_axis_degrees, dtype=np.float64)))
    if np.any(cosine <= 1e-9):
        raise ValueError(
            "off_axis_degrees reaches 90 or more; a flat plane of focus ends before that"
        )
    return cosine


def _check_above_zero(**values: float) -> None:
    for name, value in values.items():
        if not (value > 0 and math.isfinite(value)):
            raise ValueError(f"{name} is {value:g}; it must be above 0")
