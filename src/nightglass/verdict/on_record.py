"""The verdict on what a bench has on record: the one way from a bench folder to a ranking."""

from __future__ import annotations

from dataclasses import replace

from nightglass.bench.falloff import falloffs_of
from nightglass.bench.records import SettingResult
from nightglass.bench.sessions.records import SessionOnRecord
from nightglass.bench.store.store import open_store
from nightglass.bench.study.repeats import REPEATS
from nightglass.bench.study.sessions import SESSIONS
from nightglass.bench.study.study import results_of
from nightglass.gear.asked_setting import asked_settings
from nightglass.gear.benchfile import BenchFile
from nightglass.gear.lens import LensSetting
from nightglass.light.falloff import PupilFalloff
from nightglass.verdict.certainty.parts import not_tested, scatter_parts
from nightglass.verdict.judge import JudgedBench, judge, judge_settings
from nightglass.verdict.order.pair import SettingPair, setting_pair
from nightglass.verdict.question import Question
from nightglass.verdict.records import Ranking


def ranking_on_record(
    bench: BenchFile, question: Question = Question.PICTURE
) -> tuple[Ranking, tuple[SettingResult, ...]]:
    """Return the ranking of a bench by its results and falloffs on record, and the results.

    Raises StoreError, and ValueError as `judge` does.
    """
    results, sessions, falloffs = _on_record(bench)
    ranking = judge(results, bench, question, falloffs=falloffs)
    return replace(
        ranking,
        sessions=sessions,
        scatter=scatter_parts(results, sessions),
        not_tested=not_tested(sessions),
    ), results


def pair_on_record(
    bench: BenchFile, one: str, other: str, question: Question = Question.PICTURE
) -> tuple[SettingPair, tuple[SettingResult, SettingResult]]:
    """Return two settings of a bench side by side, and their results.

    one, other: as a person names them; a lens alone, or with several settings that fit, stands for
    the one of the highest score. Raises StoreError, and ValueError for a setting that is not on
    record and as `judge` does.
    """
    found, results = judged_on_record(bench, question)
    judged = [item.worth.setting for item in found.scored]
    chosen = [
        min(asked_settings(text, bench.lenses, judged), key=judged.index) for text in (one, other)
    ]
    by_setting = {result.setting: result for result in results}
    pair = setting_pair(found, chosen[0], chosen[1])
    return pair, (by_setting[chosen[0]], by_setting[chosen[1]])


def judged_on_record(
    bench: BenchFile, question: Question = Question.PICTURE
) -> tuple[JudgedBench, tuple[SettingResult, ...]]:
    """Return every setting of a bench with its score, and the results. Errors as for a ranking."""
    results, _, falloffs = _on_record(bench)
    return judge_settings(results, bench, question, falloffs=falloffs), results


def _on_record(
    bench: BenchFile,
) -> tuple[tuple[SettingResult, ...], tuple[SessionOnRecord, ...], dict[LensSetting, PupilFalloff]]:
    store = open_store(bench)
    try:
        results = results_of(REPEATS, store, bench)
        return results, results_of(SESSIONS, store, bench), falloffs_of(store)
    finally:
        store.close()
