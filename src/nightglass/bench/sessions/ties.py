"""What ties sessions together: one linear model of ln size over all frames of the bench.

    ln size = setting at its place + offset of the session + drift of the session x time + scatter

Settings measured in several sessions show the offsets; settings visited again over a session show
its drift. Both are taken out of every frame, and their covariance goes with the result, as errors
that all settings share. What is taken for granted: drift is even in time, and it and the offsets
change all sizes in proportion.
"""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

import numpy as np
from scipy.special import fdtrc, stdtrit

from nightglass.bench.sessions.shrunk import Visits, shrunk
from nightglass.optics.arrays import Flags, Floats, Indices

LEAST_DOF = 2
CHANCE = 0.25
"""Visits that scatter more than their repeats say, beyond this chance, are said to. A quarter and
not a twentieth: few visits seldom show what they hide (Bancroft 1944, Annals of Mathematical
Statistics 15, 190, from memory)."""
AREA = 2.0
"""Areas change as the square of sizes."""
Cell = tuple[object, ...]
"""One setting with the star at one place."""


@dataclass(frozen=True)
class Seen:
    """One frame as the model sees it."""

    cell: Cell
    session: str
    hours: float | None
    visit: int
    """Number of the visit of its setting within the session."""
    log_length: float
    log_area: float


@dataclass(frozen=True)
class Fitted:
    """The model of one quantity."""

    terms: Floats
    """(parameters,)"""
    covariance: Floats
    """(parameters, parameters)"""
    degrees_of_freedom: float
    visit_deviation: float = 0.0
    """Scatter of visits beyond that of their repeats, as far as it is possible."""
    visits_told: bool = False
    """Whether visits show a scatter of their own."""

    def shared(self, row: Floats) -> Floats:
        """Return independent errors of 1 sigma that a frame with this row has from them."""
        values, axes = np.linalg.eigh(self.covariance)
        found: Floats = np.sqrt(np.maximum(values, 0.0)) * (axes.T @ row)
        return found


@dataclass(frozen=True)
class Ties:
    """Offsets and drifts of all sessions; without any, nothing is corrected."""

    offsets: Mapping[str, int] = field(default_factory=dict)
    """Session -> its parameter."""
    drifts: Mapping[str, int] = field(default_factory=dict)
    middles: Mapping[str, float] = field(default_factory=dict)
    """Middle of each session with a drift [hours]."""
    length: Fitted | None = None
    area: Fitted | None = None
    parameters: int = 0
    against: Mapping[str, str] = field(default_factory=dict)
    """Session -> the one that its offset is held against."""

    def row(self, session: str, hours: float | None) -> Floats:
        """Return what each parameter counts in a frame: (parameters,)."""
        row = np.zeros(self.parameters)
        if session in self.offsets:
            row[self.offsets[session]] = 1.0
        if session in self.drifts and hours is not None:
            row[self.drifts[session]] = hours - self.middles[session]
        return row


@dataclass(frozen=True)
class _Model:
    """What the frames of a bench say of the parameters."""

    rows: Floats
    """(frames, parameters)"""
    inside: Floats
    """Less their mean in each cell."""
    cells: Indices
    visits: Indices
    used: Flags
    """Frames that bear on the parameters."""
    drifts: Floats
    """(parameters,): change an hour for a change of 1 over the session; inf for an offset."""


def tie(seen: Sequence[Seen], drifting: Mapping[str, tuple[float, float]]) -> Ties:
    """Return the offsets and drifts of all sessions.

    drifting: sessions whose drift shows, with the hours of their first and last frame. Sessions
    that share a setting and place, directly or over others, are held against the one of them with
    most frames. With too few frames to judge their scatter by, nothing is tied.
    """
    against = _against(seen)
    offsets = {name: k for k, name in enumerate(n for n, base in against.items() if n != base)}
    drifts = {name: len(offsets) + k for k, name in enumerate(sorted(drifting))}
    middles = {name: (first + last) / 2 for name, (first, last) in drifting.items()}
    count = len(offsets) + len(drifts)
    bare = Ties(offsets, drifts, middles, parameters=count, against=against)
    if not count:
        return Ties(against=against)
    cells = _numbered([one.cell for one in seen])
    visits = _numbered([(one.cell, one.session, one.visit) for one in seen])
    rows = np.array([bare.row(one.session, one.hours) for one in seen])
    inside = _centred(rows, cells)
    # Only what was seen under several conditions bears on them, and shows their scatter.
    used = np.isin(cells, np.unique(cells[np.abs(inside).max(axis=1) > 1e-9]))
    if np.linalg.matrix_rank(inside[used]) < count:
        return Ties(against=against)
    spans = np.full(count, math.inf)
    for name, (first, last) in drifting.items():
        spans[drifts[name]] = 1 / (last - first)
    model = _Model(rows, inside, cells, visits, used, spans)
    length = _fit(np.array([one.log_length for one in seen]), model, 1.0)
    area = _fit(np.array([one.log_area for one in seen]), model, AREA)
    if length is None or area is None:
        return Ties(against=against)
    return Ties(offsets, drifts, middles, length, area, count, against)


