"""What the zones of a frame say of the lens: centre, edges and corners, its sides, its light.

A centred lens is the same at all places as far from the optical centre: so zones that mirror each
other are compared, and what differs beyond the errors is decentring (or a sensor that leans).
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from scipy.special import stdtrit

from nightglass.light.falloff import FalloffSource, PupilFalloff
from nightglass.optics.extent import LONG_RATIO
from nightglass.sky.photometry.conditions import Night
from nightglass.sky.zones.codes import FalloffReason, ZoneReason
from nightglass.sky.zones.motion import Motion
from nightglass.sky.zones.zone import ZONE_COLUMNS, ZONE_ROWS, Zone

PLACES = ("centre", "edges", "corners")
"""The zone in the middle of the frame; the four zones in its corners; all between them."""
CENTRE = (ZONE_ROWS // 2, ZONE_COLUMNS // 2)
TWO_SIDED = 1.959964
CHOSEN_OF_FOUR = 2.497705
"""95 % for the largest of four: the normal quantile of 1 - 0.05 / 8 (Bonferroni)."""
COMMON_SHARE = 0.5
"""Part of a zone's error taken as common to all zones: motion and method, not noise."""
IMAGE_SAMPLES_PER_PX = 4
"""Of Zone.image."""
LEAST_OPEN = 0.5
"""Share of open sky under which a frame's light is not told for the whole field."""
GAIN_ERRORS, LEAST_GAIN_STOPS = 3.0, 0.1
"""Light that grows toward the rim by more is cloud: no lens gives it."""
CORNERS = {
    (0, 0): "top left",
    (0, ZONE_COLUMNS - 1): "top right",
    (ZONE_ROWS - 1, 0): "bottom left",
    (ZONE_ROWS - 1, ZONE_COLUMNS - 1): "bottom right",
}


@dataclass(frozen=True)
class Reading:
    """Length of the lens's own star over one part of the frame [px]; None is not tested."""

    place: str
    zones: int
    of_zones: int
    """Without those that were joined to one of another part."""
    length_px: float | None = None
    """Mean of the zones."""
    length_px_err: float | None = None
    least_px: float | None = None
    most_px: float | None = None
    width_px: float | None = None
    width_px_err: float | None = None
    joined: int = 0
    """How many of the zones reach over two columns of zones."""


@dataclass(frozen=True)
class Uneven:
    """One side of the frame over the opposite one, with its 95 % interval."""

    side: str
    other: str
    ratio: float
    """Size of stars at `side` over that at `other`."""
    low: float
    high: float
    pairs: int

    @property
    def real(self) -> bool:
        """Whether the interval leaves out 1."""
        return self.low > 1 or self.high < 1

    @property
    def softer(self) -> str:
        """The side with the larger stars."""
        return self.side if self.ratio >= 1 else self.other


@dataclass(frozen=True)
class Falloff:
    """Light of stars lost toward the corner, from the fit of the night's zero point."""

    terms: tuple[float, float]
    """Magnitudes at field radius q: the terms of q^2 and q^4."""
    covariance: tuple[float, float, float]
    stars: int
    edge_radius: float
    """Field radius of the middle of the frame's short sides."""

    @property
    def pupil(self) -> PupilFalloff:
        """The same as the falloff of the lens's setting."""
        return PupilFalloff(self.terms, self.covariance, FalloffSource.SKY)

    def stops(self, radius: float) -> float:
        """Return the stops lost at a field radius."""
        return self.pupil.stops(radius)

    def stops_err(self, radius: float) -> float:
        """Return their error (1-sigma)."""
        return self.pupil.stops_err(radius)


@dataclass(frozen=True)
class Field:
    """A lens over the field of one frame."""

    width_px: int
    height_px: int
    zones: tuple[Zone, ...]
    readings: tuple[Reading, ...]
    uneven: tuple[Uneven, ...]
    """Right over left, bottom over top, and the softest corner over the others, where known."""
    falloff: Falloff | None
    falloff_reason: FalloffReason | None = None
    """Why there is none."""
    open_sky: float | None = None
    """Share of the frame that shows sky."""

    @property
    def percent(self) -> float:
        """% of picture height per pixel."""
        return 100 / min(self.width_px, self.height_px)

    @property
    def measured(self) -> tuple[Zone, ...]:
        """The zones in which the lens is known."""
        return tuple(zone for zone in self.zones if zone.length_px is not None)


def read_field(motion: Motion, night: Night | None, width_px: int, height_px: int) -> Field:
    """Return what the zones of a frame of width_px x height_px say of the lens."""
    zones = motion.zones
    uneven = (
        _sides(zones, "right", "left"),
        _sides(zones, "bottom", "top"),
        _softest_corner(zones),
    )
    falloff = _falloff(night, width_px, height_px)
    reason = _falloff_reason(falloff, night)
    return Field(
        width_px,
        height_px,
        zones,
        tuple(_reading(zones, place) for place in PLACES),
        tuple(found for found in uneven if found is not None),
        falloff if reason is None else None,
        reason,
        None if night is None else night.open_sky,
    )


def place_of(zone: Zone) -> str:
    """Return to which of PLACES a zone belongs: by its row and column, in frames of any shape and
    wherever the optical centre lies. A zone that was joined to its inner neighbour stays at the
    rim."""
    at = (zone.row, zone.column)
    if at == CENTRE:
        return "centre"
    return "corners" if at in CORNERS else "edges"


