"""Which assumptions could put the lenses in another order: each is tried within its range."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import replace

import numpy as np

from nightglass.light.defaults import EFFICIENCY, EXTINCTION, MILKY_WAY_BRIGHTNESS, SKY_BRIGHTNESS
from nightglass.light.iso import NoiseSource
from nightglass.optics.arrays import Floats
from nightglass.verdict.asked import Asked
from nightglass.verdict.certainty.order_frequency import leading, passed
from nightglass.verdict.codes import Assumption
from nightglass.verdict.codes import AssumptionCode as Code
from nightglass.verdict.codes import AssumptionSource as Source
from nightglass.verdict.frame_light import FrameLight
from nightglass.verdict.records import Standing
from nightglass.verdict.score import Judged, moved
from nightglass.verdict.settled import Settled

_TWO_SIGMA = 1.96
_BEHIND = -1e6
Change = Callable[[FrameLight], FrameLight]


def order_changers(
    stated: Sequence[Assumption],
    ranked: Sequence[Standing],
    scored: Sequence[Judged],
    settled: Settled,
    asked: Asked,
) -> tuple[Assumption, ...]:
    """Return the assumptions, each marked whether it could change the order of the lenses.

    Defaults are tried at both ends of their range: a sky of 20.5 and 22, an extinction of 0.12 and
    0.28, an efficiency of 0.35 and 0.65, a read noise of 1.5 and 4 electrons, the Milky Way's light
    0.3 magnitudes up and down, transmission of one lens at a time by two standard errors, corners
    darker by as much, the weights a 0.25 and 0.75, the eyes of phone and print, 0.7 and 1.4 times
    the time. The order changes where a lens passes one of a higher place. What was measured or
    typed, and what was not tried, stays None.
    """
    if len(ranked) < 2:
        return tuple(stated)
    led = leading(scored)
    tried = {
        **_by_light(led, ranked, settled, asked),
        **_by_glass(led, ranked, asked),
        Code.SCORE: _by_weights(led, ranked, asked),
        Code.VIEWING: _by_eyes(led, ranked, asked),
        Code.LONGEST_TIME: _by_time(ranked),
    }
    always = (Code.LONGEST_TIME, Code.VIEWING)
    return tuple(
        replace(one, could_change_order=tried[one.code])
        if one.code in tried and (one.source is Source.DEFAULT or one.code in always)
        else one
        for one in stated
    )


def _by_light(
    led: Sequence[Judged],
    ranked: Sequence[Standing],
    settled: Settled,
    asked: Asked,
) -> dict[Code, bool]:
    return {
        code: any(
            _changed(_scores(led, settled, asked, (code, k)), led, ranked)
            for k in range(len(changes))
        )
        for code, changes in _CHANGES.items()
    }


def _scores(
    led: Sequence[Judged], settled: Settled, asked: Asked, tried: tuple[Code, int]
) -> list[float]:
    """ln of the scores under one change of an assumption; what it does to a setting's factors is
    worked out once."""
    code, k = tried
    known = settled.changed.setdefault(asked.question, {})
    new = [i.worth for i in led if (code, k, i.worth.setting) not in known]
    cases = [settled.candidates[worth.setting].cases[asked.question] for worth in new]
    changed = [replace(case, light=_CHANGES[code][k](case.light)) for case in cases]
    for worth, ratios in zip(new, asked.ratios(changed, new), strict=True):
        known[code, k, worth.setting] = ratios
    return [_log(asked.rescored(i.worth, known[code, k, i.worth.setting])) for i in led]


def _by_glass(led: Sequence[Judged], ranked: Sequence[Standing], asked: Asked) -> dict[Code, bool]:
    """One lens at a time, brighter or dimmer; then with darker corners."""
    own = np.array([_log_score(item) for item in led])
    moves = [moved(item, asked.weights) for item in led]
    glass = dark = False
    for standing in ranked:
        lens = standing.worth.setting.lens
        its = np.array([item.worth.setting.lens == lens for item in led], dtype=np.float64)
        for side in (-_TWO_SIGMA, _TWO_SIGMA):
            through = own + side * its * np.array([m.transmission for m in moves])
            glass = glass or _changed(through, led, ranked)
        corners = own + _TWO_SIGMA * its * np.array([m.darker for m in moves])
        dark = dark or _changed(corners, led, ranked)
    return {Code.TRANSMISSION: glass, Code.FALLOFF: dark}


def _by_weights(led: Sequence[Judged], ranked: Sequence[Standing], asked: Asked) -> bool:
    ends = zip(*(factor.tried_weights for factor in asked.factors), strict=True)
    codes = [factor.code for factor in asked.factors]
    return any(
        _changed(
            [
                sum(w * _log(item.worth.factors[code]) for code, w in zip(codes, end, strict=True))
                for item in led
            ],
            led,
            ranked,
        )
        for end in ends
    )


def _by_eyes(led: Sequence[Judged], ranked: Sequence[Standing], asked: Asked) -> bool:
    eyes = max((len(moves) for item in led for moves in item.eyes.values()), default=0)
    return any(
        _changed(
            [
                _log_score(item) + sum(w * item.eyes[code][k] for code, w in asked.weights.items())
                for item in led
            ],
            led,
            ranked,
        )
        for k in range(eyes)
    )


def _by_time(ranked: Sequence[Standing]) -> bool:
    """Whether best settings pass each other when all take 0.7 or 1.4 times their time."""
    places = np.array([s.place for s in ranked])
    for times in ("shorter_score", "longer_score"):
        scores = [getattr(s, times) for s in ranked]
        keys = [
            _log(score or 0.0) + (_BEHIND if s.over_limit else 0.0)
            for score, s in zip(scores, ranked, strict=True)
        ]
        if bool(passed(np.array([keys]), places)[0]):
            return True
    return False


def _changed(
    logs: Sequence[float] | Floats, led: Sequence[Judged], ranked: Sequence[Standing]
) -> bool:
    owners = {(s.worth.setting.body, s.worth.setting.lens): k for k, s in enumerate(ranked)}
    keys = np.full(len(ranked), -np.inf)
    for log, item in zip(logs, led, strict=True):
        standing = ranked[owners[(item.worth.setting.body, item.worth.setting.lens)]]
        k = owners[(standing.worth.setting.body, standing.worth.setting.lens)]
        if item.worth.eligible or standing.over_limit:
            keys[k] = max(keys[k], log + (_BEHIND if standing.over_limit else 0.0))
    return bool(passed(keys[None, :], np.array([s.place for s in ranked]))[0])


def _log_score(item: Judged) -> float:
    return _log(item.worth.score.value)


def _log(value: float) -> float:
    return math.log(value) if value > 0 else -math.inf


def _sky(mag: float) -> Change:
    times = 10 ** (-0.4 * (mag - SKY_BRIGHTNESS.value))
    return lambda light: replace(light, sky_e=light.sky_e * times)


def _milky_way(mag: float) -> Change:
    times = 10 ** (-0.4 * (mag - MILKY_WAY_BRIGHTNESS.value))
    return lambda light: replace(light, glow_e=light.glow_e * times)


def _extinction(mag: float) -> Change:
    times = mag / EXTINCTION.value
    return lambda light: replace(light, extinction_mag=light.extinction_mag * times)


def _efficiency(value: float) -> Change:
    times = value / EFFICIENCY.value
    return lambda light: replace(
        light,
        sky_e=light.sky_e * times,
        glow_e=light.glow_e * times,
        path=replace(light.path, efficiency=value),
    )


def _read_noise(electrons: float) -> Change:
    def change(light: FrameLight) -> FrameLight:
        if light.read_noise.source is not NoiseSource.DEFAULT:
            return light
        return replace(light, read_noise=replace(light.read_noise, electrons=electrons))

    return change


_CHANGES: dict[Code, tuple[Change, ...]] = {
    Code.SKY_BRIGHTNESS: (_sky(20.5), _sky(22.0)),
    Code.MILKY_WAY: (
        _milky_way(MILKY_WAY_BRIGHTNESS.value - 0.3), _milky_way(MILKY_WAY_BRIGHTNESS.value + 0.3),
    ),
    Code.EXTINCTION: (_extinction(0.12), _extinction(0.28)),
    Code.EFFICIENCY: (_efficiency(0.35), _efficiency(0.65)),
    Code.READ_NOISE: (_read_noise(1.5), _read_noise(4.0)),
}  # fmt: skip
