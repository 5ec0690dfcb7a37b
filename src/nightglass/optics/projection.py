"""How a lens maps the sky on the sensor: four projections, their scale and solid angle.

Angles are degrees outside and radians inside. Places on the sensor are (x, y) in mm from the
optical centre, x to the right and y down the picture; directions are unit vectors with the third
component along the optical axis. Projections: Miyamoto 1964, J. Opt. Soc. Am. 54, 1060,
DOI 10.1364/JOSA.54.001060.
"""

from __future__ import annotations

import itertools
import math
from dataclasses import dataclass
from typing import Literal, get_args

import numpy as np
from numpy.typing import ArrayLike

from nightglass.optics.arrays import Floats

Projection = Literal["rectilinear", "equidistant", "equisolid", "stereographic"]

PROJECTIONS: tuple[Projection, ...] = get_args(Projection)
_END_RADIANS = {
    "rectilinear": math.pi / 2,
    "equidistant": math.pi,
    "equisolid": math.pi,
    "stereographic": math.pi,
}
_END_RADIUS = {
    "rectilinear": math.inf,
    "equidistant": math.pi,
    "equisolid": 2.0,
    "stereographic": math.inf,
}
"""Largest angle off axis, and the radius over focal length that it reaches."""


@dataclass(frozen=True)
class AnglesOfView:
    """Full angles of a frame [degrees]; a side that sees the whole sphere has 360."""

    width_degrees: float
    height_degrees: float
    diagonal_degrees: float


def image_radius_mm(
    off_axis_degrees: ArrayLike, focal_mm: float, projection: Projection = "rectilinear"
) -> Floats:
    """Return the distance from the optical centre [mm] of a point off the axis [degrees].

    Same shape as off_axis_degrees; nan where the projection shows nothing (rectilinear from 90
    degrees on, the others beyond 180). Raises ValueError for a focal length of 0 or less or an
    unknown projection.
    """
    _check(focal_mm, projection)
    theta = np.radians(np.asarray(off_axis_degrees, dtype=np.float64))
    return focal_mm * _radius(theta, projection)


def off_axis_degrees(
    radius_mm: ArrayLike, focal_mm: float, projection: Projection = "rectilinear"
) -> Floats:
    """Return the angle off axis [degrees] of a place [mm] from the optical centre.

    The inverse of image_radius_mm; nan outside the image circle. Raises ValueError as it does.
    """
    _check(focal_mm, projection)
    return np.degrees(_theta(np.asarray(radius_mm, dtype=np.float64) / focal_mm, projection))


def radial_scale(off_axis_degrees: ArrayLike, projection: Projection = "rectilinear") -> Floats:
    """Return how much longer than on the axis a small radial arc is drawn: dr / (f dtheta).

    Rectilinear: 1 / cos^2. nan where the projection shows nothing.
    """
    _check(1.0, projection)
    theta = _inside(np.radians(np.asarray(off_axis_degrees, dtype=np.float64)), projection)
    if projection == "rectilinear":
        return 1.0 / np.cos(theta) ** 2
    if projection == "equidistant":
        return np.where(np.isnan(theta), np.nan, 1.0)
    if projection == "equisolid":
        return np.cos(theta / 2)
    return 1.0 / np.cos(theta / 2) ** 2


def tangential_scale(off_axis_degrees: ArrayLike, projection: Projection = "rectilinear") -> Floats:
    """Return how much longer than on the axis a small arc about the axis is drawn: r / (f sin).

    Rectilinear: 1 / cos. 1 on the axis itself, nan where the projection shows nothing.
    """
    _check(1.0, projection)
    theta = np.radians(np.asarray(off_axis_degrees, dtype=np.float64))
    sine = np.sin(theta)
    near = np.abs(theta) < 1e-6
    with np.errstate(divide="ignore", invalid="ignore"):
        return np.where(near, 1.0, _radius(theta, projection) / np.where(near, 1.0, sine))