def _reading(zones: Sequence[Zone], place: str) -> Reading:
    group = [z for z in zones if place_of(z) == place and z.reason is not ZoneReason.JOINED]
    known = [z for z in group if z.length_px is not None]
    if not known:
        return Reading(place, 0, len(group))
    lengths, length_err = _mean([z.length_px for z in known], [z.length_px_err for z in known])
    width, width_err = _mean([z.width_px for z in known], [z.width_px_err for z in known])
    seen = [z.length_px for z in known if z.length_px is not None]
    return Reading(
        place, len(known), len(group), lengths, length_err, min(seen), max(seen), width, width_err,
        sum(z.columns > 1 for z in known),
    )  # fmt: skip


def _mean(values: Sequence[float | None], errors: Sequence[float | None]) -> tuple[float, float]:
    """Mean and its error; what the method may be off by is common to zones and does not shrink."""
    mean = float(np.mean([v for v in values if v is not None]))
    known = np.array([e for e in errors if e is not None])
    if known.size == 0:
        return mean, 0.0
    shrunk = float(np.sqrt(np.sum(known**2))) / known.size
    return mean, max(shrunk, COMMON_SHARE * float(np.median(known)))


def compared(one: Zone, other: Zone) -> tuple[float, float] | None:
    """Return the log of one zone's size over the other's and its error; None if one is unknown or
    covers more of the frame than the other.

    Lengths where both stars are longer than 1.3 times their width, else roots of length times
    width.
    """
    if one.columns != other.columns:
        return None
    sizes = []
    known = [_size(zone) for zone in (one, other)]
    for size in known:
        if size is None:
            return None
        sizes.append(size)
    long = all(length > LONG_RATIO * width for length, _, width, _ in sizes)
    logs, variance = [], 0.0
    for length, length_err, width, width_err in sizes:
        if long:
            logs.append(math.log(length))
            variance += (length_err / length) ** 2
        else:
            logs.append(0.5 * math.log(length * width))
            # Both errors come from the same fit: taken as one.
            variance += (0.5 * (length_err / length + width_err / width)) ** 2
    return logs[0] - logs[1], math.sqrt(variance)


def _size(zone: Zone) -> tuple[float, float, float, float] | None:
    if zone.length_px is None or zone.width_px is None:
        return None
    return zone.length_px, zone.length_px_err or 0.0, zone.width_px, zone.width_px_err or 0.0


def _sides(zones: Sequence[Zone], side: str, other: str) -> Uneven | None:
    """The zones of one half against their mirror images in the other half."""
    at = {(zone.row, zone.column): zone for zone in zones}
    pairs = []
    for (row, column), zone in at.items():
        mirrored = (row, ZONE_COLUMNS - 1 - column) if side == "right" else (
            ZONE_ROWS - 1 - row, column
        )  # fmt: skip
        beyond = column > mirrored[1] if side == "right" else row > mirrored[0]
        if beyond and mirrored in at and (pair := compared(zone, at[mirrored])) is not None:
            pairs.append(pair)
    if not pairs:
        return None
    logs, errors = (np.array(column) for column in zip(*pairs, strict=True))
    weights = 1 / np.maximum(errors, 1e-6) ** 2
    mean = float(np.sum(weights * logs) / np.sum(weights))
    half = TWO_SIDED / math.sqrt(float(np.sum(weights)))
    if len(pairs) > 1:
        scatter = float(np.sum(weights * (logs - mean) ** 2) / np.sum(weights) / (len(pairs) - 1))
        half = max(half, float(stdtrit(len(pairs) - 1, 0.975)) * math.sqrt(scatter))
    return Uneven(side, other, math.exp(mean), math.exp(mean - half), math.exp(mean + half),
                  len(pairs))  # fmt: skip


def _softest_corner(zones: Sequence[Zone]) -> Uneven | None:
    """The largest corner over the mean of the others, widened for having chosen it."""
    known_corners = [z for z in zones if place_of(z) == "corners" and z.length_px is not None]
    single = [z for z in known_corners if z.columns == 1]
    # A corner that was joined to its neighbour is compared with others of the same width.
    corners = single if len(single) >= 3 else [z for z in known_corners if z.columns > 1]
    if len(corners) < 3:
        return None
    sizes = [0.5 * math.log((z.length_px or 1.0) * (z.width_px or 1.0)) for z in corners]
    softest = corners[int(np.argmax(sizes))]
    logs = [compared(softest, z) for z in corners if z is not softest]
    known = np.array([pair for pair in logs if pair is not None])
    own = (softest.length_px_err or 0.0) / (softest.length_px or 1.0)
    others = np.sqrt(np.maximum(known[:, 1] ** 2 - own**2, 0.0))
    mean = float(known[:, 0].mean())
    half = CHOSEN_OF_FOUR * math.hypot(own, float(np.sqrt(np.sum(others**2))) / len(known))
    return Uneven(
        CORNERS[softest.row, softest.column], "other corners", math.exp(mean),
        math.exp(mean - half), math.exp(mean + half), len(known),
    )  # fmt: skip


def _falloff_reason(falloff: Falloff | None, night: Night | None) -> FalloffReason | None:
    """Why a falloff is not given; None where it is."""
    if night is not None and night.open_sky < LEAST_OPEN:
        return FalloffReason.LITTLE_OPEN_SKY
    if falloff is None:
        return FalloffReason.TOO_FEW_STARS
    for radius in (falloff.edge_radius, 1.0):
        if falloff.stops(radius) < -GAIN_ERRORS * falloff.stops_err(radius) - LEAST_GAIN_STOPS:
            return FalloffReason.BRIGHTER_AT_RIM
    return None


def _falloff(night: Night | None, width_px: int, height_px: int) -> Falloff | None:
    if night is None or night.falloff_terms is None or night.falloff_covariance is None:
        return None
    edge = max(width_px, height_px) / math.hypot(width_px, height_px)
    return Falloff(night.falloff_terms, night.falloff_covariance, night.zero_point_stars, edge)
