"""The standings as blocks, one for each lens: large score and blur, and what goes with them."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from nightglass.gear.lens import Lens
from nightglass.show.ranking.text import BLUR_COLUMN, table_row
from nightglass.verdict.question import Question
from nightglass.verdict.records import Ranking, Standing

LONGEST_BAR = 1.5
"""An interval beyond this many times the best score runs out of its bar."""


@dataclass(frozen=True)
class Block:
    """One lens at its best setting, as words, with its bar in % of the longest."""

    place: str
    lens: str
    setting: str
    marks: tuple[str, ...]
    address: str
    """Of the setting's own page, below the bench; empty where the bench has no such lens."""
    score: tuple[str, ...]
    blur: tuple[str, ...]
    """Each the number, then its interval where there is one."""
    time: tuple[str, ...]
    look: tuple[str, ...]
    ahead: tuple[str, ...]
    bar: float
    span: tuple[float, float] | None


def standing_blocks(ranking: Ranking, lenses: Sequence[Lens]) -> list[Block]:
    """Return the standings of a ranking; lenses: of the bench, in its order."""
    if not ranking.standings:
        return []
    best = max(s.worth.score.value for s in ranking.standings)
    highs = [s.worth.score.high or 0.0 for s in ranking.standings]
    longest = max(best, min(max(highs), LONGEST_BAR * best))
    return [_block(s, ranking.question, lenses, longest) for s in ranking.standings]


def setting_address(lens: str, focal_mm: float, f_number: float, lenses: Sequence[Lens]) -> str:
    """Return where the page of a setting is, below its bench; empty for an unknown lens."""
    names = [one.name for one in lenses]
    return f"/lenses/{names.index(lens)}/{focal_mm:g}/{f_number:g}" if lens in names else ""


def _block(standing: Standing, question: Question, lenses: Sequence[Lens], longest: float) -> Block:
    row: Mapping[str, tuple[str, ...]] = {
        title: tuple(text.split("\n")) for title, text in table_row(standing, question).items()
    }
    lens, setting, *marks = row["lens, setting"]
    own = standing.worth.setting
    score = standing.worth.score
    known = score.low is not None and score.high is not None and score.low != score.high
    return Block(
        place=row["place"][0],
        lens=lens,
        setting=setting,
        marks=tuple(marks),
        address=setting_address(own.lens, own.focal_mm, own.f_number, lenses),
        score=row["score"] if known else row["score"][:1],
        blur=row[BLUR_COLUMN],
        time=row["time"],
        look=row["stars look"],
        ahead=row["over the next"],
        bar=_share(score.value, longest),
        span=(_share(score.low, longest), _share(score.high, longest)) if known else None,
    )


def _share(value: float | None, longest: float) -> float:
    return 0.0 if value is None or longest <= 0 else min(100 * value / longest, 100.0)
