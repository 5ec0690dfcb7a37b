"""One setting at one place through focus: frames to curves, or the reason why not."""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping, Sequence
from dataclasses import replace
from statistics import median

import numpy as np

from nightglass.bench.combined.sightings import source_px
from nightglass.bench.focus.best import best_of, depth_of, log_length, position_of, scale_of
from nightglass.bench.focus.curve import Sizes, fit_curve, numbers_of, relative_errs, size_at
from nightglass.bench.focus.records import (
    Astigmatism,
    AxisTurn,
    BestFocus,
    FocusCurve,
    LeftOut,
    PlaceSeries,
    SeriesFault,
    SeriesFrame,
    Value,
)
from nightglass.bench.focus.series import (
    CENTRE_RADIUS,
    Group,
    axis_degrees,
    azimuth_degrees,
    frames_of,
)
from nightglass.gear.benchfile import BenchFile
from nightglass.gear.dial import exact_f_number
from nightglass.spot.record import SpotImage

LEAST_POSITIONS = 3
LEAST_CHANGE = 1.15
"""Largest over smallest length under which focus has not moved the blur."""
MOST_MISFIT = 0.15
"""Mean distance from the curve, in ln size, over which frames follow no curve."""
OUTLIER_ERRS = 6.0
LEAST_FOR_OUTLIER = 5
LEAST_FOR_DIRECTION = 4
TURNED_DEGREES, STAYED_DEGREES = 50.0, 30.0
FAR_FROM_FOCUS = 2.5
"""Times the best length from which the slope is that of the opening's disc."""
DISC_LENGTH = 0.805384
"""Central 90 % of an even disc along one axis over its diameter (semicircle law)."""


def place_series(group: Group, images: Mapping[str, SpotImage], bench: BenchFile) -> PlaceSeries:
    """Return what a series says of its place; `fault` where it gives no best focus."""
    axis = axis_degrees(group, images)
    frames = frames_of(group, axis, images)
    widths = [width for s in group.sightings if (width := source_px(s.belongs, bench)) is not None]
    plain = PlaceSeries(
        series=group.series,
        setting=group.setting,
        place=group.place,
        field_radius=group.field_radius,
        axis_degrees=axis,
        at_centre=group.field_radius < CENTRE_RADIUS,
        position_source=group.source,
        frames=frames,
        source_px=max(widths, default=None),
        azimuth_degrees=azimuth_degrees(group),
    )
    fault = _fault_before(plain)
    if fault is not None:
        return replace(plain, fault=fault)
    return _fitted(plain, bench)


def _used(frames: Sequence[SeriesFrame]) -> list[SeriesFrame]:
    return [frame for frame in frames if frame.left_out is None]


def _fault_before(plain: PlaceSeries) -> SeriesFault | None:
    used = _used(plain.frames)
    if not used:
        return SeriesFault.NO_FRAME
    different = len({frame.position for frame in used})
    if different == 1 and len(used) > 1:
        return SeriesFault.NEVER_VARIED
    if different < LEAST_POSITIONS:
        return SeriesFault.TOO_FEW
    lengths = [frame.length_px for frame in used if frame.length_px is not None]
    if not lengths or (len(lengths) == len(used) and max(lengths) < LEAST_CHANGE * min(lengths)):
        return SeriesFault.NO_CHANGE
    return None


def _fitted(plain: PlaceSeries, bench: BenchFile) -> PlaceSeries:
    frames = plain.frames
    sizes = sizes_of(frames, _length)
    odd = _outliers(fit_curve(sizes), sizes, frames)
    if odd:
        frames = tuple(replace(f, left_out=LeftOut.OUTLIER) if f.path in odd else f for f in frames)
        sizes = sizes_of(frames, _length)
    found = replace(plain, frames=frames)
    if np.unique(sizes.positions).size < LEAST_POSITIONS:
        return replace(found, fault=SeriesFault.TOO_FEW)
    radial, tangential = (_direction(frames, of) for of in (_radial, _tangential))
    pair = [curve for curve in (radial, tangential) if curve is not None]
    curves = pair if len(pair) == 2 else [fit_curve(sizes)]
    position, seen = position_of(curves), ~sizes.bounds
    scale = scale_of(curves, sizes.positions[seen], sizes.sizes_px[seen])
    fault, bound = _fault_after(curves, position, scale, sizes)
    if fault is not None:
        return replace(found, fault=fault, bound=bound)
    best = best_of(curves, scale, _bound_at_best(position, sizes))
    return replace(
        found,
        best=best,
        depth=depth_of(best),
        radial=radial,
        tangential=tangential,
        astigmatism=_astigmatism(frames, best, radial, tangential),
        um_per_mark=_um_per_mark(found, best, bench),
    )


def _bound_at_best(position: float, sizes: Sizes) -> float | None:
    """The least upper bound, where the frame nearest to best focus gave only a bound."""
    if not sizes.bounds[int(np.argmin(np.abs(sizes.positions - position)))]:
        return None
    return float(np.min(sizes.sizes_px[sizes.bounds]))


