"""What every ranking of a bench rests on, whatever the weights and the limit.

It is worked out once for a purpose and a time; a ranking asked again with other weights, another
limit or another reference finds it.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import replace
from functools import cached_property

from nightglass.bench.faults.copies import CopyFinding, copies_of
from nightglass.bench.records import SettingResult
from nightglass.gear.benchfile import BenchFile
from nightglass.gear.lens import LensSetting
from nightglass.light.falloff import PupilFalloff
from nightglass.verdict.asked import Asked
from nightglass.verdict.blur import usable_zones
from nightglass.verdict.candidate import (
    Candidate,
    candidate_of,
    seen_by,
    sky_per_eye_arcmin,
    with_patch_of_sky,
)
from nightglass.verdict.certainty.repeats import PooledRepeats, pool_repeats
from nightglass.verdict.codes import Note, NoteCode, NotRanked
from nightglass.verdict.factors import FACTORS, FactorValue, Weights
from nightglass.verdict.order.zoom_jumps import zoom_jumps
from nightglass.verdict.purpose import PURPOSES, eye_of, eye_of_purpose, frame_shape_of
from nightglass.verdict.question import Question
from nightglass.verdict.records import ZoomJump
from nightglass.verdict.settled import Settled
from nightglass.verdict.view.eye import Eye
from nightglass.verdict.worth import FactorTable, eye_moves, judged


class Groundwork:
    """Results of a bench that can be judged, and what is worked out of them before weighing.

    It fills as it is asked; two threads that ask at once may work out the same twice.
    """

    def __init__(
        self,
        results: Sequence[SettingResult],
        bench: BenchFile,
        factors: FactorTable = FACTORS,
        falloffs: Mapping[LensSetting, PupilFalloff] | None = None,
    ) -> None:
        """bench: its weights and limit don't matter here. Raises ValueError for a purpose that has
        no meaning or a setting that was handed in twice."""
        self.bench, self.factors, self._falloffs = bench, factors, falloffs or {}
        shape = frame_shape_of(bench)
        self.eye = eye_of_purpose(bench.purpose, shape)
        self.eyes: tuple[Eye, ...] = tuple(eye_of(words, shape) for words in PURPOSES)
        self.usable, self.refused = _sorted_out(results, bench)
        self._settled: dict[float, Settled] = {}

    @cached_property
    def pool(self) -> PooledRepeats:
        """Scatter of repeats over the bench."""
        return pool_repeats(self.usable)

    @cached_property
    def copies(self) -> Mapping[LensSetting, CopyFinding]:
        """What each setting says of its copy."""
        return copies_of(self.usable, self.bench.body)

    @cached_property
    def jumps(self) -> tuple[ZoomJump, ...]:
        """Zoom positions whose blur stands out."""
        return zoom_jumps(self.usable)

    def settled(self, weights: Weights, named: LensSetting | None) -> Settled:
        """Return every setting for both questions, given weights of the picture's factors and the
        reference that the person named.

        Pictures of the patch of sky are shown at the scale at which the reference's picture shows
        it: the one named, else the best of the picture question. Raises ValueError where no result
        can be judged.
        """
        if not self.usable:
            raise ValueError(
                "nothing was measured that can be judged; run nightglass measure first"
            )
        reference = self._pictures.get(named) if named else None
        arcmin = sky_per_eye_arcmin(reference or self._best_picture(weights), self.bench)
        if arcmin not in self._settled:
            found = {s: with_patch_of_sky(c, self.bench, arcmin) for s, c in self._pictures.items()}
            items = judged(tuple(found.values()), self.bench, self.pool, self.factors, self.eyes)
            self._settled[arcmin] = Settled(found, tuple(items))
        return self._settled[arcmin]

    def seen_by_viewers(
        self, setting: LensSetting, settled: Settled, asked: Asked
    ) -> Mapping[str, tuple[float, ...]]:
        """Return what the eyes of phone, screen and print make of a setting (see Judged.eyes)."""
        key = setting, asked.question
        if key not in settled.viewers:
            one = settled.candidates[setting]
            settled.viewers[key] = _eyes_of(one, asked, self.eyes)
        return settled.viewers[key]

    @cached_property
    def _pictures(self) -> dict[LensSetting, Candidate]:
        return {
            one.setting: candidate_of(one, self.bench, self.eye, self._falloffs.get(one.setting))
            for one in self.usable
        }

    @cached_property
    def _picture_values(self) -> dict[str, Sequence[FactorValue]]:
        cases = [one.cases[Question.PICTURE] for one in self._pictures.values()]
        return {one.code: one.measure(cases) for one in self.factors[Question.PICTURE]}

    def _best_picture(self, weights: Weights) -> Candidate:
        candidates = tuple(self._pictures.values())
        logs = [0.0] * len(candidates)
        for code, values in self._picture_values.items():
            for k, found in enumerate(values):
                log = math.log(found.value) if found.value > 0 else -math.inf
                logs[k] += weights[code] * log
        order = [(-log, one.result.setting) for log, one in zip(logs, candidates, strict=True)]
        return candidates[order.index(min(order))]


def _eyes_of(one: Candidate, asked: Asked, eyes: Sequence[Eye]) -> Mapping[str, tuple[float, ...]]:
    case = one.cases[asked.question]
    picture_percent = one.cases[Question.PICTURE].spots.eye.eye_percent
    cases = []
    for eye in eyes:
        # A patch of sky is shown at another scale, for every viewer alike.
        percent = case.spots.eye.eye_percent * eye.eye_percent / picture_percent
        own = math.isclose(eye.eye_percent, picture_percent, rel_tol=1e-9)
        cases.append(case if own else seen_by(one, replace(eye, eye_percent=percent), asked.bench))
    return eye_moves(case, cases, asked.factors)


def _sorted_out(
    results: Sequence[SettingResult], bench: BenchFile
) -> tuple[list[SettingResult], list[NotRanked]]:
    """Results that can be judged, and reasons for the others."""
    usable: list[SettingResult] = []
    refused: list[NotRanked] = []
    seen = set()
    for result in results:
        s = result.setting
        if s in seen:
            raise ValueError(
                f"{s.lens} at {s.focal_mm:g} mm f/{s.f_number:g} on {s.body} was handed in twice; "
                "give each setting once"
            )
        seen.add(s)
        reason = _reason_against(result, bench)
        if reason is not None:
            refused.append(NotRanked(s.lens, reason, s.focal_mm, s.f_number))
        else:
            usable.append(result)
    return usable, refused


def _reason_against(result: SettingResult, bench: BenchFile) -> Note | None:
    """Why a result can't be judged; None where it can."""
    if bench.lens(result.setting.lens) is None:
        lenses = tuple(lens.name for lens in bench.lenses)
        return Note(NoteCode.LENS_NOT_IN_BENCH_FILE, {"lenses": lenses})
    if result.setting.body != bench.body.name:
        bodies = {"body": result.setting.body, "described": bench.body.name}
        return Note(NoteCode.OTHER_BODY, bodies)
    if not usable_zones(result):
        flags = {flag for zone in result.zones for flag in zone.flags}
        return Note(NoteCode.NO_SIZE_ANYWHERE, {"flags": tuple(sorted(flags))})
    return None
