"""Words for sessions: what drifted, what differed, what was not tested."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Any

from nightglass.bench.sessions.records import Change
from nightglass.verdict.codes import NoteCode, NotTested
from nightglass.verdict.records import Ranking, ScatterParts

NOT_TESTED_MEANINGS = {
    NotTested.OTHER_COPIES: "other copies of the lenses: every result is of one copy",
    NotTested.OTHER_DISTANCES: "another distance of the source",
    NotTested.OTHER_SESSIONS: "another session: how results repeat on another day",
    NotTested.DRIFT: "drift within a session: no setting was shot again over it",
    NotTested.SESSIONS_NOT_TIED: "what differs between sessions that share no setting and place",
}
"""Codes of `not_tested` in the JSON, as the glossary explains them."""
_NOT_TESTED_WORDS = {
    NotTested.OTHER_COPIES: "other copies of these lenses",
    NotTested.OTHER_DISTANCES: "another distance",
    NotTested.OTHER_SESSIONS: "another session",
    NotTested.DRIFT: "drift (no setting was shot again over {sessions})",
    NotTested.SESSIONS_NOT_TIED: "what differs between sessions that share no setting",
}


OF_SESSIONS = (NoteCode.SESSION_DRIFTED, NoteCode.SESSION_OFFSET, NoteCode.SESSION_NOT_TIED)
"""Notes that stand wherever a setting's result does."""


def session_lines(ranking: Ranking) -> Iterator[str]:
    """Yield what drifted and differed, the components of scatter, and what was not tested."""
    for one in ranking.sessions:
        if one.drift is not None:
            yield f"{name_of(one.name)}{_hours(one.hours)}: {_drift(one.drift)}"
        if one.offset is not None and one.against is not None:
            yield f"{name_of(one.name)}: {_offset(one.offset, one.against)}"
        if not one.tied:
            yield f"{name_of(one.name)}: {_NOT_TIED}"
    if ranking.scatter is not None and ranking.standings:
        yield scatter_words(ranking.scatter)
    if ranking.not_tested and ranking.standings:
        yield not_tested_words(ranking)


def scatter_words(parts: ScatterParts) -> str:
    """Return the components of scatter that the intervals hold, and those that they can't."""
    known = [
        (parts.photon_percent, "noise of a frame"),
        (parts.repeat_percent, "repeat to repeat with its focusing"),
        (parts.visit_percent, "visit to visit"),
        (parts.drift_err_percent, "what the correction of drift leaves"),
        (parts.session_err_percent, "what the correction of sessions leaves"),
    ]
    words = [f"{what} {value:.1f} %" for value, what in known if value is not None]
    inside = f"Scatter of a blur, 1 sigma: {', '.join(words)}; " if words else ""
    return f"{inside}from copy to copy: not known."


def not_tested_words(ranking: Ranking) -> str:
    """Return the line that names what no frame of the bench says."""
    silent = [name_of(one.name) for one in ranking.sessions if one.drift is None]
    several = len(silent) > 1 or len(ranking.sessions) > 1
    sessions = "the session" if not several else ", ".join(_lower(name) for name in silent)
    words = [_NOT_TESTED_WORDS[code].format(sessions=sessions) for code in ranking.not_tested]
    return f"Not tested: {'; '.join(words)}."


def name_of(session: str) -> str:
    """Return "Session NAME"; frames without a time have none."""
    return f"Session {session}" if session else "Frames without a time"


def drifted_words(values: Mapping[str, Any]) -> str:
    """Return the note of a setting whose session drifted."""
    size = f"{_signed(values['percent'])} +- {values['err_percent']:.1f} %"
    return (
        f"{_lower(name_of(str(values['session'])))}: drifted by {size} from start to end; taken "
        "out, its error is in the intervals"
    )


def offset_words(values: Mapping[str, Any]) -> str:
    """Return the note of a setting whose session differs from the main one."""
    change = Change(values["percent"], values["err_percent"], True)
    return f"{_lower(name_of(str(values['session'])))}: {_offset(change, str(values['against']))}"


def not_tied_words(values: Mapping[str, Any]) -> str:
    """Return the note of a setting of a session that nothing ties to the main one."""
    return f"{_lower(name_of(str(values['session'])))}: {_NOT_TIED}"


_NOT_TIED = (
    "shares no setting and place with the others, so what differs between them is not known and "
    "in no interval; shoot the reference lens in both (nightglass plan --add)"
)


def _drift(change: Change) -> str:
    size = f"{_signed(change.percent)} +- {change.err_percent:.1f} %"
    if change.told:
        return (
            f"blur of the reference drifted by {size} from start to end; taken out, its error "
            "is in the intervals"
        )
    return f"no drift found ({size} from start to end); its error is in the intervals"


def _offset(change: Change, against: str) -> str:
    size = f"{_signed(change.percent)} +- {change.err_percent:.1f} %"
    where = _lower(name_of(against))
    if change.told:
        return f"blur differs by {size} from {where}; taken out, its error is in the intervals"
    return f"no difference found from {where} ({size}); its error is in the intervals"


def _hours(hours: float | None) -> str:
    return "" if hours is None else f" ({hours:.1f} h)"


def _signed(value: float) -> str:
    sign = "+" if value >= 0 else "\N{MINUS SIGN}"
    return f"{sign}{abs(value):.1f}"


def _lower(name: str) -> str:
    return name[0].lower() + name[1:]