def _fit(y: Floats, model: _Model, size: float) -> Fitted | None:
    """The model of one quantity; size: what it changes by when ln size changes by 1."""
    used = model.used
    inside, cells, visits = model.inside[used], model.cells[used], model.visits[used]
    plain = np.asarray(
        np.linalg.lstsq(inside, _centred(y[used, None], cells)[:, 0], rcond=None)[0],
        dtype=np.float64,
    )
    rest = _centred((y - model.inside @ plain)[:, None], model.cells)[:, 0]
    within = _centred(rest[:, None], model.visits)[:, 0]
    dof_repeats = y.size - np.unique(model.visits).size
    dof_visits = np.unique(visits).size - np.unique(cells).size - plain.size
    if dof_repeats + dof_visits < LEAST_DOF:
        return None
    of_repeats = float(within @ within)
    if dof_repeats == 0 or not of_repeats > 0:
        # One frame a visit: their scatter is that of visits and repeats together.
        variance = float(rest[used] @ rest[used]) / (dof_visits + dof_repeats)
        covariance = np.asarray(variance * np.linalg.inv(inside.T @ inside), dtype=np.float64)
        return Fitted(plain, covariance, dof_visits + dof_repeats)
    variance = of_repeats / dof_repeats
    found = shrunk(_gathered(y[used], model), variance, model.drifts * size)
    freedom = 1 / (1 / found.degrees_of_freedom + 1 / dof_repeats)
    between = _centred_means(rest[used], visits)
    told = (
        dof_visits > 0
        and float(fdtrc(dof_visits, dof_repeats, between / dof_visits / variance)) < CHANCE
    )
    return Fitted(found.terms, found.covariance, freedom, math.sqrt(found.visit_variance), told)


def _gathered(y: Floats, model: _Model) -> Visits:
    """The used frames by visit."""
    _, first, visits = np.unique(model.visits[model.used], return_index=True, return_inverse=True)
    frames = np.bincount(visits).astype(np.float64)
    rows = np.stack([np.bincount(visits, c) for c in model.rows[model.used].T], axis=1)
    return Visits(
        np.bincount(visits, y) / frames,
        rows / frames[:, None],
        frames,
        np.unique(model.cells[model.used], return_inverse=True)[1][first],
    )


def _centred_means(rest: Floats, visits: Indices) -> float:
    """Sum of squares of the means of visits, each as often as it has frames."""
    within = _centred(rest[:, None], visits)[:, 0]
    return float(rest @ rest - within @ within)


def reach(degrees_of_freedom: float) -> float:
    """Return Student's t that leaves 2.5 % on either side."""
    return float(stdtrit(degrees_of_freedom, 0.975))


def _against(seen: Sequence[Seen]) -> dict[str, str]:
    """Each session with the one that it is held against: itself where nothing ties it."""
    frames: dict[str, int] = defaultdict(int)
    first: dict[str, float] = {}
    of_cell: dict[Cell, set[str]] = defaultdict(set)
    for one in seen:
        frames[one.session] += 1
        of_cell[one.cell].add(one.session)
        hours = math.inf if one.hours is None else one.hours
        first[one.session] = min(first.get(one.session, math.inf), hours)
    groups = [{name} for name in frames]
    for together in of_cell.values():
        touched = [g for g in groups if g & together]
        groups = [g for g in groups if not g & together]
        groups.append(set().union(*touched))
    base: dict[str, str] = {}
    for group in groups:
        main = min(group, key=lambda name: (-frames[name], first[name], name))
        base |= dict.fromkeys(group, main)
    return {name: base[name] for name in sorted(frames, key=lambda n: (first[n], n))}


def _numbered(keys: Sequence[object]) -> Indices:
    numbers: dict[object, int] = {}
    return np.array([numbers.setdefault(key, len(numbers)) for key in keys], dtype=np.int64)


def _centred(values: Floats, groups: Indices) -> Floats:
    """Columns less their mean in each group."""
    count = np.bincount(groups)
    means = np.stack([np.bincount(groups, column) for column in values.T], axis=1)
    centred: Floats = values - (means / np.maximum(count, 1)[:, None])[groups]
    return centred
