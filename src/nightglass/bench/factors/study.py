"""From frames on record to factor studies: which conditions varied, and what each did."""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Sequence
from datetime import UTC, datetime

import numpy as np

from nightglass.bench.combined.sightings import Sighting, series_on_record, sightings_on_record
from nightglass.bench.factors.ladder import exposure_ladder
from nightglass.bench.factors.model import (
    LEAST_FRAMES,
    Columns,
    ColumnsFit,
    ModelFit,
    fit_model,
    only_together,
    reach,
    share_interval,
)
from nightglass.bench.factors.records import (
    Effect,
    FactorStudy,
    Influence,
    InfluenceFault,
    Span,
)
from nightglass.bench.store.store import open_store
from nightglass.gear.benchfile import BenchFile
from nightglass.optics.arrays import Floats, Indices

ELONGATED = 1.3
"""Length over width from which the length is the size; below it the root of their product."""
SAME_STEP = 0.05
"""Of a stop or a doubling: values nearer than that are one level."""
BEND_LEVELS = 3
"""Focus marks from which a best focus can lie among them."""


def factor_studies(bench: BenchFile) -> tuple[FactorStudy, ...]:
    """Return a study for each setting, place and series in which a condition of the bench varied.

    The largest come first. Raises StoreError.
    """
    store = open_store(bench)
    try:
        seen = (*series_on_record(store, bench), *sightings_on_record(store, bench))
    finally:
        store.close()
    groups: dict[tuple[object, ...], list[Sighting]] = defaultdict(list)
    for sighting in seen:
        belongs = sighting.belongs
        groups[belongs.setting, sighting.place, belongs.series].append(sighting)
    studies = [study_of(several) for several in groups.values() if _varied(several)]
    return tuple(sorted(studies, key=lambda s: (-s.frames, s.setting, s.place)))


def study_of(several: Sequence[Sighting]) -> FactorStudy:
    """Return the study of frames of one setting with the star at one place.

    Raises ValueError without a usable frame.
    """
    frames = sorted((s for s in several if s.spot.length_px is not None and s.usable), key=_moment)
    if not frames:
        raise ValueError("no frame gave a size; expose so that the peak lies at 40 to 70 %")
    sizes, rounds = log_sizes(frames), rounds_of(frames)
    effects, fit = _effects(frames, sizes, rounds)
    total = fit.total if fit is not None else float(np.var(sizes))
    between = None if fit is None or fit.round_variance is None else fit.round_variance
    return FactorStudy(
        setting=frames[0].belongs.setting,
        place=frames[0].place,
        series=frames[0].belongs.series,
        frames=len(frames),
        rounds=int(rounds.max()) + 1,
        left_out_clipped=sum("clipped" in s.spot.flags for s in several),
        left_out_at_limit=sum(s.usable and s.spot.length_px is None for s in several),
        size_px=float(np.exp(sizes.mean())),
        spread_percent=100 * float(np.std(sizes, ddof=1)) if len(frames) > 1 else 0.0,
        effects=effects,
        between_rounds_percent=None if between is None else 100 * between / total,
        unexplained_percent=100.0 if fit is None else 100 * fit.frame_variance / total,
        ladder=exposure_ladder(frames, sizes, rounds),
    )


def log_sizes(frames: Sequence[Sighting]) -> Floats:
    """Return ln size [px] of each frame: length, or root of length x width for round spots."""
    lengths = np.array([s.spot.length_px or math.nan for s in frames])
    widths = np.array([s.spot.width_px or s.spot.length_px or math.nan for s in frames])
    if float(np.median(lengths / widths)) > ELONGATED:
        return np.log(lengths)
    return 0.5 * np.log(lengths * widths)


def rounds_of(frames: Sequence[Sighting]) -> Indices:
    """Return the round of each frame, from 0: frames in the order of time.

    A round begins with a session, and with each frame that was focused anew. Where every frame
    was, or none is said to be, sessions alone are the rounds.
    """
    anew = [s.belongs.refocused is True for s in frames]
    told = any(anew) and not all(anew)
    numbers: dict[tuple[str, int], int] = {}
    rounds, turn = [], 0
    for sighting, fresh in zip(frames, anew, strict=True):
        turn += told and fresh
        key = sighting.belongs.session, turn
        rounds.append(numbers.setdefault(key, len(numbers)))
    return np.array(rounds, dtype=np.int64)


def values_of(influence: Influence, frames: Sequence[Sighting]) -> list[float | None]:
    """Return what each frame had of an influence: s, ISO, m, mm, marks; None where not known."""
    names = {
        Influence.EXPOSURE: "exposure_s",
        Influence.ISO: "iso",
        Influence.DISTANCE: "distance_m",
        Influence.SOURCE: "source_diameter_mm",
        Influence.FOCUS: "focus_mark",
    }
    found = [getattr(s.belongs, names[influence]) for s in frames]
    return [None if value is None else float(value) for value in found]


