"""The path that a star draws on the sensor while the shutter is open, by exact rotation.

The frame is given by its aim: the declination of its centre and its roll. Places are (x, y) in
mm from the optical centre, x right and y down the picture. With roll 0 the long side lies east
to west: x points west, y points south; stars move west, so to the right at the centre.

            north
              |
    east -----+-----> x (west)        roll > 0 turns x from west toward south
              |
              v  y (south)
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from nightglass.light.defaults import EARTH_ROTATION_RAD_S
from nightglass.optics.arrays import Flags, Floats
from nightglass.optics.projection import Projection, directions, places_mm

_HALF_DAY_S = math.pi / EARTH_ROTATION_RAD_S
_PROBE_S = 0.1
"""Exposure over which the speed of an image is taken: 1.5 arcseconds, straight to 1e-6."""
FALSE_POSITIONS, HALVINGS = 12, 45
"""Steps to a longest time: the halvings alone leave 1e-13 of it."""
STRAIGHT = 1e-13
"""Share of the limit by which a trail may miss it."""


@dataclass(frozen=True)
class Aim:
    """Where the frame looks: declination of its centre and roll [degrees]."""

    declination_degrees: float = 0.0
    roll_degrees: float = 0.0
    """0: long side east to west; 90: long side north to south."""

    def __post_init__(self) -> None:
        if not -90 <= self.declination_degrees <= 90:
            raise ValueError(
                f"declination_degrees is {self.declination_degrees:g}; it goes from -90 (south "
                "pole of the sky) to 90"
            )
        if not math.isfinite(self.roll_degrees):
            raise ValueError(f"roll_degrees is {self.roll_degrees:g}; give an angle in degrees")


EQUATOR = Aim()


@dataclass(frozen=True)
class Trail:
    """End point minus start point of a star's path: arrays of the places' shape."""

    length_mm: Floats
    angle_degrees: Floats
    """From +x toward +y, 0 to 180."""


def pole_direction(aim: Aim) -> Floats:
    """Return the unit vector (3,) to the north pole of the sky in the frame: x right, y down."""
    declination, roll = math.radians(aim.declination_degrees), math.radians(aim.roll_degrees)
    return np.array(
        [
            -math.cos(declination) * math.sin(roll),
            -math.cos(declination) * math.cos(roll),
            math.sin(declination),
        ]
    )


def star_declination_degrees(
    x_mm: ArrayLike,
    y_mm: ArrayLike,
    focal_mm: float,
    aim: Aim = EQUATOR,
    projection: Projection = "rectilinear",
) -> Floats:
    """Return the declination [degrees] of the stars at places of the frame; nan outside it."""
    sine = directions(x_mm, y_mm, focal_mm, projection) @ pole_direction(aim)
    return np.degrees(np.arcsin(np.clip(sine, -1.0, 1.0)))


def trail_path_mm(
    x_mm: ArrayLike,
    y_mm: ArrayLike,
    exposure_s: ArrayLike,
    focal_mm: float,
    aim: Aim = EQUATOR,
    projection: Projection = "rectilinear",
    shares: Sequence[float] = (0.0, 1.0),
) -> tuple[Floats, Floats]:
    """Return the places (x_mm, y_mm) of a star at shares of a true exposure time.

    The star stands at (x_mm, y_mm) at share 0: (0, 1) is a path from its start, (-0.5, 0.5) one
    about its middle. Places and exposures broadcast; the shares form one more axis, the last. nan
    where the star leaves what the projection shows. Raises ValueError for negative exposures.
    """
    exposure = np.asarray(exposure_s, dtype=np.float64)
    if np.any(exposure < 0):
        raise ValueError(f"exposure_s is {np.min(exposure):g}; an exposure is 0 or longer")
    start = directions(x_mm, y_mm, focal_mm, projection)
    pole = pole_direction(aim)
    # Rotation about the pole, westward, so against its right-hand sense (Rodrigues).
    angle = -EARTH_ROTATION_RAD_S * exposure[..., None] * np.asarray(shares, dtype=np.float64)
    along = (start @ pole)[..., None, None] * pole
    across = start[..., None, :] - along
    sideways = np.cross(np.broadcast_to(pole, start.shape), start)[..., None, :]
    turned = along + across * np.cos(angle)[..., None] + sideways * np.sin(angle)[..., None]
    return places_mm(turned, focal_mm, projection)


def trail_mm(
    x_mm: ArrayLike,
    y_mm: ArrayLike,
    exposure_s: ArrayLike,
    focal_mm: float,
    aim: Aim = EQUATOR,
    projection: Projection = "rectilinear",
) -> Trail:
    """Return length and direction of the trail of a star that starts at a place of the frame.

    At the centre of a rectilinear frame f x 7.2921e-5 x cos(declination) x t. Shapes and errors
    as for trail_path_mm.
    """
    x, y = trail_path_mm(x_mm, y_mm, exposure_s, focal_mm, aim, projection)
    dx, dy = x[..., 1] - x[..., 0], y[..., 1] - y[..., 0]
    return Trail(np.hypot(dx, dy), np.degrees(np.arctan2(dy, dx)) % 180.0)


def trail_percent(
    picture_height_mm: float,
    exposure_s: ArrayLike,
    focal_mm: float,
    aim: Aim = EQUATOR,
    projection: Projection = "rectilinear",
    x_mm: ArrayLike = 0.0,
    y_mm: ArrayLike = 0.0,
) -> Floats:
    """Return the length of the trail in % of picture height, by default at the frame centre.

    Shapes and errors as for trail_path_mm; raises ValueError for a height of 0 or less.
    """
    _check_height(picture_height_mm)
    trail = trail_mm(x_mm, y_mm, exposure_s, focal_mm, aim, projection)
    return 100 * trail.length_mm / picture_height_mm


def longest_time_s(
    limit_percent: float,
    picture_height_mm: float,
    focal_mm: float,
    aim: Aim = EQUATOR,
    projection: Projection = "rectilinear",
    x_mm: ArrayLike = 0.0,
    y_mm: ArrayLike = 0.0,
) -> Floats:
    """Return the true time [s] at which the trail reaches a limit, by default at the frame centre.

    Solved on the exact path at every place (shape of x_mm and y_mm); inf where half a day of
    motion stays under the limit (about the pole), nan outside the image. Raises ValueError for a
    limit or height of 0 or less.
    """
    _check_height(picture_height_mm)
    if not limit_percent > 0:
        raise ValueError(f"limit_percent is {limit_percent:g}; a trail limit is above 0 %")
    limit_mm = limit_percent / 100 * picture_height_mm
    x, y = np.broadcast_arrays(
        np.asarray(x_mm, dtype=np.float64), np.asarray(y_mm, dtype=np.float64)
    )
    speed = trail_mm(x, y, _PROBE_S, focal_mm, aim, projection).length_mm / _PROBE_S

    def over(time_s: Floats) -> Floats:
        length = trail_mm(x, y, time_s, focal_mm, aim, projection).length_mm
        # A star that has left the projection has drawn more than any limit.
        return np.where(np.isnan(length), 1e3 * limit_mm, length - limit_mm)

    with np.errstate(divide="ignore", invalid="ignore"):
        # A chord of a circle falls behind its arc by at most pi / 2.
        latest = np.fmin(4 * limit_mm / speed, _HALF_DAY_S)
    reached = (over(latest) >= 0) & ~np.isnan(speed)
    times = np.where(reached, _crossing(over, latest, limit_mm, reached), np.inf)
    return np.where(np.isnan(speed), np.nan, times)


def _crossing(
    over: Callable[[Floats], Floats], latest: Floats, limit: float, asked: Flags
) -> Floats:
    """Where `over` rises through 0, from -limit at 0 to 0 or more at the latest; places not asked
    for come out anyhow.

    False position, the end that stays counting half (Illinois): trails are nearly straight, so
    that a few steps do. Where one breaks off, halving goes on. A solver of a library takes longer
    to load than all trails of a ranking to draw.
    """
    low, high = np.zeros_like(latest), latest
    under, above = np.full_like(latest, -limit), over(latest)
    time_s, was_above = latest, np.ones(latest.shape, dtype=bool)
    for step in range(FALSE_POSITIONS + HALVINGS):
        with np.errstate(divide="ignore", invalid="ignore"):
            slope = above / (above - under) if step < FALSE_POSITIONS else 0.5
            time_s = np.where(asked, high - slope * (high - low), latest)
        found = over(time_s)
        if np.all(~asked | (np.abs(found) <= STRAIGHT * limit) | (high - low <= STRAIGHT * high)):
            break
        is_above = found >= 0
        same = is_above == was_above
        halved_under = np.where(is_above & same, under / 2, under)
        halved_above = np.where(~is_above & same, above / 2, above)
        low, under = np.where(is_above, low, time_s), np.where(is_above, halved_under, found)
        high, above = np.where(is_above, time_s, high), np.where(is_above, found, halved_above)
        was_above = is_above
    return np.asarray(time_s)


def worst_place_mm(
    width_mm: float,
    height_mm: float,
    focal_mm: float,
    aim: Aim = EQUATOR,
    projection: Projection = "rectilinear",
) -> tuple[float, float]:
    """Return the place (x_mm, y_mm) of a centred frame where stars move fastest.

    Raises ValueError for sides of 0 or less. On a fisheye's frame only the image circle counts.
    """
    if not (width_mm > 0 and height_mm > 0):
        raise ValueError(f"the frame is {width_mm:g} x {height_mm:g} mm; both must be above 0")
    low = np.array([-width_mm / 2, -height_mm / 2])
    high = -low
    # Speed is smooth over the frame: a grid with its rim, then twice finer about its best place.
    for _ in range(3):
        x, y = np.meshgrid(np.linspace(low[0], high[0], 41), np.linspace(low[1], high[1], 41))
        length = trail_mm(x, y, _PROBE_S, focal_mm, aim, projection).length_mm
        best = np.nanargmax(length)
        place = np.array([x.flat[best], y.flat[best]])
        step = (high - low) / 40
        edge = np.array([width_mm / 2, height_mm / 2])
        low, high = np.maximum(place - step, -edge), np.minimum(place + step, edge)
    return float(place[0]), float(place[1])


def frame_grid_mm(
    width_mm: float, height_mm: float, columns: int = 25, rows: int = 17
) -> tuple[Floats, Floats]:
    """Return places (x_mm, y_mm), each (rows, columns), over a frame with its rim: for maps."""
    x = np.linspace(-width_mm / 2, width_mm / 2, columns)
    y = np.linspace(-height_mm / 2, height_mm / 2, rows)
    grid_x, grid_y = np.meshgrid(x, y)
    return grid_x, grid_y


def _check_height(picture_height_mm: float) -> None:
    if not picture_height_mm > 0:
        raise ValueError(
            f"picture_height_mm is {picture_height_mm:g}; the short side of a sensor is above 0"
        )
