"""Frames of focus series: gathered by series, setting and place, each with its focus position."""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from nightglass.bench.combined.sightings import Sighting, field_radius, frame_size_px, mean_xy, xy
from nightglass.bench.focus.records import LeftOut, PositionSource, SeriesFrame
from nightglass.gear.lens import LensSetting
from nightglass.optics.arrays import Floats
from nightglass.optics.extent import NoLightError, span
from nightglass.spot.record import Spot, SpotImage

CENTRE_RADIUS = 0.15
"""Field radius under which a place has no radial direction worth the name."""
MARGIN_PX = 2
LEAST_TURN = 3.0
"""Errors by which the shape must turn with focus for the centre to have an axis of its own."""


@dataclass(frozen=True)
class Group:
    """The frames of one series, setting and place, in the order of their positions."""

    series: str
    setting: LensSetting
    place: str
    sightings: tuple[Sighting, ...]
    positions: tuple[float | None, ...]
    source: PositionSource

    @property
    def field_radius(self) -> float:
        """0 centre, 1 corner."""
        return field_radius(self.sightings)


def groups_of(sightings: Sequence[Sighting]) -> tuple[Group, ...]:
    """Return the series among frames: those of one name, setting and place belong together.

    A series in which focus marks were typed goes by them; one without any goes by the camera's
    clock, else by file name. A name whose frames all say one mark, or say that something else was
    varied, comes back too: `curve` tells that focus never moved.
    """
    by_key: dict[tuple[str, LensSetting, str], list[Sighting]] = defaultdict(list)
    for sighting in sightings:
        series = sighting.belongs.series
        if series is not None:
            by_key[series, sighting.belongs.setting, sighting.place].append(sighting)
    marked = {key[0] for key, several in by_key.items() for s in several if _mark(s) is not None}
    return tuple(_group(key, by_key[key], key[0] in marked) for key in sorted(by_key))


def _mark(sighting: Sighting) -> float | None:
    return sighting.belongs.focus_mark


def _group(key: tuple[str, LensSetting, str], several: Sequence[Sighting], marked: bool) -> Group:
    ordered, source = _in_order(several)
    positions: tuple[float | None, ...]
    if marked:
        source = PositionSource.MARKS
        ordered = sorted(ordered, key=lambda s: math.inf if (m := _mark(s)) is None else m)
        positions = tuple(_mark(s) for s in ordered)
    else:
        positions = tuple(float(k) for k in range(1, len(ordered) + 1))
    return Group(*key, tuple(ordered), positions, source)


def _in_order(several: Sequence[Sighting]) -> tuple[list[Sighting], PositionSource]:
    """By the face of the clock where each frame has one of its own, else by name."""
    faces = [s.frame.metadata.taken_at for s in several]
    times = [face.replace(tzinfo=None) for face in faces if face is not None]
    if len(times) == len(several) and len(set(times)) > 1:
        order = sorted(range(len(several)), key=lambda k: (times[k], several[k].frame.path))
        return [several[k] for k in order], PositionSource.TIME_ORDER
    return sorted(several, key=lambda s: s.frame.path), PositionSource.FILE_ORDER


def azimuth_degrees(group: Group) -> float:
    """Return the direction from the frame's middle to a place: 0 right, 90 down, below 360."""
    x, y = mean_xy(group.sightings)
    width, height = frame_size_px(group.sightings[0])
    return math.degrees(math.atan2(y - (height - 1) / 2, x - (width - 1) / 2)) % 360


def axis_degrees(group: Group, images: Mapping[str, SpotImage]) -> float:
    """Return the direction along which a place's spots are measured, 0 to 180.

    Off the centre the line to the optical centre (the frame's middle). At the centre the direction
    in which the light's second moments trade places with focus: they go as a parabola of focus, and
    its linear part points along the astigmatism whatever else the lens does. 0 where none is seen.
    """
    if group.field_radius >= CENTRE_RADIUS:
        return azimuth_degrees(group) % 180
    rows = [
        (position, *_shape(images[s.frame.path], s.spot))
        for s, position in zip(group.sightings, group.positions, strict=True)
        if s.frame.path in images and position is not None and left_out(s.spot) is None
    ]
    if len({row[0] for row in rows}) < 4:
        return 0.0
    table = np.array(rows)
    design = np.stack([table[:, 0] ** k for k in range(3)], axis=1)
    found, rest, _, _ = np.linalg.lstsq(design, table[:, 1:], rcond=None)
    free = max(len(rows) - 3, 1)
    spread = math.sqrt(float(np.sum(rest)) / (2 * free)) if rest.size else 0.0
    slope = found[1] + 2 * found[2] * np.mean(table[:, 0])
    err = spread / max(float(np.std(table[:, 0])) * math.sqrt(len(rows)), 1e-12)
    if math.hypot(*slope) < LEAST_TURN * err:
        return 0.0
    return math.degrees(0.5 * math.atan2(slope[1], slope[0])) % 180


