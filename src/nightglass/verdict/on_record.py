"""The verdict on what a bench has on record: the one way from a bench folder to a ranking."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, replace

from nightglass.bench.falloff import falloffs_of, flats_light_of
from nightglass.bench.records import SettingResult
from nightglass.bench.sessions.records import SessionOnRecord
from nightglass.bench.store.store import Store, open_store
from nightglass.bench.study.repeats import REPEATS
from nightglass.bench.study.sessions import SESSIONS
from nightglass.bench.study.study import results_of
from nightglass.gear.asked_setting import asked_settings
from nightglass.gear.benchfile import BenchFile
from nightglass.gear.lens import LensSetting
from nightglass.light.aperture import with_flat_transmission
from nightglass.light.falloff import PupilFalloff
from nightglass.verdict.certainty.parts import not_tested, scatter_parts
from nightglass.verdict.codes import (
    Assumption,
    AssumptionCode,
    AssumptionSource,
    Note,
    NoteCode,
    NotRanked,
)
from nightglass.verdict.groundwork import Groundwork
from nightglass.verdict.judge import JudgedBench, judge_on, judge_settings
from nightglass.verdict.order.pair import SettingPair, setting_pair
from nightglass.verdict.question import Question
from nightglass.verdict.records import Ranking


@dataclass(frozen=True)
class OnRecord:
    """What a ranking reads of a bench's store: the same for every purpose and question."""

    results: tuple[SettingResult, ...]
    falloffs: dict[LensSetting, PupilFalloff]
    light: dict[str, tuple[float, float]] = field(default_factory=dict)
    """How much light lenses pass against one of them, and the error, as flats tell it."""
    sessions: tuple[SessionOnRecord, ...] = ()
    not_separated: tuple[LensSetting, ...] = ()
    """Settings whose blur may be focus: no series through focus of theirs gave a best focus."""
    elsewhere: Mapping[str, tuple[str, ...]] = field(default_factory=dict)
    """Other bodies of the bench on which each lens was measured, by the lens's name."""

    def lit(self, bench: BenchFile) -> BenchFile:
        """Return the bench file with the transmission that flats tell of its lenses."""
        return replace(bench, lenses=with_flat_transmission(bench.lenses, self.light))

    def groundwork(self, bench: BenchFile) -> Groundwork:
        """Return what rankings of any weights and limit rest on. ValueError as it raises."""
        return Groundwork(self.results, self.lit(bench), falloffs=self.falloffs)

    def ranking(
        self,
        bench: BenchFile,
        question: Question = Question.PICTURE,
        ground: Groundwork | None = None,
    ) -> Ranking:
        """Return the ranking by what the bench file asks for. ValueError as `judge` raises.

        ground: of the same bench, where it is known; its own weights and limit don't matter.
        """
        ground = self.groundwork(bench) if ground is None else ground
        ranking = judge_on(ground, bench.score, bench.limit, question)
        return replace(
            ranking,
            assumptions=(*ranking.assumptions, self._focus()),
            sessions=self.sessions,
            scatter=scatter_parts(self.results, self.sessions),
            not_tested=not_tested(self.sessions),
            not_ranked=tuple(self._where_tested(one) for one in ranking.not_ranked),
        )

    def _where_tested(self, one: NotRanked) -> NotRanked:
        """A lens that no frame of this body shows, with the bodies whose frames do."""
        if one.reason.code is not NoteCode.NOT_TESTED or one.lens not in self.elsewhere:
            return one
        bodies = {"bodies": self.elsewhere[one.lens]}
        return replace(one, reason=Note(NoteCode.ON_OTHER_BODY_ONLY, bodies))

    def _focus(self) -> Assumption:
        alone, settings = len(self.not_separated), len(self.results)
        values = {"not_separated": float(alone), "settings": float(settings)}
        return Assumption(AssumptionCode.FOCUS, AssumptionSource.FRAMES, values)


def read_on_record(bench: BenchFile) -> OnRecord:
    """Return results, falloffs and light on record of a bench. Raises StoreError."""
    store = open_store(bench)
    try:
        results = results_of(REPEATS, store, bench)
        sessions = results_of(SESSIONS, store, bench)
        separated = _separated(store, bench)
        alone = tuple(r.setting for r in results if r.setting not in separated)
        falloffs, light = falloffs_of(store), flats_light_of(store)
        return OnRecord(results, falloffs, light, sessions, alone, _elsewhere(store, bench))
    finally:
        store.close()


def measured_elsewhere(bench: BenchFile) -> dict[str, tuple[str, ...]]:
    """Return the other bodies of a bench on which each lens was measured, by the lens's name.

    Raises StoreError.
    """
    if not bench.other_bodies:
        return {}
    store = open_store(bench)
    try:
        return _elsewhere(store, bench)
    finally:
        store.close()


def _elsewhere(store: Store, bench: BenchFile) -> dict[str, tuple[str, ...]]:
    bodies: dict[str, list[str]] = {}
    for body in bench.other_bodies:
        results = results_of(REPEATS, store, bench.on_body(body.name))
        for lens in {result.setting.lens for result in results}:
            bodies.setdefault(lens, []).append(body.name)
    return {lens: tuple(names) for lens, names in bodies.items()}


def _separated(store: Store, bench: BenchFile) -> frozenset[LensSetting]:
    """The settings with a best focus on record; benches without a series need no fits."""
    if not any(rule.series for rule in bench.frames):
        return frozenset()
    # What fits series loads for half a second: not for a bench that has none.
    from nightglass.bench.focus.measure import separated_on_record

    return separated_on_record(store, bench)


def ranking_on_record(
    bench: BenchFile, question: Question = Question.PICTURE
) -> tuple[Ranking, tuple[SettingResult, ...]]:
    """Return the ranking of a bench by its results and falloffs on record, and the results.

    Raises StoreError, and ValueError as `judge` does.
    """
    found = read_on_record(bench)
    return found.ranking(bench, question), found.results


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
    elsewhere = measured_elsewhere(bench)
    chosen = [
        min(asked_settings(text, bench.lenses, judged, elsewhere), key=judged.index)
        for text in (one, other)
    ]
    by_setting = {result.setting: result for result in results}
    pair = setting_pair(found, chosen[0], chosen[1])
    return pair, (by_setting[chosen[0]], by_setting[chosen[1]])


def judged_on_record(
    bench: BenchFile, question: Question = Question.PICTURE
) -> tuple[JudgedBench, tuple[SettingResult, ...]]:
    """Return every setting of a bench with its score, and the results. Errors as for a ranking."""
    found = read_on_record(bench)
    judged = judge_settings(found.results, found.lit(bench), question, falloffs=found.falloffs)
    return judged, found.results
