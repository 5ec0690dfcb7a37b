"""The camera as the sky sees it: focal length, optical centre, distortion, and where it points.

Pixel places are raw coordinates (x right, y down, 0-based). A rotation is a (3, 3) matrix that
turns ICRS unit vectors into the camera's axes: x right, y down, z ahead. Radial distortion moves
a place from the ideal radius r to r (1 + k1 q^2 + k2 q^4), q being r over half of the frame's
diagonal: Conrady 1919, Mon. Not. R. Astron. Soc. 79, 384, DOI 10.1093/mnras/79.5.384.

Where place and time of a frame are known its camera holds what the air and the earth's motion do
(Camera.apparent). Then the rotation turns directions as seen, and its rows are such; but all that
goes in and out here are catalogue directions with or without it: places_px lifts them and
vectors_at takes the lift off.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import ArrayLike

from nightglass.optics.arrays import Floats
from nightglass.optics.projection import Projection, directions, places_mm
from nightglass.sky.astrometry.refraction import Apparent, catalogue_directions, seen_directions

PRECESSION_DEGREES_PER_YEAR = 20.0419 / 3600
"""Motion of the celestial pole toward right ascension 0: 2004.3109 arcsec per century, the angle
theta of the IAU 1976 precession (Lieske 1979, A&A 73, 282, equations 6 and 7, as the documentation
of SOFA's prec76 cites it; the test has its value from pyerfa)."""


@dataclass(frozen=True)
class Camera:
    """How a frame maps directions to pixels; focal_px is the focal length in pixels."""

    width_px: int
    height_px: int
    focal_px: float
    centre_x_px: float
    centre_y_px: float
    k1: float = 0.0
    k2: float = 0.0
    projection: Projection = "rectilinear"
    apparent: Apparent | None = None
    """What stands between catalogue and camera; None: not known, and part of the other numbers."""

    @property
    def half_diagonal_px(self) -> float:
        """Half of the frame's diagonal [px]: field radius 1."""
        return math.hypot(self.width_px, self.height_px) / 2


def plain_camera(
    width_px: int, height_px: int, focal_px: float, projection: Projection = "rectilinear"
) -> Camera:
    """Return a camera without distortion whose optical centre is the middle of the frame."""
    if not focal_px > 0:
        raise ValueError(f"focal_px is {focal_px:g}; a focal length is above 0 px")
    return Camera(
        width_px=width_px,
        height_px=height_px,
        focal_px=focal_px,
        centre_x_px=(width_px - 1) / 2,
        centre_y_px=(height_px - 1) / 2,
        projection=projection,
    )


def places_px(camera: Camera, rotation: Floats, vectors: ArrayLike) -> tuple[Floats, Floats]:
    """Return where ICRS unit vectors (..., 3) fall in the frame; nan behind the camera.

    Places outside the frame are returned too: they are what the projection says.
    """
    seen = np.asarray(vectors, dtype=np.float64)
    if camera.apparent is not None:
        seen = seen_directions(seen, camera.apparent)
    ahead = seen @ np.asarray(rotation).T
    x, y = places_mm(ahead, camera.focal_px, camera.projection)
    stretch = _stretch(camera, np.hypot(x, y))
    return camera.centre_x_px + x * stretch, camera.centre_y_px + y * stretch


def vectors_at(camera: Camera, rotation: Floats, x_px: ArrayLike, y_px: ArrayLike) -> Floats:
    """Return the ICRS unit vectors (..., 3) that places look at: the inverse of places_px."""
    dx, dy = np.broadcast_arrays(
        np.asarray(x_px, dtype=np.float64) - camera.centre_x_px,
        np.asarray(y_px, dtype=np.float64) - camera.centre_y_px,
    )
    radius = np.hypot(dx, dy)
    ideal = _ideal_radius(camera, radius)
    with np.errstate(divide="ignore", invalid="ignore"):
        shrink = np.where(radius > 0, ideal / np.where(radius > 0, radius, 1.0), 1.0)
    seen = directions(dx * shrink, dy * shrink, camera.focal_px, camera.projection)
    seen = seen @ np.asarray(rotation)
    return seen if camera.apparent is None else catalogue_directions(seen, camera.apparent)


def unit_vectors(ra_degrees: ArrayLike, dec_degrees: ArrayLike) -> Floats:
    """Return unit vectors (..., 3) of right ascensions and declinations [degrees]."""
    ra, dec = np.radians(ra_degrees), np.radians(dec_degrees)
    return np.stack([np.cos(dec) * np.cos(ra), np.cos(dec) * np.sin(ra), np.sin(dec)], axis=-1)


def sky_degrees(vectors: ArrayLike) -> tuple[Floats, Floats]:
    """Return right ascension (0 to 360) and declination [degrees] of vectors (..., 3)."""
    v = np.asarray(vectors, dtype=np.float64)
    ra = np.degrees(np.arctan2(v[..., 1], v[..., 0])) % 360.0
    return ra, np.degrees(np.arctan2(v[..., 2], np.hypot(v[..., 0], v[..., 1])))


def look_at(ra_degrees: float, dec_degrees: float, roll_degrees: float = 0.0) -> Floats:
    """Return the rotation of a camera aimed at a place of the sky.

    roll_degrees: position angle of the frame's "up" (against +y) from celestial north through
    east; 0 has north up and east to the left.
    """
    ahead = unit_vectors(ra_degrees, dec_degrees)
    ra = math.radians(ra_degrees)
    east = np.array([-math.sin(ra), math.cos(ra), 0.0])
    north = np.cross(ahead, east)
    roll = math.radians(roll_degrees)
    up = math.cos(roll) * north + math.sin(roll) * east
    return np.stack([np.cross(ahead, up), -up, ahead])


def roll_degrees(rotation: Floats) -> float:
    """Return the position angle [degrees, 0 to 360) of the frame's "up", as look_at takes it."""
    ahead, up = rotation[2], -rotation[1]
    flat = math.hypot(ahead[0], ahead[1])
    if flat < 1e-12:
        return 0.0
    east = np.array([-ahead[1], ahead[0], 0.0]) / flat
    north = np.cross(ahead, east)
    return math.degrees(math.atan2(float(up @ east), float(up @ north))) % 360.0


def pole_of_date(year: float) -> Floats:
    """Return the ICRS vector of the celestial pole of a year, about which the sky turns.

    Precession alone (nutation is under 0.003 degrees).
    """
    tilt = math.radians(PRECESSION_DEGREES_PER_YEAR * (year - 2000.0))
    return np.array([math.sin(tilt), 0.0, math.cos(tilt)])


def turned(vectors: ArrayLike, axis: Floats, angle_rad: ArrayLike) -> Floats:
    """Return vectors (..., 3) turned about an axis by angles of broadcastable shape [rad]."""
    v = np.asarray(vectors, dtype=np.float64)
    angle = np.asarray(angle_rad, dtype=np.float64)[..., None]
    along = (v @ axis)[..., None] * axis
    # Rodrigues' rotation formula.
    return v * np.cos(angle) + np.cross(axis, v) * np.sin(angle) + along * (1 - np.cos(angle))


def catalogue_rotation(camera: Camera, rotation: Floats) -> Floats:
    """Return the rotation whose rows are catalogue directions: right, down and ahead.

    Without air in the camera it is the rotation itself.
    """
    if camera.apparent is None:
        return rotation
    ahead = catalogue_directions(rotation[2], camera.apparent)
    # Up as the sky just above the axis has it: the air turns directions a little.
    step = 1e-3
    below = catalogue_directions(
        math.cos(step) * rotation[2] + math.sin(step) * rotation[1], camera.apparent
    )
    down = below - (below @ ahead) * ahead
    down /= np.linalg.norm(down)
    return np.stack([np.cross(down, ahead), down, ahead])


def without_air(camera: Camera) -> Camera:
    """Return the camera for directions as it sees them, such as those in its own axes."""
    return camera if camera.apparent is None else replace(camera, apparent=None)


def pixel_area_arcsec2(camera: Camera, x_px: ArrayLike, y_px: ArrayLike) -> Floats:
    """Return the area of sky that a pixel sees [square arcseconds] at places of the frame."""
    x, y = np.asarray(x_px, dtype=np.float64), np.asarray(y_px, dtype=np.float64)
    still, camera = np.eye(3), without_air(camera)
    right = vectors_at(camera, still, x + 0.5, y) - vectors_at(camera, still, x - 0.5, y)
    down = vectors_at(camera, still, x, y + 0.5) - vectors_at(camera, still, x, y - 0.5)
    area = np.linalg.norm(np.cross(right, down), axis=-1)
    return np.asarray(area * (180 / math.pi * 3600) ** 2)


def width_degrees(camera: Camera) -> float:
    """Return the angle between the directions of the left and right ends of the middle row.

    0 to 360; 360 where an end lies outside the image circle.
    """
    y = (camera.height_px - 1) / 2
    x = np.array([-0.5, camera.centre_x_px, camera.width_px - 0.5])
    left, middle, right = vectors_at(without_air(camera), np.eye(3), x, y)
    if not (np.all(np.isfinite(left)) and np.all(np.isfinite(right))):
        return 360.0
    angle = _between_degrees(left, right)
    past_half = _between_degrees(left, middle) + _between_degrees(middle, right) > 180
    return 360 - angle if past_half else angle


def _between_degrees(one: Floats, other: Floats) -> float:
    sine = float(np.linalg.norm(np.cross(one, other)))
    return math.degrees(math.atan2(sine, float(one @ other)))


def with_parameters(camera: Camera, values: ArrayLike) -> Camera:
    """Return the camera with focal_px, centre_x_px, centre_y_px, k1, k2 replaced, in that order."""
    focal, x, y, k1, k2 = (float(v) for v in np.asarray(values, dtype=np.float64))
    return replace(camera, focal_px=focal, centre_x_px=x, centre_y_px=y, k1=k1, k2=k2)


def _stretch(camera: Camera, radius: Floats) -> Floats:
    q2 = (radius / camera.half_diagonal_px) ** 2
    return 1.0 + camera.k1 * q2 + camera.k2 * q2 * q2


def _ideal_radius(camera: Camera, radius: Floats) -> Floats:
    """Undo the distortion by Newton's method; converges in 6 rounds for 20 % at the corner."""
    if camera.k1 == 0 and camera.k2 == 0:
        return radius
    scale = camera.half_diagonal_px
    wanted = radius / scale
    q = wanted.copy()
    for _ in range(8):
        q2 = q * q
        value = q * (1 + camera.k1 * q2 + camera.k2 * q2 * q2) - wanted
        q = q - value / (1 + 3 * camera.k1 * q2 + 5 * camera.k2 * q2 * q2)
    return q * scale
