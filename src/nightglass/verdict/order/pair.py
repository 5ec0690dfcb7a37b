"""Two settings side by side: blur place by place, light, stars, glow, score, frames to equal."""

from __future__ import annotations

import itertools
import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from statistics import NormalDist

from nightglass.bench.records import ZoneResult
from nightglass.gear.lens import LensSetting
from nightglass.verdict.asked import Asked
from nightglass.verdict.candidate import Candidate
from nightglass.verdict.certainty.gain import gain_interval
from nightglass.verdict.certainty.spread import CONFIDENCE, t_quantile
from nightglass.verdict.factors import SettingCase
from nightglass.verdict.frame_light import FrameLight
from nightglass.verdict.judge import JudgedBench
from nightglass.verdict.order.ranking import OTHER_PICTURE
from nightglass.verdict.records import VISIBLE_GAIN_PERCENT, Interval, Worth
from nightglass.verdict.score import Judged, score_spread

MOST_FRAMES = 1000
"""More frames than that are no answer for one evening."""


@dataclass(frozen=True)
class PlaceOfTwo:
    """One place of the frame with both settings: lengths in % of picture height."""

    place: str
    one_percent: float | None
    one_err_percent: float | None
    one_at_limit: bool
    other_percent: float | None
    other_err_percent: float | None
    other_at_limit: bool
    ratio: Interval | None
    """One over the other with its 95 % interval; None where either is at limit or not measured."""


@dataclass(frozen=True)
class SettingPair:
    """Setting one against the other, both at their longest allowed time."""

    one: Worth
    other: Worth
    gain_percent: Interval
    """Score of one over the other."""
    light_stops: float
    """Light gathered by one over the other."""
    factor_gains_percent: dict[str, float]
    """By the factor's code."""
    places: tuple[PlaceOfTwo, ...]
    frames_to_equal: int | None
    """Frames of the setting with less score, stacked, whose score equals one frame of the better;
    None where 1,000 don't."""
    different_picture: bool
    zooms: frozenset[str] = frozenset()
    """Those of the two lenses that were judged at several focal lengths."""

    @property
    def told_apart(self) -> bool:
        """Whether the interval of the gain leaves out 0."""
        gain = self.gain_percent
        return gain.low is not None and gain.high is not None and gain.low * gain.high > 0

    @property
    def hardly_visible(self) -> bool:
        """Whether the better one is ahead by less than a third of a stop (common practice)."""
        return hardly_shows(self.gain_percent.value)

    @property
    def better(self) -> Worth:
        """The one with the higher score."""
        return self.one if self.gain_percent.value >= 0 else self.other

    @property
    def weaker(self) -> Worth:
        """The one with the lower score."""
        return self.other if self.gain_percent.value >= 0 else self.one


def hardly_shows(gain_percent: float) -> bool:
    """Return whether a gain either way is less than a third of a stop (common practice)."""
    return max(gain_percent, -gain_percent / (1 + gain_percent / 100)) < VISIBLE_GAIN_PERCENT


def setting_pair(bench: JudgedBench, one: LensSetting, other: LensSetting) -> SettingPair:
    """Return two judged settings side by side.

    Raises ValueError for one setting twice, one that was not judged, or one that shows nothing.
    """
    if one == other:
        raise ValueError("both are the same setting; name two different ones")
    first, second = (_judged(bench, setting) for setting in (one, other))
    for item in (first, second):
        if not item.worth.score.value > 0:
            s = item.worth.setting
            raise ValueError(
                f"{s.lens} at {s.focal_mm:g} mm f/{s.f_number:g} shows no star: nothing to compare"
            )
    asked = bench.asked
    spread = score_spread(first, second, asked.weights)
    scores = (first.worth.score.value, second.worth.score.value)
    better, weaker = (first, second) if scores[0] >= scores[1] else (second, first)
    lengths = sorted((one.focal_mm, other.focal_mm))
    return SettingPair(
        one=first.worth,
        other=second.worth,
        gain_percent=gain_interval(*scores, spread),
        light_stops=math.log2(first.worth.gathered_mm2_s / second.worth.gathered_mm2_s),
        factor_gains_percent={
            f.code: 100 * (first.worth.factors[f.code] / second.worth.factors[f.code] - 1)
            for f in asked.factors
        },
        places=_places(bench.candidates[one], bench.candidates[other], asked),
        frames_to_equal=_frames_to_equal(weaker, better, bench.candidates, asked),
        different_picture=lengths[1] / lengths[0] > OTHER_PICTURE,
        zooms=_zooms(bench, (one.lens, other.lens)),
    )


