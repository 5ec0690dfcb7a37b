"""Which session each frame belongs to: as typed, else by a gap in time."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from datetime import UTC, datetime

GAP_HOURS = 6.0
"""A longer pause begins a session: longer than a meal, shorter than a night (common practice)."""


def hours_of(taken_at: datetime | None) -> float | None:
    """Return a moment as hours, for differences only; None where no time is recorded.

    A clock whose zone nobody set counts as it stands.
    """
    if taken_at is None:
        return None
    aware = taken_at if taken_at.tzinfo is not None else taken_at.replace(tzinfo=UTC)
    return aware.timestamp() / 3600


def session_names(typed: Sequence[str], taken_at: Sequence[datetime | None]) -> list[str]:
    """Return the name of each frame's session.

    typed: as the person said, "" where nothing was said. Such frames go by time: a pause of 6
    hours or more begins a session, which takes its name from the date of its first frame, and its
    time where two begin on one date. Frames without a time share the name "".
    """
    hours = [hours_of(moment) for moment in taken_at]
    own = [(hour, k) for k, hour in enumerate(hours) if not typed[k] and hour is not None]
    begins: list[int] = []
    member: dict[int, int] = {}
    last = None
    for hour, k in sorted(own):
        if last is None or hour - last >= GAP_HOURS:
            begins.append(k)
        member[k], last = begins[-1], hour
    firsts = {k: moment for k in begins if (moment := taken_at[k]) is not None}
    dates = Counter(moment.date() for moment in firsts.values())
    names = {
        k: moment.date().isoformat()
        if dates[moment.date()] == 1
        else f"{moment.date().isoformat()} {moment:%H:%M}"
        for k, moment in firsts.items()
    }
    return [said or names.get(member.get(k, -1), "") for k, said in enumerate(typed)]
