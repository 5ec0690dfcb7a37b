"""The shot list, in the order that saves hands: lens, zoom, f-number, then rounds over the places.

A round is one refocusing with the star at the first place and one frame at each place: that gives
the scatter of focusing at every place, and one common focus over the frame, as under the sky.
Frames of one lens at the start, in the middle and at the end show drift.
"""

from __future__ import annotations

import hashlib
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

from nightglass.gear.benchfile import BenchFile, Place
from nightglass.gear.lens import Lens, LensSetting
from nightglass.shoot.codes import Role
from nightglass.shoot.exposures import Trial, exposure
from nightglass.shoot.pace import session_minutes
from nightglass.shoot.records import Block, Line, Total

REFERENCE_ROUNDS = 3


@dataclass(frozen=True)
class Scope:
    """How much of everything is shot."""

    lenses: tuple[Lens, ...]
    settings: tuple[LensSetting, ...]
    """In the order of the session."""
    places: tuple[Place, ...]
    """The one to focus at first."""
    repeats: int
    reference: LensSetting
    reference_rounds: int = REFERENCE_ROUNDS
    on_record: Mapping[LensSetting, int] = field(default_factory=dict)
    """Rounds that earlier sessions hold already."""

    def rounds_left(self, setting: LensSetting) -> int:
        """Return the rounds of a setting that are still to be shot."""
        return max(self.repeats - self.on_record.get(setting, 0), 0)


@dataclass(frozen=True)
class Step:
    """A block before its lines are made."""

    role: Role
    setting: LensSetting
    rounds: int
    places: tuple[Place, ...]


def steps(scope: Scope) -> tuple[Step, ...]:
    """Return the blocks of a session in order, reference frames at start, middle and end.

    The lens of the reference comes first, so that its first frames cost no change of lens; the
    middle ones stand between two lenses, where one is changed anyway.
    """
    wanted = [s for s in scope.settings if scope.rounds_left(s)]
    ordered = sorted(wanted, key=lambda s: s.lens != scope.reference.lens)
    middle = _middle(ordered)
    found = [_reference(scope, Role.REFERENCE_START)]
    for number, setting in enumerate(ordered):
        if number == middle:
            found.append(_reference(scope, Role.REFERENCE_MIDDLE))
        found.append(Step(Role.MEASURE, setting, scope.rounds_left(setting), scope.places))
    return (*found, _reference(scope, Role.REFERENCE_END))


def total_of(scope: Scope, pace: float) -> Total:
    """Return frames and minutes of a session."""
    listed = steps(scope)
    minutes = session_minutes([(s.setting, s.rounds, len(s.places)) for s in listed], pace)
    return Total(sum(s.rounds * len(s.places) for s in listed), sum(minutes))


def blocks(scope: Scope, bench: BenchFile, known: Sequence[Trial]) -> tuple[Block, ...]:
    """Return the blocks of a session with their lines and minutes."""
    listed = steps(scope)
    minutes = session_minutes(
        [(s.setting, s.rounds, len(s.places)) for s in listed], bench.plan.pace
    )
    return tuple(
        Block(
            step.role,
            step.setting,
            step.rounds,
            tuple(_line(step, place, bench, known) for place in step.places),
            takes,
        )
        for step, takes in zip(listed, minutes, strict=True)
    )


def _line(step: Step, place: Place, bench: BenchFile, known: Sequence[Trial]) -> Line:
    return Line(
        _line_id(step, place),
        step.setting,
        place.name,
        step.rounds,
        exposure(step.setting, place.name, known, bench.body),
    )


def _line_id(step: Step, place: Place) -> str:
    setting = step.setting
    what = (step.role, setting.lens, f"{setting.focal_mm:g}", f"{setting.f_number:g}", place.name)
    return hashlib.blake2b("\0".join(what).encode(), digest_size=6).hexdigest()


def _reference(scope: Scope, role: Role) -> Step:
    return Step(role, scope.reference, scope.reference_rounds, scope.places[:1])


def _middle(ordered: Sequence[LensSetting]) -> int:
    """Where the middle reference stands: the change of lens nearest to half of the settings.

    With one lens: half-way through its settings.
    """
    changes = [k for k in range(1, len(ordered)) if ordered[k].lens != ordered[k - 1].lens]
    half = len(ordered) / 2
    return min(changes, key=lambda k: (abs(k - half), -k)) if changes else -(-len(ordered) // 2)
