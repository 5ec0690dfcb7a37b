"""The verdict on what a bench has on record: the one way from a bench folder to a ranking."""

from __future__ import annotations

from nightglass.bench.falloff import falloffs_of
from nightglass.bench.records import SettingResult
from nightglass.bench.store.store import open_store
from nightglass.bench.study import repeats
from nightglass.gear.benchfile import BenchFile
from nightglass.verdict.judge import judge
from nightglass.verdict.question import Question
from nightglass.verdict.records import Ranking


def ranking_on_record(
    bench: BenchFile, question: Question = Question.PICTURE
) -> tuple[Ranking, tuple[SettingResult, ...]]:
    """Return the ranking of a bench by its results and falloffs on record, and the results.

    Raises StoreError, and ValueError as `judge` does.
    """
    store = open_store(bench)
    try:
        results, falloffs = repeats.setting_results(store, bench), falloffs_of(store)
    finally:
        store.close()
    return judge(results, bench, question, falloffs=falloffs), tuple(results)
