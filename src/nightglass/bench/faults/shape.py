"""The class of one spot: round, line, one-sided or ring, with a probability.

One spot does not give the wavefront: W(x) and -W(-x) draw the same one. So the shape is named, not
its cause; docs/faults.md says which faults draw which shape.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, field
from enum import StrEnum

import numpy as np
from scipy.special import ndtr

from nightglass.bench.faults.shape_table import CLASSES, MEANS, SCALES, WEIGHTS
from nightglass.bench.records import ZoneResult
from nightglass.optics.arrays import Floats
from nightglass.optics.extent import APERTURE_LEAST_PX, APERTURE_LENGTHS, NoLightError, quantiles

LEAST_LENGTH_PX, LEAST_WIDTH_PX = 5.0, 3.0
SURE = 0.85
"""Probability from which a class is named (design/spot_shapes.py)."""
MOST_LEAN = 0.46
"""A spot that leans as much as pure coma does (0.45 to 0.57) is not named round, even if defocus or
spherical aberration with less coma is likeliest: whoever looks at it sees a tail
(design/spot_shapes.py)."""
RING_SHARE, RING_ERR = 0.2, 0.02
"""Share of the light in the inner quarter of a spot's area under which it counts as a ring (an
even disc has a quarter), and its error on one frame (design/spot_shapes.py)."""
TURNS = 12
"""Directions in which the lean is taken, over half a circle."""
SHARES = (0.05, 0.25, 0.5, 0.75, 0.95)
LEAST_VARIANCE_PX2 = 0.1
NEAR = 4.0
"""Standard deviations within which higher moments are taken: beyond it noise outweighs light."""


class Shape(StrEnum):
    """What a spot looks like."""

    ROUND = "round"
    LINE = "line"
    ONE_SIDED = "one_sided"
    RING = "ring"
    CANT_TELL = "cant_tell"
    TOO_SMALL = "too_small"
    NOT_TESTED = "not_tested"


@dataclass(frozen=True)
class ShapeFinding:
    """The class of the mean spot of one setting at one place."""

    place: str
    shape: Shape
    probability: float | None = None
    """Of the class named, or of the likeliest one where none is."""
    probabilities: Mapping[str, float] = field(default_factory=dict)
    tail_degrees: float | None = None
    """Of a one-sided spot: direction of its tail (0 right, 90 down)."""


def shape_of(zone: ZoneResult) -> ShapeFinding:
    """Return the class of a zone's mean spot."""
    length, width = zone.length_px.value, zone.width_px.value
    if zone.length_px.bound is None:
        return ShapeFinding(zone.place, Shape.NOT_TESTED)
    if length is None or width is None or length < LEAST_LENGTH_PX or width < LEAST_WIDTH_PX:
        return ShapeFinding(zone.place, Shape.TOO_SMALL)
    if zone.stamp is None:
        return ShapeFinding(zone.place, Shape.NOT_TESTED)
    try:
        form = form_of(np.asarray(zone.stamp, dtype=np.float64), length)
    except NoLightError:
        return ShapeFinding(zone.place, Shape.NOT_TESTED)
    return named_shape(zone.place, form)


@dataclass(frozen=True)
class Form:
    """Numbers of a spot's form; sizes, turn and mirror leave them as they are."""

    features: tuple[float, ...]
    """Half the log of the ratio of second moments; lean of one direction over half a circle, the
    same signed by whether it lies along (+) or across the long axis; its part of three lobes
    toward the tail; light within half and within one standard deviation; middle half over length
    along and across; third moment as a direction, signed as the lean is; mean of the product of
    both squares (1 where they are independent, 2/3 of an even disc)."""
    inner_share: float
    """Light in the inner quarter of the area."""
    tail_degrees: float


