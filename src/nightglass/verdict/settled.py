"""The settings of a bench before their scores, with what is held for other weights."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

from nightglass.gear.lens import LensSetting
from nightglass.verdict.asked import Ratios
from nightglass.verdict.candidate import Candidate
from nightglass.verdict.question import Question
from nightglass.verdict.score import Judged


@dataclass(frozen=True)
class Settled:
    """Every setting that can be judged, scores and limit still open."""

    candidates: Mapping[LensSetting, Candidate]
    judged: tuple[Judged, ...]
    changed: dict[Question, Ratios] = field(default_factory=dict)
    """What assumptions tried before do to the factors, by question."""
    viewers: dict[tuple[LensSetting, Question], Mapping[str, tuple[float, ...]]] = field(
        default_factory=dict
    )
    """What other viewers make of settings that led before (see Judged.eyes)."""