SizeOf = Callable[[SeriesFrame], float | None]


def _length(frame: SeriesFrame) -> float | None:
    return frame.length_px


def _radial(frame: SeriesFrame) -> float | None:
    return frame.radial_px


def _tangential(frame: SeriesFrame) -> float | None:
    return frame.tangential_px


def sizes_of(frames: Sequence[SeriesFrame], of: SizeOf = _length) -> Sizes:
    """Return the sizes of frames that count; a length at limit enters as its upper bound."""
    rows = []
    for frame in _used(frames):
        size, position = of(frame), frame.position or 0.0
        bound = frame.length_at_most_px
        if size is not None and size > 0:
            share = (frame.length_px_err or 0.0) / (frame.length_px or size)
            rows.append((position, size, share * size, 0.0))
        elif bound is not None:
            rows.append((position, bound, 0.1 * bound, 1.0))
    table = np.array(rows, dtype=np.float64).reshape(-1, 4)
    return Sizes(table[:, 0], table[:, 1], table[:, 2], table[:, 3] > 0)


def _outliers(curve: FocusCurve, sizes: Sizes, frames: Sequence[SeriesFrame]) -> set[str]:
    """Frames far off a curve that the others follow; at most one in four."""
    rest = np.log(sizes.sizes_px / size_at(curve, sizes.positions)) / relative_errs(sizes)
    rest[sizes.bounds] = np.minimum(rest[sizes.bounds], 0.0)
    usual = max(float(np.median(np.abs(rest))) * 1.482602, 1.0)
    odd = np.abs(rest) > OUTLIER_ERRS * usual
    if rest.size < LEAST_FOR_OUTLIER or not 0 < np.count_nonzero(odd) <= rest.size // 4:
        return set()
    used = [f for f in _used(frames) if f.length_px is not None or f.length_at_most_px is not None]
    return {frame.path for frame, is_odd in zip(used, odd, strict=True) if is_odd}


def _fault_after(
    curves: Sequence[FocusCurve], best: float, scale: float, sizes: Sizes
) -> tuple[SeriesFault | None, float | None]:
    made = log_length([numbers_of(curve) for curve in curves], sizes.positions) + scale
    rest = np.log(sizes.sizes_px) - made
    rest[sizes.bounds] = np.minimum(rest[sizes.bounds], 0.0)
    if float(np.mean(np.abs(rest))) > MOST_MISFIT:
        return SeriesFault.NO_CURVE, None
    positions = np.unique(sizes.positions)
    if best <= positions[0]:
        return SeriesFault.BEYOND_LOWEST, float(positions[1])
    if best >= positions[-1]:
        return SeriesFault.BEYOND_HIGHEST, float(positions[-2])
    return None, None


def _direction(frames: Sequence[SeriesFrame], of: SizeOf) -> FocusCurve | None:
    sizes = sizes_of(frames, of)
    if np.unique(sizes.positions).size < LEAST_FOR_DIRECTION:
        return None
    return fit_curve(sizes)


def _astigmatism(
    frames: Sequence[SeriesFrame],
    best: BestFocus,
    radial: FocusCurve | None,
    tangential: FocusCurve | None,
) -> Astigmatism:
    gap = None
    if radial is not None and tangential is not None:
        a, b = radial.position, tangential.position
        gap = Value(a.value - b.value, math.hypot(a.err, b.err))
    used = [f for f in _used(frames) if f.radial_angle_degrees is not None]
    middle = best.position.value
    below = [f.radial_angle_degrees or 0.0 for f in used if (f.position or 0.0) < middle]
    above = [f.radial_angle_degrees or 0.0 for f in used if (f.position or 0.0) > middle]
    if not below or not above:
        return Astigmatism(AxisTurn.UNKNOWN, gap)
    low, high = median(below), median(above)
    apart = abs(low - high)
    turn = AxisTurn.UNKNOWN
    if apart > TURNED_DEGREES:
        turn = AxisTurn.TURNS
    elif apart < STAYED_DEGREES:
        turn = AxisTurn.STAYS
    return Astigmatism(turn, gap, low, high)


def _um_per_mark(found: PlaceSeries, best: BestFocus, bench: BenchFile) -> float | None:
    """The disc's growth as travel of focus: L = 0.805 dz / (N p) for a full round pupil."""
    lengths = [f.length_px for f in _used(found.frames) if f.length_px is not None]
    if not found.at_centre or max(lengths) < FAR_FROM_FOCUS * best.size_px.value:
        return None
    slopes = [side for c in best.curves for side in (c.slope_low_px, c.slope_high_px)]
    slope = math.exp(sum(map(math.log, slopes)) / len(slopes))
    n = exact_f_number(found.setting.f_number)
    return slope * n * bench.body.pitch_um / DISC_LENGTH