def left_out(spot: Spot) -> LeftOut | None:
    """Return why a spot gives no size; None for one that does."""
    if "clipped" in spot.flags:
        return LeftOut.CLIPPED
    if "lost" in spot.flags or "not a star" in spot.flags:
        return LeftOut.NO_STAR
    if spot.length_px is None and spot.length_at_most_px is None:
        return LeftOut.FAINT
    return None


def frames_of(
    group: Group, axis: float, images: Mapping[str, SpotImage]
) -> tuple[SeriesFrame, ...]:
    """Return the frames of a series with their sizes along and across an axis."""
    return tuple(
        _frame(sighting, position, axis, images.get(sighting.frame.path))
        for sighting, position in zip(group.sightings, group.positions, strict=True)
    )


def _frame(
    sighting: Sighting, position: float | None, axis: float, image: SpotImage | None
) -> SeriesFrame:
    spot = sighting.spot
    why = left_out(spot)
    if why is None and position is None:
        why = LeftOut.NO_MARK
    radial = tangential = None
    if why is None and image is not None and spot.length_px is not None:
        radial, tangential = _extents(image, spot, axis)
    angle = spot.angle_degrees
    return SeriesFrame(
        path=sighting.frame.path,
        position=position,
        length_px=spot.length_px,
        length_px_err=spot.length_px_err,
        length_at_most_px=spot.length_at_most_px,
        width_px=spot.width_px,
        radial_px=radial,
        tangential_px=tangential,
        radial_angle_degrees=None if angle is None else abs((angle - axis + 90) % 180 - 90),
        left_out=why,
    )


def _extents(image: SpotImage, spot: Spot, axis: float) -> tuple[float | None, float | None]:
    """Central 90 % of the light along and across an axis, as length_px along the long one."""
    light = np.ascontiguousarray(image.light, dtype=np.float64)
    x, y = xy(spot)
    centre = x - image.left_px, y - image.top_px
    radius = spot.aperture_px or 0.0
    turn = math.radians(axis)
    try:
        return (
            span(light, 1.0, centre, radius, turn),
            span(light, 1.0, centre, radius, turn + math.pi / 2),
        )
    except NoLightError:
        return None, None


def _shape(image: SpotImage, spot: Spot) -> tuple[float, float]:
    """Second moments xx - yy and 2 xy of the light in the aperture [px^2]."""
    light = cut_spot(image, spot)
    half = light.shape[0] // 2
    rows, columns = np.indices(light.shape) - float(half)
    total = float(light.sum())
    if not total > 0:
        return 0.0, 0.0
    dx = columns - float((light * columns).sum()) / total
    dy = rows - float((light * rows).sum()) / total
    return (
        float((light * (dx * dx - dy * dy)).sum()) / total,
        2 * float((light * dx * dy).sum()) / total,
    )


def cut_spot(image: SpotImage, spot: Spot) -> Floats:
    """Return the light of a rebuilt spot inside its aperture, (size, size), size odd.

    The sample nearest to the centre of light stands in the middle; outside is 0.
    """
    x, y = xy(spot)
    radius = spot.aperture_px or 0.0
    half = math.ceil(radius) + MARGIN_PX
    column, row = round(x) - image.left_px, round(y) - image.top_px
    cut = np.zeros((2 * half + 1, 2 * half + 1))
    rows, columns = image.light.shape
    r0, r1 = max(0, row - half), min(rows, row + half + 1)
    c0, c1 = max(0, column - half), min(columns, column + half + 1)
    if r1 > r0 and c1 > c0:
        top, left = r0 - (row - half), c0 - (column - half)
        cut[top : top + r1 - r0, left : left + c1 - c0] = image.light[r0:r1, c0:c1]
    yy, xx = np.indices(cut.shape, dtype=np.float64) - half
    cut[np.hypot(xx - (x - round(x)), yy - (y - round(y))) > radius] = 0.0
    return cut