def form_of(stamp: Floats, length_px: float) -> Form:
    """Return the form of a spot, centre of light at the central sample, 1 px steps.

    Lengths are taken in units of the standard deviation along each axis, so that an even disc and
    an even ellipse have one form. Raises NoLightError for a stamp without light.
    """
    light, middle, reach = _inside(stamp, length_px)
    y, x = np.indices(light.shape) - middle
    mx, my = float((light * x).sum()), float((light * y).sum())
    dx, dy = x - mx, y - my
    xy = float((light * dx * dy).sum())
    moments = np.array([[float((light * dx * dx).sum()), xy], [xy, float((light * dy * dy).sum())]])
    values, axes = np.linalg.eigh(moments)
    short, long = (math.sqrt(max(v, LEAST_VARIANCE_PX2)) for v in values)
    u, v = (axes[0, 1] * dx + axes[1, 1] * dy) / long, (axes[0, 0] * dx + axes[1, 0] * dy) / short
    radius = np.hypot(u, v)
    half, inner = (float((light * (radius < r)).sum()) for r in (0.5, 1.0))
    turn = math.atan2(axes[1, 1], axes[0, 1])
    leans, middles = _leans(light, (middle + mx, middle + my), reach, turn)
    one, three = _odd(leans, 1), _odd(leans, 3)
    along = float(np.angle(one))
    features = (
        math.log(long / short),
        abs(one),
        abs(one) * math.cos(2 * along),
        abs(three) * math.cos(float(np.angle(three)) - 3 * along),
        half,
        inner,
        middles[0],
        middles[TURNS // 2],
        *_higher(light, u, v),
    )
    return Form(features, inner, math.degrees(turn + along) % 360)


def probabilities_of(form: Form) -> dict[Shape, float]:
    """Return the probability of each class, sum 1."""
    f = (np.array(form.features) - MEANS) / SCALES
    pairs = [f[i] * f[j] for i in range(f.size) for j in range(i, f.size)]
    scores = np.concatenate([[1.0], f, pairs]) @ np.array(WEIGHTS)
    shares = np.exp(scores - scores.max())
    found = dict(zip(map(Shape, CLASSES), (shares / shares.sum()).tolist(), strict=True))
    ring = float(ndtr((RING_SHARE - form.inner_share) / RING_ERR))
    found[Shape.RING] = found[Shape.ROUND] * ring
    found[Shape.ROUND] *= 1 - ring
    return found


def named_shape(place: str, form: Form) -> ShapeFinding:
    """Return the class of a form, or that it can't be told."""
    found = probabilities_of(form)
    likeliest = max(found, key=lambda shape: found[shape])
    if likeliest in (Shape.ROUND, Shape.RING) and form.features[1] > MOST_LEAN:
        return ShapeFinding(place, Shape.CANT_TELL)
    named = likeliest if found[likeliest] >= SURE else Shape.CANT_TELL
    return ShapeFinding(
        place,
        named,
        found[likeliest],
        {shape.value: share for shape, share in found.items()},
        form.tail_degrees if named is Shape.ONE_SIDED else None,
    )


def _inside(stamp: Floats, length_px: float) -> tuple[Floats, int, float]:
    """The light in the aperture, sum 1, the middle sample and the aperture's radius [px]."""
    middle = stamp.shape[0] // 2
    reach = min(max(APERTURE_LEAST_PX, APERTURE_LENGTHS * length_px), float(middle))
    y, x = np.indices(stamp.shape) - middle
    light = np.where(np.hypot(x, y) <= reach, stamp, 0.0)
    total = float(light.sum())
    if not total > 0:
        raise NoLightError("the stamp of the spot holds no light")
    return np.ascontiguousarray(light / total), middle, reach


def _higher(light: Floats, u: Floats, v: Floats) -> tuple[float, float]:
    """Third moment, + along and - across the long axis, and the mixed fourth moment."""
    squared = u * u + v * v
    near = np.where(squared < NEAR**2, light, 0.0)
    third = complex(float((near * u * squared).sum()), float((near * v * squared).sum()))
    skew = abs(third) * math.cos(2 * float(np.angle(third)))
    return skew, float((near * (u * v) ** 2).sum())


def _leans(
    light: Floats, centre: tuple[float, float], reach: float, turn: float
) -> tuple[Floats, list[float]]:
    """Lean, and the middle half of the light over its length, in directions from the long axis."""
    leans, middles = [], []
    for k in range(TURNS):
        angle = turn + math.pi * k / TURNS
        q5, q25, q50, q75, q95 = quantiles(light, 1.0, centre, reach, angle, SHARES)
        leans.append((q95 + q5 - 2 * q50) / (q95 - q5))
        middles.append((q75 - q25) / (q95 - q5))
    return np.array(leans), middles


def _odd(leans: Floats, order: int) -> complex:
    """The part of the lean that turns `order` times in a circle; it is odd over half a circle."""
    angles = math.pi * np.arange(TURNS) / TURNS
    return complex(2 * np.mean(leans * np.exp(1j * order * angles)))
