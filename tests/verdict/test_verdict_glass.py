"""What is known of a lens's glass and corners is in every score and every interval."""

import math
from dataclasses import replace

import numpy as np
import pytest

from nightglass.gear.lens import LensSetting
from nightglass.light.falloff import FalloffSource, PupilFalloff
from nightglass.show.ranking.assumption_words import assumption_row
from nightglass.verdict.codes import AssumptionCode
from nightglass.verdict.judge import judge

LENGTHS = (5.0, 5.1, 4.9)


def alike(build, bench, transmissions):
    """A bench of lenses that differ in name and stated transmission alone."""
    lenses = [
        replace(build.heron, name=f"Heron {k}", transmission=share, t_stop=None)
        for k, share in enumerate(transmissions)
    ]
    results = [build.setting(lens, 1.8, LENGTHS) for lens in lenses]
    return results, replace(bench, lenses=tuple(lenses))


def test_equal_lenses_with_other_stated_transmissions_are_told_apart_but_the_unknown_ties(
    build, bench
):
    results, file = alike(build, bench, (1.0, 0.75, 0.6, None))
    ranking = judge(results, file)
    by_lens = {s.worth.setting.lens: s for s in ranking.standings}
    unknown = by_lens["Heron 3"]
    # Nobody knows its glass: 0.85 +- 0.08 reaches from 0.69 to 1.
    assert {"Heron 0", "Heron 1"} <= set(unknown.tied_with)
    assert ranking.standings[0].worth.setting.lens == "Heron 0"


def test_light_moves_the_score_as_it_should(build, bench):
    results, file = alike(build, bench, (1.0, 0.5))
    first, second = judge(results, file).standings
    # Stars go as light^1.04 / sky^..., glow as its root: half the light is about a stop of score.
    assert 0.35 < second.worth.score.value / first.worth.score.value < 0.55


def test_a_measured_falloff_takes_the_place_of_the_model(build, bench):
    setting = LensSetting(bench.body.name, build.heron.name, 20.0, 1.8)
    result = build.setting(build.heron, 1.8, LENGTHS)
    other = build.setting(build.plover, 2.2, LENGTHS)
    dark = PupilFalloff((1.2, 0.8), (0.0004, 0.0, 0.0), FalloffSource.SKY)
    model = judge([result, other], bench)
    measured = judge([result, other], bench, falloffs={setting: dark})

    def of(ranking):
        return next(w for w in ranking.worths if w.setting == setting)

    assert of(model).falloff is FalloffSource.MODEL
    assert of(measured).falloff is FalloffSource.SKY
    assert of(measured).corner_stops == pytest.approx(2.0 * 0.4 * np.log2(10))
    assert of(measured).factors["stars"] < of(model).factors["stars"]
    assert of(measured).factors["glow"] < of(model).factors["glow"]
    rows = [assumption_row(a) for a in measured.assumptions if a.code is AssumptionCode.FALLOFF]
    assert ("falloff toward the corners", "measured on frames of the sky (Heron 20 mm f/1.8)",
            "measured") in rows  # fmt: skip
    assert any("darker (1 sigma) (Plover" in value for _, value, _ in rows)


def test_a_measured_falloff_narrows_the_interval(build, bench):
    results = [build.setting(build.heron, 1.8, LENGTHS), build.setting(build.plover, 2.2, LENGTHS)]
    glass = [replace(lens, transmission=0.8, transmission_err=0.005) for lens in bench.lenses]
    file = replace(bench, lenses=tuple(glass))
    known = {
        r.setting: PupilFalloff((0.3, 0.05), (0.0001, 0.0, 0.0), FalloffSource.FLAT)
        for r in results
    }

    def width(ranking):
        gain = ranking.standings[0].gain_over_next_percent
        return math.log((100 + gain.high) / (100 + gain.low))

    assert width(judge(results, file, falloffs=known)) < 0.5 * width(judge(results, file))
