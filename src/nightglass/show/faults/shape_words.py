"""Words for the shape of a spot."""

from __future__ import annotations

from nightglass.bench.faults.shape import Shape, ShapeFinding
from nightglass.bench.records import ZoneResult

SHAPES: dict[Shape, str] = {
    Shape.ROUND: "round: an even disc or a blob, as defocus and spherical aberration draw it",
    Shape.LINE: "a line or a long ellipse, as astigmatism draws it",
    Shape.ONE_SIDED: "bright at one end with a tail, as coma draws it",
    Shape.RING: "brighter toward its rim, as defocus with spherical aberration draws it",
    Shape.CANT_TELL: "no class reaches a probability of 0.85",
    Shape.TOO_SMALL: "too small to tell: length under 5 px or width under 3 px",
    Shape.NOT_TESTED: "no spot on record there",
}
SHORT: dict[Shape, str] = {
    Shape.ROUND: "round",
    Shape.LINE: "line",
    Shape.ONE_SIDED: "one-sided",
    Shape.RING: "ring",
    Shape.CANT_TELL: "can't tell",
    Shape.TOO_SMALL: "too small to tell",
    Shape.NOT_TESTED: "not tested",
}
DRAWN: dict[Shape, str] = {
    Shape.ROUND: "round, as defocus or spherical aberration draws it",
    Shape.LINE: "drawn out to a line, as astigmatism does",
    Shape.ONE_SIDED: "one-sided with a tail, as coma draws it",
    Shape.RING: "a ring, as defocus with spherical aberration draws it",
}
RADIAL_DEGREES = 30.0


def short_shape(shape: ShapeFinding) -> str:
    """Return the class with its probability, for a table."""
    if shape.shape not in DRAWN or shape.probability is None:
        return SHORT[shape.shape]
    return f"{SHORT[shape.shape]} ({100 * shape.probability:.0f} %)"


def shape_words(zone: ZoneResult, shape: ShapeFinding) -> str:
    """Return what the spot of a place looks like; empty where that can't be told."""
    if shape.shape not in DRAWN:
        return ""
    return f"{DRAWN[shape.shape]}{_way(zone, shape)}"


def _way(zone: ZoneResult, shape: ShapeFinding) -> str:
    """How a line lies against the way to the frame's centre."""
    angle = zone.radial_angle_degrees.value
    if shape.shape is not Shape.LINE or angle is None:
        return ""
    away = abs(angle)
    if away <= RADIAL_DEGREES:
        return ", pointing to the centre"
    return ", across the way to the centre" if away >= 90 - RADIAL_DEGREES else ""
