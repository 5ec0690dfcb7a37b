"""The camera on its tripod: where it points, and what its frame shows of the sky.

Directions on the ground are unit vectors (north, east, up); in the camera (right, down, ahead), as
nightglass.optics.projection has them. Places in the frame are (x, y) in mm from its centre as the
camera is held: in portrait the frame is upright.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from nightglass.almanac.trail import Aim
from nightglass.gear.body import Body
from nightglass.optics.arrays import Flags, Floats
from nightglass.optics.projection import Projection, directions, places_mm
from nightglass.plan.codes import FramePlace


@dataclass(frozen=True)
class Shot:
    """Body and lens setting as they are held."""

    body: Body
    focal_mm: float
    f_number: float
    """As marked."""
    projection: Projection = "rectilinear"
    portrait: bool = False

    def __post_init__(self) -> None:
        if not (self.focal_mm > 0 and self.f_number > 0):
            raise ValueError(
                f"focal length {self.focal_mm:g} mm, f/{self.f_number:g}: both must be above 0"
            )

    @property
    def width_mm(self) -> float:
        """Side of the frame that lies level."""
        return min(self._sides) if self.portrait else max(self._sides)

    @property
    def height_mm(self) -> float:
        """Side of the frame that stands upright."""
        return max(self._sides) if self.portrait else min(self._sides)

    @property
    def picture_height_mm(self) -> float:
        """Short side: what "% of height" refers to."""
        return min(self._sides)

    @property
    def _sides(self) -> tuple[float, float]:
        return self.body.width_mm, self.body.height_mm


@dataclass(frozen=True)
class Pointing:
    """Where the optical axis looks: height and azimuth; roll turns the camera clockwise."""

    altitude_degrees: float
    azimuth_degrees: float
    roll_degrees: float = 0.0

    def axes(self) -> Floats:
        """Return the camera's axes on the ground, rows right, down, ahead: (3, 3)."""
        a, azimuth = math.radians(self.altitude_degrees), math.radians(self.azimuth_degrees)
        roll = math.radians(self.roll_degrees)
        right = np.array([-math.sin(azimuth), math.cos(azimuth), 0.0])
        down = np.array(
            [
                math.sin(a) * math.cos(azimuth),
                math.sin(a) * math.sin(azimuth),
                -math.cos(a),
            ]
        )
        ahead = ground_vectors(self.altitude_degrees, self.azimuth_degrees)
        return np.stack(
            [
                math.cos(roll) * right + math.sin(roll) * down,
                math.cos(roll) * down - math.sin(roll) * right,
                ahead,
            ]
        )


def ground_vectors(altitude_degrees: ArrayLike, azimuth_degrees: ArrayLike) -> Floats:
    """Return unit vectors (..., 3) (north, east, up) of directions."""
    h = np.radians(np.asarray(altitude_degrees, dtype=np.float64))
    a = np.radians(np.asarray(azimuth_degrees, dtype=np.float64))
    h, a = np.broadcast_arrays(h, a)
    return np.stack([np.cos(h) * np.cos(a), np.cos(h) * np.sin(a), np.sin(h)], axis=-1)


def altitude_azimuth(vectors: ArrayLike) -> tuple[Floats, Floats]:
    """Return (altitude, azimuth) in degrees of ground vectors (..., 3)."""
    v = np.asarray(vectors, dtype=np.float64)
    altitude = np.degrees(np.arctan2(v[..., 2], np.hypot(v[..., 0], v[..., 1])))
    return altitude, np.degrees(np.arctan2(v[..., 1], v[..., 0])) % 360.0


def seen_from(
    shot: Shot, pointing: Pointing, x_mm: ArrayLike, y_mm: ArrayLike
) -> tuple[Floats, Floats]:
    """Return (altitude, azimuth) of places of the frame [degrees]; nan outside the image."""
    inside = directions(x_mm, y_mm, shot.focal_mm, shot.projection)
    return altitude_azimuth(inside @ pointing.axes())


