"""Visits of a setting: runs of its frames with other settings' frames between them."""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass

from nightglass.bench.combined.session_names import hours_of
from nightglass.bench.combined.sightings import Sighting
from nightglass.gear.lens import LensSetting

NAMED_VISITS, UNNAMED_VISITS = 2, 3
"""Visits from which a setting shows drift: of the lens named as reference, of any other one. Two
visits of a setting that nobody meant as a reference may be a mended mistake."""
LEAST_SPAN = 0.5
"""Share of the session that the visits must span: beyond it drift would be guessed, not seen."""


@dataclass(frozen=True)
class Visited:
    """The visits of one session."""

    number: dict[str, int]
    """Visit of each frame's setting, by the frame's path."""
    reference: tuple[LensSetting, ...]
    """Settings that show the drift of the session."""
    first_hours: float | None
    last_hours: float | None


def visits_of(session: Sequence[Sighting], reference: str | None) -> Visited:
    """Return the visits of a session; reference: the lens that [plan] names.

    Frames without a time share visit 0, and then nothing shows drift.
    """
    timed = [(hours, s) for s in session if (hours := moment(s)) is not None]
    number = {s.frame.path: 0 for s in session}
    times: dict[LensSetting, list[list[float]]] = defaultdict(list)
    last: LensSetting | None = None
    for hours, sighting in sorted(timed, key=lambda pair: (pair[0], pair[1].frame.path)):
        setting = sighting.belongs.setting
        if setting != last:
            times[setting].append([])
        times[setting][-1].append(hours)
        number[sighting.frame.path], last = len(times[setting]) - 1, setting
    if not timed:
        return Visited(number, (), None, None)
    first, end = min(hours for hours, _ in timed), max(hours for hours, _ in timed)
    shows = tuple(
        setting
        for setting, visits in sorted(times.items())
        if _shows_drift(setting, visits, reference, end - first)
    )
    return Visited(number, shows, first, end)


def moment(sighting: Sighting) -> float | None:
    """Return when a frame was taken [hours], for differences; None where not recorded."""
    return hours_of(sighting.frame.metadata.taken_at)


def _shows_drift(
    setting: LensSetting, visits: Sequence[Sequence[float]], reference: str | None, whole: float
) -> bool:
    least = UNNAMED_VISITS if reference is None else NAMED_VISITS
    if (reference is not None and setting.lens != reference) or len(visits) < least:
        return False
    means = [math.fsum(hours) / len(hours) for hours in visits]
    return means[-1] - means[0] >= LEAST_SPAN * whole > 0
