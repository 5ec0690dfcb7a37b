"""How a lens's spot changes over the frame, so that one spot per zone fits all its stars.

Inside a zone a spot may change by a third, and the stars where it is sharpest tell most: drawn with
one and the same spot, they would make the zone's middle look sharper than it is. So each star gets
its zone's spot, larger or smaller and turned about the optical centre as the star's place is.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from nightglass.optics.arrays import Floats
from nightglass.sky.astrometry.camera import Camera
from nightglass.sky.zones.joint_fit import JointFit, rough_length
from nightglass.sky.zones.size_field import size_field
from nightglass.sky.zones.zone import Group

STILL_RADIUS = 0.25
"""Field radius of a zone's middle up to which its spots are not turned: too near the centre."""


def with_turns(groups: Sequence[Group], fit: JointFit, camera: Camera) -> list[Group]:
    """Return the groups with the turn and size of the spot at each star (Group.turns).

    The size is that of a smooth surface through ln(size) of all zones of a first fit; where too
    few zones are known, it is 1.
    """
    change, uneven = _changes(groups, fit)
    return [
        replace(group, turns=_turns(group, sizes, camera), uneven=uneven)
        for group, sizes in zip(groups, change, strict=True)
    ]


def _turns(group: Group, sizes: Floats, camera: Camera) -> Floats:
    centre = np.array([camera.centre_x_px, camera.centre_y_px])
    x, y = (group.places - centre).T
    angle = np.zeros(len(x))
    if group.zone.field_radius > STILL_RADIUS:
        middle = group.zone.x_px - centre[0], group.zone.y_px - centre[1]
        angle = np.arctan2(y, x) - math.atan2(middle[1], middle[0])
    return np.column_stack([np.cos(angle), np.sin(angle)]) / sizes[:, None]


def _changes(groups: Sequence[Group], fit: JointFit) -> tuple[list[Floats], float]:
    """Size at each star over that at its zone's middle; scatter of the zones about the surface."""
    # A zone's spot is that of the place about which its stars lie.
    seen = [np.average(g.places, axis=0, weights=np.maximum(g.snr, 1e-6) ** 2) for g in groups]
    field = size_field(seen, np.log([rough_length(zone.lens) for zone in fit.zones]))
    changes = [field.change(g.places, (g.zone.x_px, g.zone.y_px)) for g in groups]
    return changes, field.uneven
