"""Two settings side by side, through the real judging."""

import math
from dataclasses import replace

import pytest

from nightglass.gear.benchfile import ScoreChoice
from nightglass.gear.lens import LensSetting
from nightglass.verdict.judge import judge, judge_settings
from nightglass.verdict.order.pair import setting_pair, stacked
from nightglass.verdict.question import Question

LENGTHS = (5.0, 5.1, 4.9)


def pair_of(bench, results, k=0, other=1, **more):
    return setting_pair(
        judge_settings(results, bench, **more), results[k].setting, results[other].setting
    )


@pytest.fixture
def results(build):
    return (
        build.setting(build.heron, 1.8, (9.0, 9.3, 8.8)),
        build.setting(build.heron, 2.8, (4.4, 4.6, 4.5)),
        build.setting(build.plover, 2.2, (6.0, 6.2, 6.1)),
    )


def test_gain_light_and_factors_are_those_of_the_ranking(results, bench):
    pair = pair_of(bench, results, 0, 2)
    ranking = judge(results, bench)
    worths = {w.setting: w for w in ranking.worths}
    one, other = worths[results[0].setting], worths[results[2].setting]
    assert (pair.one.factors, pair.other.factors) == (one.factors, other.factors)
    ratio = one.score.value / other.score.value
    assert pair.gain_percent.value == pytest.approx(100 * (ratio - 1))
    # The only two lenses: nothing was chosen, so the ranking's interval is the same.
    assert ranking.standings[0].gain_over_next_percent.low == pytest.approx(
        pair.gain_percent.low if ratio > 1 else pair_of(bench, results, 2, 0).gain_percent.low
    )


def test_turned_round_the_ratio_is_the_inverse_and_the_same_one_is_better(results, bench):
    there, back = pair_of(bench, results, 0, 1), pair_of(bench, results, 1, 0)
    product = (1 + there.gain_percent.value / 100) * (1 + back.gain_percent.value / 100)
    assert product == pytest.approx(1.0)
    assert there.light_stops == pytest.approx(-back.light_stops)
    assert there.better == back.better
    assert there.frames_to_equal == back.frames_to_equal
    for one, other in zip(there.places, back.places, strict=True):
        assert one.ratio.value * other.ratio.value == pytest.approx(1.0)
        assert one.ratio.low * other.ratio.high == pytest.approx(1.0)


def test_light_is_that_of_the_exact_f_numbers(results, bench):
    # Marks are names of exact powers (ISO 517): from 1.8 to 2.8 are four thirds of a stop.
    assert pair_of(bench, results, 0, 1).light_stops == pytest.approx(4 / 3, abs=1e-9)


def test_glass_of_half_the_light_needs_two_frames_without_read_noise(build, bench):
    body = replace(bench.body, iso_steps=(800,), read_noise_e={800: 1e-6})
    lenses = [replace(build.heron, name=f"Heron {t}", transmission=t) for t in (0.9, 0.45)]
    results = [
        replace(r, setting=replace(r.setting, body=body.name))
        for r in (build.setting(lens, 1.8, LENGTHS) for lens in lenses)
    ]
    pair = pair_of(replace(bench, body=body, lenses=tuple(lenses)), results)
    # Two stacked frames of half the light are one of the whole: exactly as good.
    assert pair.frames_to_equal == 2
    assert pair.better.setting.lens == "Heron 0.9"


def test_stacking_adds_signals_and_variances(results, bench):
    light = next(iter(judge_settings(results, bench).candidates.values())).light
    nine = stacked(light, 9)
    assert nine.sky_e == pytest.approx(9 * light.sky_e)
    assert nine.read_noise.electrons == pytest.approx(3 * light.read_noise.electrons)
    with pytest.raises(ValueError, match="frames is 0; at least 1"):
        stacked(light, 0)


def test_places_hold_both_lengths_in_percent_and_the_interval_of_their_ratio(results, bench):
    place = pair_of(bench, results, 0, 1).places[0]
    height = bench.body.picture_height_px
    assert place.one_percent == pytest.approx(100 * results[0].zones[0].length_px.value / height)
    assert not place.one_at_limit
    one, other = (r.zones[0].length_px for r in results[:2])
    half = 1.95996 * math.hypot(one.err / one.value, other.err / other.value)
    assert math.log(place.ratio.high / place.ratio.value) == pytest.approx(half, rel=1e-4)


def test_a_place_of_one_setting_alone_has_no_ratio(build, bench):
    whole = build.setting(build.heron, 1.8, LENGTHS)
    part = build.setting(build.plover, 2.2, LENGTHS)
    part = replace(part, zones=part.zones[:1])
    places = pair_of(bench, [whole, part]).places
    assert [p.place for p in places] == [z.place for z in whole.zones]
    assert places[0].ratio is not None
    assert places[-1].other_percent is None
    assert places[-1].ratio is None


def test_the_question_of_the_patch_of_sky_is_asked_too(results, bench):
    picture = pair_of(bench, results, 0, 2)
    sky = pair_of(bench, results, 0, 2, question=Question.SKY)
    assert set(picture.factor_gains_percent) == {"stars", "glow"}
    assert set(sky.factor_gains_percent) == {"stars_on_sky", "glow_on_sky"}
    assert sky.gain_percent.value != picture.gain_percent.value


def test_a_stop_more_shows_and_a_sixth_does_not(build, bench):
    lenses = [replace(build.heron, name=f"Heron {t}", transmission=t) for t in (0.9, 0.85, 0.4)]
    results = [build.setting(lens, 1.8, LENGTHS) for lens in lenses]
    file = replace(bench, lenses=tuple(lenses), score=ScoreChoice())
    assert pair_of(file, results, 0, 1).hardly_visible
    assert not pair_of(file, results, 0, 2).hardly_visible
    assert not pair_of(file, results, 2, 0).hardly_visible


def test_one_setting_twice_and_one_not_judged_are_refused(results, bench):
    found = judge_settings(results, bench)
    with pytest.raises(ValueError, match="both are the same setting; name two different ones"):
        setting_pair(found, results[0].setting, results[0].setting)
    stranger = LensSetting(bench.body.name, "Heron 20 mm f/1.8", 20.0, 16.0)
    with pytest.raises(ValueError, match=r"Heron 20 mm f/1.8 at 20 mm f/16 was not judged"):
        setting_pair(found, results[0].setting, stranger)
