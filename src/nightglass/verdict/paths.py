"""The trails at places of the frame, in raw pixels."""

from __future__ import annotations

import numpy as np

from nightglass.almanac.trail import trail_mm
from nightglass.gear.body import Body
from nightglass.gear.lens import Lens
from nightglass.optics.arrays import Floats
from nightglass.verdict.blur import equator_aim


def trails_px(
    x_mm: Floats, y_mm: Floats, exposure_s: float, body: Body, lens: Lens, focal_mm: float
) -> tuple[Floats, Floats]:
    """Return length [px] and direction [degrees] of trails at places: two arrays of their shape.

    The frame is aimed at declination 0, its long side east to west. 0 where the star leaves what
    the projection shows. Raises ValueError for a negative exposure.
    """
    trail = trail_mm(x_mm, y_mm, exposure_s, focal_mm, equator_aim(body), lens.projection)
    length_px = np.nan_to_num(trail.length_mm) * 1000 / body.pitch_um
    return length_px, np.nan_to_num(trail.angle_degrees)