def place_in_frame(
    shot: Shot, pointing: Pointing, altitude_degrees: ArrayLike, azimuth_degrees: ArrayLike
) -> tuple[Floats, Floats]:
    """Return (x_mm, y_mm) of directions; nan for what the projection does not show."""
    vectors = ground_vectors(altitude_degrees, azimuth_degrees) @ pointing.axes().T
    return places_mm(vectors, shot.focal_mm, shot.projection)


def inside_frame(shot: Shot, camera_vectors: ArrayLike, share: float = 1.0) -> Flags:
    """Return whether directions (..., 3) in the camera fall in the frame, or in its middle share
    of both sides."""
    x, y = places_mm(camera_vectors, shot.focal_mm, shot.projection)
    # One part in 1e9: the frame's own rim is inside.
    half_width, half_height = (share * (1 + 1e-9) * s / 2 for s in (shot.width_mm, shot.height_mm))
    with np.errstate(invalid="ignore"):
        return (np.abs(x) <= half_width) & (np.abs(y) <= half_height)


def sky_aim(pointing: Pointing, latitude_degrees: float) -> Aim:
    """Return the aim for nightglass.almanac.trail: declination and roll at a latitude."""
    phi = math.radians(latitude_degrees)
    pole = pointing.axes() @ np.array([math.cos(phi), 0.0, math.sin(phi)])
    declination = math.degrees(math.asin(max(-1.0, min(1.0, float(pole[2])))))
    return Aim(declination, math.degrees(math.atan2(-pole[0], -pole[1])))


def pointing_for(
    shot: Shot,
    target: tuple[float, float],
    share: tuple[float, float],
    roll_degrees: float = 0.0,
) -> Pointing:
    """Return the pointing that puts a target at a place of the frame.

    target: (altitude, azimuth) in degrees. share: (x, y) from -1 (left, top) to 1 (right,
    bottom). Raises ValueError where no camera height does it (targets near the zenith).
    """
    x, y = share[0] * shot.width_mm / 2, share[1] * shot.height_mm / 2
    c = directions(x, y, shot.focal_mm, shot.projection)
    if np.any(np.isnan(c)):
        raise ValueError("that place of the frame lies outside the lens's image circle")
    roll = math.radians(roll_degrees)
    # The same direction with the roll undone: right of and below a level camera's axis.
    right = math.cos(roll) * c[0] - math.sin(roll) * c[1]
    down = math.sin(roll) * c[0] + math.cos(roll) * c[1]
    reach = math.hypot(down, c[2])
    sine = math.sin(math.radians(target[0])) / reach
    if abs(sine) > 1:
        raise ValueError(
            f"no level camera puts a target {target[0]:.0f}° high at that place of the frame; "
            "bring it nearer to the middle, choose a time when it is lower (the command night "
            "shows them), or give the aim itself"
        )
    altitude = math.atan2(down, c[2]) + math.asin(sine)
    forward = down * math.sin(altitude) + c[2] * math.cos(altitude)
    azimuth = target[1] - math.degrees(math.atan2(right, forward))
    return Pointing(math.degrees(altitude), azimuth % 360.0, roll_degrees)


def frame_place(shot: Shot, x_mm: float, y_mm: float) -> FramePlace:
    """Return where in the frame a place lies: each side is cut in thirds."""
    column, row = (
        (position > 1 / 3) - (position < -1 / 3)
        for position in (2 * x_mm / shot.width_mm, 2 * y_mm / shot.height_mm)
    )
    return _PLACES[row + 1][column + 1]


_PLACES = (
    (FramePlace.UPPER_LEFT_CORNER, FramePlace.UPPER_EDGE, FramePlace.UPPER_RIGHT_CORNER),
    (FramePlace.LEFT_EDGE, FramePlace.CENTRE, FramePlace.RIGHT_EDGE),
    (FramePlace.LOWER_LEFT_CORNER, FramePlace.LOWER_EDGE, FramePlace.LOWER_RIGHT_CORNER),
)