def relative_solid_angle(
    off_axis_degrees: ArrayLike, projection: Projection = "rectilinear"
) -> Floats:
    """Return the solid angle of a small sensor area over that of the same area on the axis.

    Rectilinear: cos^3; equisolid: 1 everywhere. nan where the projection shows nothing.
    """
    stretched = radial_scale(off_axis_degrees, projection) * tangential_scale(
        off_axis_degrees, projection
    )
    with np.errstate(divide="ignore"):
        return 1.0 / stretched


def pixel_solid_angle_sr(
    x_mm: ArrayLike,
    y_mm: ArrayLike,
    pitch_um: float,
    focal_mm: float,
    projection: Projection = "rectilinear",
) -> Floats:
    """Return the solid angle of a square pixel at places of the sensor [sr].

    Broadcast shape of x_mm and y_mm; nan outside the image circle. Raises ValueError for a pitch
    or focal length of 0 or less.
    """
    if not pitch_um > 0:
        raise ValueError(f"pitch_um is {pitch_um:g}; a pixel is larger than 0")
    theta = off_axis_degrees(np.hypot(x_mm, y_mm), focal_mm, projection)
    return (pitch_um / 1000 / focal_mm) ** 2 * relative_solid_angle(theta, projection)


def frame_solid_angle_sr(
    width_mm: float,
    height_mm: float,
    focal_mm: float,
    projection: Projection = "rectilinear",
    image_circle_mm: float | None = None,
) -> float:
    """Return the solid angle that a centred frame sees [sr], exact for the projection.

    Rectilinear without an image circle: 4 asin(w h / sqrt((w^2 + 4 f^2)(h^2 + 4 f^2))). Else the
    integral over directions in the frame of 1 - cos(theta at its edge), where the edge is the
    frame's, the image circle's (image_circle_mm: its diameter) or the end of the projection.
    Raises ValueError for sides, circle or focal length of 0 or less.
    """
    _check(focal_mm, projection)
    _check_frame(width_mm, height_mm)
    if image_circle_mm is not None and not image_circle_mm > 0:
        raise ValueError(f"image_circle_mm is {image_circle_mm:g}; a diameter is above 0")
    if projection == "rectilinear" and image_circle_mm is None:
        w, h, four_f2 = width_mm, height_mm, 4 * focal_mm**2
        return 4 * math.asin(w * h / math.sqrt((w * w + four_f2) * (h * h + four_f2)))
    # Loaded here: its package takes longer to load than rectilinear lenses take in all.
    from scipy.integrate import quad

    circle = math.inf if image_circle_mm is None else image_circle_mm / 2
    circle = min(circle, _END_RADIUS[projection] * focal_mm)

    def share(phi: float) -> float:
        edge = min(_edge_mm(phi, width_mm, height_mm), circle)
        return 1.0 - math.cos(float(_theta(np.float64(edge / focal_mm), projection)))

    parts = itertools.pairwise(_kinks(width_mm, height_mm, circle))
    return 4 * sum(quad(share, low, high, epsabs=1e-12, epsrel=1e-11)[0] for low, high in parts)


def angles_of_view(
    width_mm: float, height_mm: float, focal_mm: float, projection: Projection = "rectilinear"
) -> AnglesOfView:
    """Return the full angles of a centred frame along its width, height and diagonal.

    A side beyond the end of the projection gets the full 360 degrees. Raises ValueError for
    sides or a focal length of 0 or less.
    """
    _check_frame(width_mm, height_mm)
    half_mm = np.array([width_mm, height_mm, math.hypot(width_mm, height_mm)]) / 2
    half = off_axis_degrees(half_mm, focal_mm, projection)
    full = np.where(np.isnan(half), 360.0, 2 * half)
    return AnglesOfView(float(full[0]), float(full[1]), float(full[2]))


