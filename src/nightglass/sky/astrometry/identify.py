"""A first camera and aim from the star patterns of one window of a frame.

The patterns are those of flat pictures. So the window, which may lie anywhere in a fisheye, is
turned to the middle and flattened; what comes back is turned again. A window beside the middle
may be free of the lamps, the land and the distortion that hide the whole frame's pattern.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import numpy as np
import tetra3rs
from scipy.spatial.transform import Rotation

from nightglass.optics.arrays import Floats, Indices
from nightglass.optics.projection import (
    PROJECTIONS,
    Projection,
    directions,
    image_radius_mm,
    off_axis_degrees,
    radial_scale,
    tangential_scale,
)
from nightglass.sky.astrometry.camera import Camera, width_degrees
from nightglass.sky.astrometry.patterns import NARROWEST_DEGREES, WIDEST_DEGREES, pattern_database
from nightglass.sky.stars.find import FoundStars

CENTRAL_DEGREES = 100.0
"""A fisheye is identified by its central part, flattened; beyond it the flat picture runs away."""
WINDOW_DEGREES = 60.0
"""Of a window beside the middle: its 13 brightest stars are third magnitude and brighter."""
PATTERN_STARS = 60
LEAST_STARS = 6
TRY_MS = 10_000
"""Ten times what the largest try takes: the work is bounded by its stars, not by the clock."""
WIDTH_ERR = 0.22


@dataclass(frozen=True)
class Window:
    """Which part of the frame to look at: its middle [px] and its full angle [degrees]."""

    x_px: float
    y_px: float
    degrees: float


@dataclass(frozen=True)
class Identified:
    """A first camera, its rotation, and the place of the frame where they hold best [px]."""

    camera: Camera
    rotation: Floats
    x_px: float
    y_px: float


def whole(camera: Camera) -> Window:
    """Return the window about the optical centre, as wide as the frame or as patterns go."""
    degrees = min(width_degrees(camera), CENTRAL_DEGREES, WIDEST_DEGREES)
    return Window(camera.centre_x_px, camera.centre_y_px, degrees)


def identify(
    stars: FoundStars, trusted: Indices, guess: Camera, checked: int, window: Window | None = None
) -> tuple[Identified, ...]:
    """Return first cameras and rotations from the patterns of a window; none where none fits.

    trusted: found stars to go by, brightest first; checked: how many of the window's are combined
    into patterns; window: else the whole frame. A window does not tell the projection: one camera
    of each kind comes back that shows it at the scale found. A mirrored sky is no answer.
    """
    looked_at = window or whole(guess)
    seen = _directions(guess, stars.x_px[trusted], stars.y_px[trusted])
    seen = seen @ _turn_to(guess, looked_at).T
    reach = CENTRAL_DEGREES if window is None else window.degrees
    central = np.flatnonzero(seen[:, 2] > math.cos(math.radians(reach / 2)))[:PATTERN_STARS]
    if central.size < LEAST_STARS:
        return ()
    flat = seen[central, :2] / seen[central, 2:] * guess.focal_px
    side = 2 * guess.focal_px * math.tan(math.radians(looked_at.degrees / 2))
    side = max(side, 2.02 * float(np.abs(flat).max()))
    found = _patterns(flat, stars.snr[trusted[central]], side, guess.focal_px, checked)
    if found is None:
        return ()
    focal_px, rotation = found
    stretch = focal_px / guess.focal_px
    cameras = (
        [replace(guess, focal_px=focal_px)]
        if window is None
        else [_of_kind(guess, kind, looked_at, stretch) for kind in PROJECTIONS]
    )
    place = looked_at.x_px, looked_at.y_px
    # With another focal length the window's middle lies in another direction of the camera.
    return tuple(Identified(c, _turn_to(c, looked_at).T @ rotation, *place) for c in cameras)


def _of_kind(guess: Camera, kind: Projection, window: Window, stretch: float) -> Camera:
    """The camera of a kind that draws a window `stretch` times as large as the guess does."""
    radius = math.hypot(window.x_px - guess.centre_x_px, window.y_px - guess.centre_y_px)
    off_axis = float(off_axis_degrees(radius, guess.focal_px, guess.projection))
    wanted = stretch * guess.focal_px * float(_scale(np.array(off_axis), guess.projection))
    if radius < 1:
        return replace(guess, focal_px=wanted, projection=kind)
    angles = np.linspace(0.1, 85.0, 850)
    ratio = image_radius_mm(angles, 1.0, kind) / _scale(angles, kind)
    # A rectilinear lens stretches so much beyond 55 degrees that the ratio falls again.
    rising = int(np.argmax(ratio)) + 1
    angle = np.interp(radius / wanted, ratio[:rising], angles[:rising])
    focal_px = radius / float(image_radius_mm(angle, 1.0, kind))
    return replace(guess, focal_px=focal_px, projection=kind)


def _scale(angles_degrees: Floats, kind: Projection) -> Floats:
    """How much larger than on the axis a small field off it is drawn, both ways taken together."""
    both = radial_scale(angles_degrees, kind) * tangential_scale(angles_degrees, kind)
    return np.asarray(np.sqrt(both))


def _patterns(
    flat: Floats, brightness: Floats, side: float, focal_px: float, checked: int
) -> tuple[float, Floats] | None:
    """Focal length [px] and rotation of a flat picture of a side [px], or None."""
    field_degrees = 2 * math.degrees(math.atan(side / 2 / focal_px))
    if field_degrees < NARROWEST_DEGREES * 0.5:
        return None
    answer = pattern_database().solve_from_centroids(
        np.column_stack([flat, brightness]),
        fov_estimate_deg=field_degrees,
        fov_max_error_deg=WIDTH_ERR * field_degrees,
        image_width=math.ceil(side),
        image_height=math.ceil(side),
        solve_timeout_ms=TRY_MS,
        pattern_checking_stars=checked,
        match_threshold=1e-4,
    )
    if not isinstance(answer, tetra3rs.SolveResult) or answer.parity_flip:
        return None
    rotation = np.asarray(answer.rotation_matrix_icrs_to_camera, dtype=np.float64)
    return math.ceil(side) / 2 / math.tan(math.radians(answer.fov_deg) / 2), rotation


def _directions(camera: Camera, x_px: Floats, y_px: Floats) -> Floats:
    return directions(
        x_px - camera.centre_x_px, y_px - camera.centre_y_px, camera.focal_px, camera.projection
    )


def _turn_to(camera: Camera, window: Window) -> Floats:
    """The rotation that brings a window's middle ahead, about the axis across its direction."""
    place = np.array([window.x_px]), np.array([window.y_px])
    ahead = _directions(camera, *place)[0]
    sine = math.hypot(ahead[0], ahead[1])
    if not sine > 1e-9:
        return np.eye(3)
    angle = math.atan2(sine, float(ahead[2]))
    axis = np.array([ahead[1], -ahead[0], 0.0]) / sine
    return np.asarray(Rotation.from_rotvec(angle * axis).as_matrix())
