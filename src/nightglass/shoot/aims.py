"""Where to point the camera so that the star falls on a place of the frame.

    from above, camera turned right by pan:         the star lands left of the centre

        source *                                        +-------+
               |\\  pan                                  |  *    |
               | \\                                      +-------+
             L |  axis
               |
            camera

A camera that only turns brings the source nearer than the plane it was focused on: its distance
along the axis is L cos(theta). Standing back to L / cos(theta) puts it into that plane again.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from nightglass.gear.benchfile import Place
from nightglass.gear.body import Body
from nightglass.gear.lens import Lens
from nightglass.optics.arrays import Floats
from nightglass.optics.defocus import (
    defocus_blur_um,
    off_axis_distance_m,
    off_axis_focus_error_um,
)
from nightglass.optics.projection import Projection, directions, radial_scale
from nightglass.shoot.codes import AimProblem
from nightglass.shoot.records import Aim

FOCUS_PLANE_ENDS_DEGREES = 85.0
"""Beyond, standing back takes more than 11 times the distance: no plane is left to stand in."""


def pan_and_tilt_degrees(direction: Floats) -> tuple[Floats, Floats]:
    """Return pan and tilt [degrees] that bring a source straight ahead to a direction.

    direction: unit vectors (..., 3) of the place in the frame: x right, y down, z ahead. The
    camera pans about the vertical, then tilts about its own horizontal axis; positive is to the
    right and up. After both, the source stands at (-sin pan, cos pan sin tilt, cos pan cos tilt).
    """
    x, y, z = direction[..., 0], direction[..., 1], direction[..., 2]
    # 0 - x, not -x: straight ahead is 0 degrees, not -0.
    return np.degrees(np.arcsin(np.clip(0.0 - x, -1.0, 1.0))), np.degrees(np.arctan2(y, z))


def aims(body: Body, lens: Lens, focal_mm: float, places: Sequence[Place]) -> tuple[Aim, ...]:
    """Return the aim of every place by the lens's projection; distances are left out."""
    x_mm = np.array([(p.x_percent / 100 - 0.5) * body.width_mm for p in places])
    y_mm = np.array([(p.y_percent / 100 - 0.5) * body.height_mm for p in places])
    radius = np.hypot(x_mm, y_mm) / (math.hypot(body.width_mm, body.height_mm) / 2)
    towards = directions(x_mm, y_mm, focal_mm, lens.projection)
    off_axis = np.degrees(np.arctan2(np.hypot(towards[:, 0], towards[:, 1]), towards[:, 2]))
    pan, tilt = pan_and_tilt_degrees(towards)
    found = []
    for k, place in enumerate(places):
        aim = Aim(place.name, place.x_percent, place.y_percent, float(radius[k]))
        if math.isnan(off_axis[k]):
            found.append(replace(aim, problem=AimProblem.NOT_SHOWN))
            continue
        behind = off_axis[k] > FOCUS_PLANE_ENDS_DEGREES
        found.append(
            replace(
                aim,
                off_axis_degrees=float(off_axis[k]),
                pan_degrees=float(pan[k]),
                tilt_degrees=float(tilt[k]),
                problem=AimProblem.BEHIND_THE_PLANE if behind else None,
            )
        )
    return tuple(found)


def aim_at(aim: Aim, body: Body, focal_mm: float, f_number: float, distance_m: float) -> Aim:
    """Return an aim with the distance to stand at, and the false blur of not standing back.

    f_number: exact, the widest that is planned. Places without an aim come back as they are.
    """
    if aim.off_axis_degrees is None or aim.problem is not None:
        return aim
    error_um = off_axis_focus_error_um(focal_mm, distance_m, aim.off_axis_degrees)
    blur_um = float(defocus_blur_um(error_um, f_number))
    return replace(
        aim,
        stand_m=float(off_axis_distance_m(distance_m, aim.off_axis_degrees)),
        false_blur_um=blur_um,
        false_blur_percent=percent_of_height(blur_um, body),
    )


def source_stretch(aim: Aim, projection: Projection) -> float:
    """Return the source's image at a place over that on the axis, the camera standing back.

    Its angle shrinks with the distance L / cos(theta), and the projection stretches it outward:
    rectilinear 1 / cos(theta). Never under 1: on the axis it is 1.
    """
    if aim.off_axis_degrees is None or aim.problem is not None:
        return 1.0
    outward = float(radial_scale(aim.off_axis_degrees, projection))
    return max(1.0, outward * math.cos(math.radians(aim.off_axis_degrees)))


def percent_of_height(length_um: float, body: Body) -> float:
    """Return a length on the sensor [um] in % of picture height."""
    return 100 * length_um / (body.pitch_um * body.picture_height_px)