def directions(
    x_mm: ArrayLike, y_mm: ArrayLike, focal_mm: float, projection: Projection = "rectilinear"
) -> Floats:
    """Return the unit vectors (..., 3) that places of the sensor look at: x right, y down, z ahead.

    nan outside the image circle. Raises ValueError for a focal length of 0 or less.
    """
    x, y = np.broadcast_arrays(
        np.asarray(x_mm, dtype=np.float64), np.asarray(y_mm, dtype=np.float64)
    )
    radius = np.hypot(x, y)
    theta = np.radians(off_axis_degrees(radius, focal_mm, projection))
    with np.errstate(divide="ignore", invalid="ignore"):
        over_radius = np.where(radius > 0, np.sin(theta) / np.where(radius > 0, radius, 1.0), 0.0)
    return np.stack([x * over_radius, y * over_radius, np.cos(theta)], axis=-1)


def places_mm(
    vectors: ArrayLike, focal_mm: float, projection: Projection = "rectilinear"
) -> tuple[Floats, Floats]:
    """Return the places (x_mm, y_mm) of unit vectors (..., 3) on the sensor.

    The inverse of directions; nan for what the projection does not show. Raises ValueError for a
    focal length of 0 or less.
    """
    _check(focal_mm, projection)
    v = np.asarray(vectors, dtype=np.float64)
    sine = np.hypot(v[..., 0], v[..., 1])
    radius = focal_mm * _radius(np.arctan2(sine, v[..., 2]), projection)
    with np.errstate(divide="ignore", invalid="ignore"):
        # Straight ahead is the centre; straight behind has no direction on the sensor.
        on_axis = np.where(radius == 0, 0.0, np.nan)
        per_sine = np.where(sine > 0, radius / np.where(sine > 0, sine, 1.0), on_axis)
    return v[..., 0] * per_sine, v[..., 1] * per_sine


def _edge_mm(phi: float, width_mm: float, height_mm: float) -> float:
    """Distance of the frame's edge from its centre in the direction phi from its width."""
    across, down = math.cos(phi), math.sin(phi)
    return min(
        width_mm / 2 / across if across > 0 else math.inf,
        height_mm / 2 / down if down > 0 else math.inf,
    )


def _kinks(width_mm: float, height_mm: float, circle_mm: float) -> list[float]:
    """Directions between which the edge is smooth: the corner, and where a circle meets a side."""
    kinks = {0.0, math.atan2(height_mm, width_mm), math.pi / 2}
    if width_mm / 2 < circle_mm:
        kinks.add(math.acos(width_mm / 2 / circle_mm))
    if height_mm / 2 < circle_mm:
        kinks.add(math.asin(height_mm / 2 / circle_mm))
    return sorted(kinks)


def _inside(theta: Floats, projection: Projection) -> Floats:
    end = _END_RADIANS[projection]
    # Rectilinear and stereographic images of their end lie at infinity.
    shown = theta < end if math.isinf(_END_RADIUS[projection]) else theta <= end
    return np.where(shown, theta, np.nan)


def _radius(theta: Floats, projection: Projection) -> Floats:
    theta = _inside(theta, projection)
    if projection == "rectilinear":
        return np.tan(theta)
    if projection == "equidistant":
        return theta
    if projection == "equisolid":
        return 2 * np.sin(theta / 2)
    return 2 * np.tan(theta / 2)


def _theta(radius: Floats | np.float64, projection: Projection) -> Floats:
    # One part in 1e12: the rim of the image circle itself must not fall outside by rounding.
    end = _END_RADIUS[projection]
    radius = np.where(radius > end * (1 + 1e-12), np.nan, np.minimum(radius, end))
    if projection == "rectilinear":
        return np.arctan(radius)
    if projection == "equidistant":
        return radius
    if projection == "equisolid":
        return 2 * np.arcsin(radius / 2)
    return 2 * np.arctan(radius / 2)


def _check(focal_mm: float, projection: str) -> None:
    if projection not in PROJECTIONS:
        raise ValueError(f"projection {projection!r} is not known; use {', '.join(PROJECTIONS)}")
    if not (focal_mm > 0 and math.isfinite(focal_mm)):
        raise ValueError(f"focal_mm is {focal_mm:g}; a focal length is above 0 mm")


def _check_frame(width_mm: float, height_mm: float) -> None:
    if not (width_mm > 0 and height_mm > 0):
        raise ValueError(
            f"the frame is {width_mm:g} x {height_mm:g} mm; both sides must be above 0"
        )
