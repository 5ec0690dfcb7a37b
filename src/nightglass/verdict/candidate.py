"""A setting on its way to a verdict: its light, and its spots as the eye sees them."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace

import numpy as np

from nightglass.bench.records import SettingResult, ZoneResult
from nightglass.gear.benchfile import BenchFile
from nightglass.gear.body import Body
from nightglass.gear.lens import Lens
from nightglass.light.falloff import PupilFalloff
from nightglass.verdict.blur import Tightness, ring_weights, tightness, usable_zones, worst_zone
from nightglass.verdict.factors import SettingCase
from nightglass.verdict.frame_light import FrameLight, frame_light
from nightglass.verdict.question import Question
from nightglass.verdict.records import FrameTimes
from nightglass.verdict.times import longest_times
from nightglass.verdict.view.eye import Eye, eye_arcmin, eye_on_sky
from nightglass.verdict.view.seen import viewed_spots


@dataclass(frozen=True)
class Candidate:
    """A result with everything that its worth is worked out from."""

    result: SettingResult
    lens: Lens
    zones: tuple[ZoneResult, ...]
    """Those with a length."""
    times: FrameTimes
    tight: Tightness
    light: FrameLight
    cases: Mapping[Question, SettingCase]

    @property
    def focal_mm(self) -> float:
        """Focal length of the setting [mm]."""
        return self.result.setting.focal_mm

    @property
    def body(self) -> Body:
        """The body that recorded it."""
        return self.cases[Question.PICTURE].body


def candidate_of(
    result: SettingResult, bench: BenchFile, eye: Eye, falloff: PupilFalloff | None = None
) -> Candidate:
    """Return a result at its longest allowed time, as an eye sees its picture.

    Raises ValueError for a lens that is not in the bag or a result without a length.
    """
    body, setting = bench.body, result.setting
    lens = bench.lens(setting.lens)
    if lens is None:
        raise ValueError(f"{setting.lens} is not in the bag")
    zones = usable_zones(result)
    times = longest_times(
        bench.time, body, setting.focal_mm, setting.f_number, lens.projection,
        worst_zone(zones).length_px.bound,
    )  # fmt: skip
    exposure_s = times.chosen.true_s(bench.time.release)
    tight = tightness(zones, body, setting.focal_mm, exposure_s, lens.projection)
    light = frame_light(body, lens, setting, exposure_s, bench.sky, falloff)
    spots = viewed_spots(light, zones, body, eye)
    cases = {Question.PICTURE: SettingCase(body, setting, light, spots)}
    return Candidate(result, lens, zones, times, tight, light, cases)


def with_patch_of_sky(one: Candidate, bench: BenchFile, arcmin: float) -> Candidate:
    """Return a candidate that also answers the question of the patch of sky.

    arcmin: how much sky the eye covers in every picture, as these are shown at one scale.
    """
    case = one.cases[Question.PICTURE]
    eye = eye_on_sky(case.spots.eye, arcmin, bench.body, one.focal_mm)
    if not np.isclose(eye.eye_percent, case.spots.eye.eye_percent, rtol=1e-9):
        case = seen_by(one, eye, bench)
    return replace(one, cases={**one.cases, Question.SKY: case})


def seen_by(one: Candidate, eye: Eye, bench: BenchFile) -> SettingCase:
    """Return a candidate's case for another eye."""
    spots = viewed_spots(one.light, one.zones, bench.body, eye)
    return SettingCase(bench.body, one.result.setting, one.light, spots)


def at_time(one: Candidate, times: float, question: Question, bench: BenchFile) -> SettingCase:
    """Return a candidate's case for one question at so many times its exposure time."""
    exposure_s = times * one.light.exposure_s
    light = frame_light(
        bench.body, one.lens, one.result.setting, exposure_s, bench.sky, one.light.falloff
    )
    eye = one.cases[question].spots.eye
    spots = viewed_spots(light, one.zones, bench.body, eye)
    return SettingCase(bench.body, one.result.setting, light, spots)


def without_place(one: Candidate, place: str, question: Question, bench: BenchFile) -> SettingCase:
    """Return a candidate's case for one question as if a place had not been measured."""
    zones = tuple(zone for zone in one.zones if zone.place != place)
    eye = one.cases[question].spots.eye
    spots = viewed_spots(one.light, zones, bench.body, eye)
    return SettingCase(bench.body, one.result.setting, one.light, spots)


def sky_per_eye_arcmin(one: Candidate, bench: BenchFile) -> float:
    """Return how much sky the eye covers at the centre of a candidate's picture [arcminutes]."""
    return eye_arcmin(one.cases[Question.PICTURE].spots.eye, bench.body, one.focal_mm)


def mean_tightness_percent(one: Candidate, bench: BenchFile) -> float:
    """Return the mean of the lens's blur over the tested frame [% of picture height]."""
    lengths = np.array([zone.length_px.bound or 0.0 for zone in one.zones])
    weights = ring_weights(one.zones, one.light.field_radius)
    tested = ~np.isnan(weights[0])
    if not tested.any():
        return one.tight.lens_percent
    over = (weights[:, tested] * lengths[:, None]).sum(axis=0)
    return float(100 * over.mean() / bench.body.picture_height_px)