def _varied(several: Sequence[Sighting]) -> bool:
    frames = [s for s in several if s.usable and s.spot.length_px is not None]
    return any(_levels(kind, values_of(kind, frames)) > 1 for kind in Influence)


def _steps(influence: Influence, values: Sequence[float]) -> Floats:
    """Values in the unit of an effect: stops, doublings, marks."""
    array = np.asarray(values, dtype=np.float64)
    return array if influence is Influence.FOCUS else np.log2(array)


def _levels(influence: Influence, values: Sequence[float | None]) -> int:
    known = [value for value in values if value is not None]
    if not known:
        return 0
    steps = np.sort(_steps(influence, known))
    apart = SAME_STEP if influence is not Influence.FOCUS else 1e-9
    return 1 + int((np.diff(steps) > apart).sum())


def _effects(
    frames: Sequence[Sighting], sizes: Floats, rounds: Indices
) -> tuple[tuple[Effect, ...], ModelFit | None]:
    bare = {kind: _bare(kind, values_of(kind, frames)) for kind in Influence}
    varied = [kind for kind, effect in bare.items() if effect.fault is None]
    if not varied:
        return tuple(bare.values()), None
    if len(frames) < LEAST_FRAMES:
        few = InfluenceFault.TOO_FEW_FRAMES
        return tuple(_faulty(e, few) if e.fault is None else e for e in bare.values()), None
    columns = [_columns(kind, frames, bare[kind].levels) for kind in varied]
    stuck = only_together(columns)
    free = [one for one in columns if one.name not in stuck]
    fit = fit_model(sizes, free, [one for one in columns if one.name in stuck], rounds)
    found = []
    for kind, effect in bare.items():
        if kind in stuck:
            partners = tuple(Influence(name) for name in stuck[kind])
            found.append(_faulty(effect, InfluenceFault.ONLY_TOGETHER, partners))
        elif kind in fit.too_few:
            rare = InfluenceFault.TOO_FEW_ROUNDS if fit.too_few[kind] else None
            found.append(_faulty(effect, rare or InfluenceFault.TOO_FEW_FRAMES))
        elif kind in fit.fits:
            found.append(_measured(effect, fit.fits[kind], fit.total, frames))
        else:
            found.append(effect)
    return tuple(found), fit


def _bare(influence: Influence, values: Sequence[float | None]) -> Effect:
    known = [value for value in values if value is not None]
    levels = _levels(influence, values)
    fault = None
    if len(known) < len(values):
        fault = InfluenceFault.NOT_KNOWN
    elif levels < 2:
        fault = InfluenceFault.NEVER_VARIED
    least, most = (min(known), max(known)) if known else (None, None)
    return Effect(influence, least, most, levels, fault=fault)


def _faulty(
    effect: Effect, fault: InfluenceFault, together_with: tuple[Influence, ...] = ()
) -> Effect:
    return Effect(
        effect.influence, effect.least, effect.most, effect.levels, fault=fault,
        together_with=together_with,
    )  # fmt: skip


def _columns(influence: Influence, frames: Sequence[Sighting], levels: int) -> Columns:
    steps = _steps(influence, [value or 0.0 for value in values_of(influence, frames)])
    steps = steps - steps.mean()
    if influence is Influence.FOCUS and levels >= BEND_LEVELS:
        return Columns(influence, np.column_stack([steps, steps**2]))
    return Columns(influence, steps[:, None])


def _measured(effect: Effect, fit: ColumnsFit, total: float, frames: Sequence[Sighting]) -> Effect:
    which, off_best = 0, False
    if fit.coefficients.size > 1:
        slope, bend = (float(c) for c in fit.coefficients)
        marks = _steps(effect.influence, [v or 0.0 for v in values_of(effect.influence, frames)])
        best = marks.mean() - slope / (2 * bend) if bend > 0 else math.inf
        off_best = bool(marks.min() < best < marks.max())
        which = int(off_best)
    middle = float(fit.coefficients[which])
    half = reach(fit.degrees_of_freedom) * math.sqrt(float(fit.covariance[which, which]))
    percent = Span(*(100 * math.expm1(value) for value in (middle, middle - half, middle + half)))
    share = Span(*(100 * value for value in share_interval(fit, total)))
    return Effect(
        effect.influence, effect.least, effect.most, effect.levels, percent, share, off_best,
        fit.degrees_of_freedom,
    )  # fmt: skip


def _moment(sighting: Sighting) -> tuple[float, str]:
    taken: datetime | None = sighting.frame.metadata.taken_at
    if taken is None:
        return math.inf, sighting.frame.path
    # A clock whose zone nobody set counts as it stands: only the order within a bench matters.
    aware = taken if taken.tzinfo is not None else taken.replace(tzinfo=UTC)
    return aware.timestamp(), sighting.frame.path