def _zooms(bench: JudgedBench, lenses: Sequence[str]) -> frozenset[str]:
    focals: dict[str, set[float]] = {}
    for setting in bench.candidates:
        focals.setdefault(setting.lens, set()).add(setting.focal_mm)
    return frozenset(lens for lens in lenses if len(focals[lens]) > 1)


def stacked(light: FrameLight, frames: int) -> FrameLight:
    """Return the light of so many frames added up: each star's trail stays that of one frame.

    Signals add, and with them the variance of sky and readout. Raises ValueError for fewer than
    one frame.
    """
    if frames < 1:
        raise ValueError(f"frames is {frames}; at least 1")
    noise = light.read_noise.electrons * math.sqrt(frames)
    return replace(
        light,
        sky_e=light.sky_e * frames,
        glow_e=light.glow_e * frames,
        path=replace(light.path, pupil_area_mm2=light.path.pupil_area_mm2 * frames),
        read_noise=replace(light.read_noise, electrons=noise),
    )


def _judged(bench: JudgedBench, setting: LensSetting) -> Judged:
    for item in bench.scored:
        if item.worth.setting == setting:
            return item
    raise ValueError(
        f"{setting.lens} at {setting.focal_mm:g} mm f/{setting.f_number:g} was not judged; "
        "nightglass rank says why"
    )


def _frames_to_equal(
    weaker: Judged, better: Judged, candidates: Mapping[LensSetting, Candidate], asked: Asked
) -> int | None:
    """The least number of frames, by halving: the score rises with each."""
    case = candidates[weaker.worth.setting].cases[asked.question]

    def enough(frames: int) -> bool:
        many: SettingCase = replace(case, light=stacked(case.light, frames))
        return asked.score(many, weaker.worth) >= better.worth.score.value * (1 - 1e-9)

    low, high = 0, 1
    while not enough(high):
        if high >= MOST_FRAMES:
            return None
        low, high = high, min(2 * high, MOST_FRAMES)
    while high - low > 1:
        middle = (low + high) // 2
        low, high = (low, middle) if enough(middle) else (middle, high)
    return high


def _places(one: Candidate, other: Candidate, asked: Asked) -> tuple[PlaceOfTwo, ...]:
    zones = [{zone.place: zone for zone in c.result.zones} for c in (one, other)]
    names = list(dict.fromkeys(zone.place for c in (one, other) for zone in c.result.zones))
    to_percent = 100 / asked.bench.body.picture_height_px
    return tuple(_place(name, zones[0].get(name), zones[1].get(name), to_percent) for name in names)


def _place(
    name: str, one: ZoneResult | None, other: ZoneResult | None, to_percent: float
) -> PlaceOfTwo:
    sides = [_size(zone, to_percent) for zone in (one, other)]
    return PlaceOfTwo(name, *sides[0], *sides[1], _ratio(one, other))


def _size(zone: ZoneResult | None, to_percent: float) -> tuple[float | None, float | None, bool]:
    if zone is None or zone.length_px.bound is None:
        return None, None, False
    length = zone.length_px
    err = None if length.err is None else length.err * to_percent
    return (length.bound or 0.0) * to_percent, err, length.value is None


def _ratio(one: ZoneResult | None, other: ZoneResult | None) -> Interval | None:
    lengths = [None if zone is None else zone.length_px for zone in (one, other)]
    if any(length is None or length.value is None for length in lengths):
        return None
    values = [length.value or 0.0 for length in lengths if length]
    ratio = values[0] / values[1]
    errs = [length.err for length in lengths if length]
    if any(err is None for err in errs):
        return Interval(ratio, None, None)
    half = math.hypot(_half(values, [err or 0.0 for err in errs]), _shared_half(one, other))
    return Interval(ratio, ratio * math.exp(-half), ratio * math.exp(half))


def _shared_half(one: ZoneResult | None, other: ZoneResult | None) -> float:
    """Half the 95 % interval of ln(ratio) that the correction of drift and sessions leaves."""
    sides = [zone.shared for zone in (one, other) if zone is not None and zone.shared is not None]
    if not sides:
        return 0.0
    vectors = [side.length for side in sides] + [()] * (2 - len(sides))
    apart = [a - b for a, b in itertools.zip_longest(*vectors, fillvalue=0.0)]
    err = math.hypot(*apart, *(side.visit_length for side in sides))
    return t_quantile(min(side.degrees_of_freedom for side in sides)) * err


def _half(values: Sequence[float], errs: Sequence[float]) -> float:
    """Half the 95 % interval of the logarithm of a ratio of two means."""
    parts = [(err / value) ** 2 for value, err in zip(values, errs, strict=True)]
    # The errors already hold Student's t for few repeats (1 sigma); 95 % asks for 1.96 of them.
    return NormalDist().inv_cdf((1 + CONFIDENCE) / 2) * math.sqrt(sum(parts))
