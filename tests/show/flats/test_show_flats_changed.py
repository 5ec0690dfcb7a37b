"""What flats change in a ranking, as the demo prints it."""

from __future__ import annotations

from dataclasses import replace

from nightglass.show.flats.changed import changed_lines
from nightglass.verdict.records import Interval, Ranking


def with_scores(ranking: Ranking, factor: float) -> Ranking:
    worths = tuple(
        replace(one, corner_stops=1.25, score=Interval(factor * one.score.value, None, None))
        for one in ranking.worths
    )
    return replace(ranking, worths=worths)


def test_each_setting_stands_before_and_after(bag) -> None:
    ranking = bag.ranking
    lines = list(changed_lines(ranking, with_scores(ranking, 0.5)))
    lens = ranking.standings[0].worth.setting.lens
    assert lines[0] == f"{lens} comes first with the flats as without them."
    assert lines[2].split("  ")[0] == "setting"
    assert lines[2].endswith("score before  score now")
    assert len(lines) == 3 + len(ranking.worths)
    best = max(ranking.worths, key=lambda one: one.score.value)
    assert lines[3].split()[-2:] == [f"{best.score.value:.0f}", f"{best.score.value / 2:.0f}"]
    assert " 1.25 " in lines[3]


def test_a_new_first_lens_is_said(bag) -> None:
    ranking = bag.ranking
    after = replace(ranking, standings=ranking.standings[::-1])
    first, last = (one.worth.setting.lens for one in (ranking.standings[0], after.standings[0]))
    assert next(changed_lines(ranking, after)) == (
        f"The flats change the order: {last} comes before {first} now."
    )


def test_nothing_ranked_has_nothing_to_say(bag) -> None:
    ranking = bag.ranking
    assert list(changed_lines(ranking, replace(ranking, standings=()))) == []
