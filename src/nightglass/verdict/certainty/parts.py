"""The components of scatter that stand behind the intervals, and what was not tested at all."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from nightglass.bench.records import SettingResult
from nightglass.bench.sessions.records import SessionOnRecord
from nightglass.verdict.certainty.repeats import pool_repeats
from nightglass.verdict.codes import NotTested
from nightglass.verdict.records import ScatterParts


def scatter_parts(
    results: Sequence[SettingResult], sessions: Sequence[SessionOnRecord]
) -> ScatterParts:
    """Return the components of the scatter of a length, each in % (1 sigma); None: not measured."""
    pool = pool_repeats(results).bench_length
    photons = sorted(_known(one.photon_percent for one in sessions))
    return ScatterParts(
        photon_percent=photons[len(photons) // 2] if photons else None,
        repeat_percent=None if pool is None else 100 * pool.deviation,
        repeat_degrees_of_freedom=None if pool is None else pool.dof,
        visit_percent=max(_known(one.visit_percent for one in sessions), default=None),
        drift_err_percent=max((o.drift.err_percent for o in sessions if o.drift), default=None),
        session_err_percent=max((o.offset.err_percent for o in sessions if o.offset), default=None),
        copy_percent=None,
    )


def not_tested(sessions: Sequence[SessionOnRecord]) -> tuple[NotTested, ...]:
    """Return what the frames of a bench say nothing about; nothing for a bench without frames."""
    if not sessions:
        return ()
    found = [NotTested.OTHER_COPIES]
    if len({metres for one in sessions for metres in one.distances_m}) < 2:
        found.append(NotTested.OTHER_DISTANCES)
    if len(sessions) < 2:
        found.append(NotTested.OTHER_SESSIONS)
    if any(one.drift is None for one in sessions):
        found.append(NotTested.DRIFT)
    if not all(one.tied for one in sessions):
        found.append(NotTested.SESSIONS_NOT_TIED)
    return tuple(found)


def _known(values: Iterable[float | None]) -> list[float]:
    return [value for value in values if value is not None]
