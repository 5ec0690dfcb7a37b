"""Is the plane of best focus tilted? Focus series at places of equal radius held together.

A sound lens focuses alike at equal distance from the centre, whatever its curvature of field. A
tilted group, mount or sensor adds a slope: best focus goes up toward one side and down toward the
other, straight across the frame. A group that is only shifted sideways gives all places the same
coma, and no slope to speak of.
"""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np
from scipy.special import fdtrc

from nightglass.bench.focus.records import PlaceSeries, Tilt, Value
from nightglass.optics.arrays import Floats

LEAST_RADIUS = 0.3
RING_WIDTH = 0.12
"""As bench.faults.rings: nearer to the centre there are no sides; radii that share a ring."""
CURVE_SHARE = 0.3
"""Error of the curvature that brings the places of a ring to one radius, as a share of it."""
FALSE_ALARM = 0.05


def tilt_of(
    places: Sequence[PlaceSeries], curvature: float, half_diagonal_um: float | None
) -> Tilt | None:
    """Return the slope of best focus over the frame; None where the places can't show one.

    places: of one series and setting, their positions comparable; curvature: best focus at field
    radius 1 less that at the centre [marks].
    """
    rings = _rings(places)
    table = np.array([row for ring in rings for row in _rows(ring, curvature)]).reshape(-1, 4)
    if np.linalg.matrix_rank(table[:, :2], tol=0.1) < 2:
        return None
    sides, heights, errs = table[:, :2], table[:, 2], table[:, 3]
    design = sides / errs[:, None]
    covariance = np.linalg.inv(design.T @ design)
    slope = covariance @ design.T @ (heights / errs)
    rest = heights / errs - design @ slope
    free = sum(len(ring) - 1 for ring in rings) - 2
    known = sum(_free(place) for ring in rings for place in ring)
    # The frames' scatter about their curves and the places' about the slope judge one variance.
    scale = max(1.0, (known + float(rest @ rest)) / max(known + free, 1))
    square = float(slope @ np.linalg.solve(covariance, slope)) / scale
    size = float(np.hypot(*slope))
    along = slope / max(size, 1e-30)
    across = np.array([-along[1], along[0]])
    err, turn = (math.sqrt(scale * float(way @ covariance @ way)) for way in (along, across))
    chance = float(fdtrc(2, max(known + free, 1), square / 2))
    marks = Value(size, err)
    return Tilt(
        marks,
        Value(math.degrees(math.atan2(slope[1], slope[0])) % 360, _turn_err(turn, size)),
        chance,
        chance <= FALSE_ALARM,
        tuple(place.place for ring in rings for place in ring),
        _plane(marks, places, half_diagonal_um),
    )


def _turn_err(across: float, size: float) -> float:
    return min(math.degrees(math.atan2(across, size)), 180.0)


def _plane(
    marks: Value, places: Sequence[PlaceSeries], half_diagonal_um: float | None
) -> Value | None:
    steps = [place.um_per_mark for place in places if place.um_per_mark is not None]
    if not steps or half_diagonal_um is None:
        return None
    degrees = math.degrees(steps[0] / half_diagonal_um)
    return Value(marks.value * degrees, marks.err * degrees)


def _rings(places: Sequence[PlaceSeries]) -> list[list[PlaceSeries]]:
    """Places with a best focus at nearly equal radius, two or more of them."""
    rings: list[list[PlaceSeries]] = []
    for place in sorted(places, key=lambda one: one.field_radius):
        known = place.best is not None and place.azimuth_degrees is not None
        if not known or place.field_radius < LEAST_RADIUS:
            continue
        if rings and place.field_radius - rings[-1][0].field_radius <= RING_WIDTH:
            rings[-1].append(place)
        else:
            rings.append([place])
    return [ring for ring in rings if len(ring) > 1]


def _rows(ring: Sequence[PlaceSeries], curvature: float) -> Floats:
    """(places, 4): right and down from the centre [field radii], best focus brought to the ring's
    radius, its error; the first three less the ring's mean."""
    squares = np.array([place.field_radius**2 for place in ring])
    out = curvature * (squares - squares.mean())
    turns = np.radians([place.azimuth_degrees or 0.0 for place in ring])
    best = [place.best.position for place in ring if place.best is not None]
    errs = np.hypot([one.err for one in best], CURVE_SHARE * out)
    columns = np.stack(
        [
            np.sqrt(squares) * np.cos(turns),
            np.sqrt(squares) * np.sin(turns),
            np.array([one.value for one in best]) - out,
        ],
        axis=1,
    )
    weights = errs**-2
    columns = columns - (weights @ columns) / weights.sum()
    rows: Floats = np.column_stack([columns, errs])
    return rows


def _free(place: PlaceSeries) -> int:
    return 0 if place.best is None else sum(curve.free for curve in place.best.curves)
