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

from nightglass.optics.arrays import Floats, Indices

LEAST_DOF = 2
CHANCE = 0.25
"""Visits that scatter more than their repeats say, beyond this chance, count with their own
scatter. A quarter and not a twentieth: few visits seldom show what they hide (0.24 to 0.48 for 4 to
20 degrees of freedom: Bancroft and Han 1983, Journal of the American Statistical Association 78,
981, as course notes quote it; how often intervals then hold: design/session_ties.py)."""
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
    deviation: float
    """Of one frame: with the unit errors of the parameters, their errors."""
    degrees_of_freedom: float
    visit_deviation: float = 0.0
    """Scatter of visits beyond that of their repeats; 0 where it is not told."""


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
    root: Floats = field(default_factory=lambda: np.zeros((0, 0)))
    """(parameters, parameters): root of their unit covariance."""
    against: Mapping[str, str] = field(default_factory=dict)
    """Session -> the one that its offset is held against."""

    def row(self, session: str, hours: float | None) -> Floats:
        """Return what each parameter counts in a frame: (parameters,)."""
        row = np.zeros(self.root.shape[0])
        if session in self.offsets:
            row[self.offsets[session]] = 1.0
        if session in self.drifts and hours is not None:
            row[self.drifts[session]] = hours - self.middles[session]
        return row


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
    bare = Ties(offsets, drifts, middles, root=np.zeros((count, count)), against=against)
    if not count:
        return Ties(against=against)
    cells = _numbered([one.cell for one in seen])
    visits = _numbered([(one.cell, one.session, one.visit) for one in seen])
    rows = np.array([bare.row(one.session, one.hours) for one in seen])
    inside = _centred(rows, cells)
    # Only what was seen under several conditions bears on them, and shows their scatter.
    used = np.isin(cells, np.unique(cells[np.abs(inside).max(axis=1) > 1e-9]))
    inside = inside[used]
    if np.linalg.matrix_rank(inside) < count:
        return Ties(against=against)
    fits = [
        _fit(np.array(values)[used], inside, cells[used], visits[used])
        for values in ([o.log_length for o in seen], [o.log_area for o in seen])
    ]
    if fits[0] is None or fits[1] is None:
        return Ties(against=against)
    root = np.linalg.cholesky(np.linalg.inv(inside.T @ inside))
    return Ties(offsets, drifts, middles, fits[0], fits[1], root, against)


def _fit(y: Floats, inside: Floats, cells: Indices, visits: Indices) -> Fitted | None:
    terms = np.asarray(
        np.linalg.lstsq(inside, _centred(y[:, None], cells)[:, 0], rcond=None)[0], dtype=np.float64
    )
    rest = _centred((y - inside @ terms)[:, None], cells)[:, 0]
    within = _centred(rest[:, None], visits)[:, 0]
    frames, groups = y.size, np.unique(visits).size
    dof_repeats = frames - groups
    dof_visits = groups - np.unique(cells).size - terms.size
    of_repeats, everything = float(within @ within), float(rest @ rest)
    if dof_repeats + dof_visits < LEAST_DOF:
        return None
    if dof_repeats > 0 and dof_visits > 0 and of_repeats > 0:
        visit, repeat = (everything - of_repeats) / dof_visits, of_repeats / dof_repeats
        if fdtrc(dof_visits, dof_repeats, visit / repeat) < CHANCE:
            beyond = (visit - repeat) / (frames / groups)
            return Fitted(terms, math.sqrt(visit), dof_visits, math.sqrt(beyond))
    dof = dof_repeats + max(dof_visits, 0)
    return Fitted(terms, math.sqrt(everything / dof), dof)


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
