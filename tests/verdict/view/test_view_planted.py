"""Eleven planted lenses against rough orders of common practice (no published source).

On a body 15.6 mm high a 16 mm f/1.4 lens with much blur wide open is no better at f/1.4 than at
f/2; after it come 14 mm and 18 mm at f/2.8; slow, soft zooms reach a tenth to a third of the best.
"""

import pytest
from planted_lenses import (
    BODY,
    BRIGHT_KIT,
    FAST_OPEN,
    FAST_STOPPED,
    PRIME_16,
    SETTINGS,
    SLOW_ZOOMS,
    ULTRA_WIDE_8,
    WIDE_14,
    ZOOM_18,
)
from viewed_values import score, value

from nightglass.gear.benchfile import BenchFile, SkyChoice
from nightglass.verdict.frame_light import frame_light
from nightglass.verdict.judge import judge
from nightglass.verdict.purpose import PURPOSES, eye_of


@pytest.fixture(scope="module", params=PURPOSES)
def scores(request):
    """Scores against the fast lens at f/2 for each purpose."""
    eye = eye_of(request.param)
    values = {}
    for planted in SETTINGS:
        light = frame_light(BODY, planted.lens, planted.setting, planted.exposure_s, SkyChoice())
        values[planted] = value(light, planted.zones, BODY, eye)
    return {p: score(v, values[FAST_STOPPED]) for p, v in values.items()}


def test_times_are_those_of_the_working_rule():
    """360 / f on the dial (common practice): 14 mm 25, 16 and 18 mm 20, 8 mm 30, by their exact
    powers of two."""
    times = {p.focal_mm: p.exposure_s for p in SETTINGS}
    for focal, exact in ((14, 25.4), (16, 20.16), (18, 20.16), (8, 32.0)):
        assert times[focal] == pytest.approx(exact, abs=0.01)


def test_eleven_lenses():
    assert len({planted.name for planted in SETTINGS}) == 11


def test_wide_open_with_much_blur_is_no_better_than_f_2(scores):
    assert 50 < scores[FAST_OPEN] <= 102


def test_f_2_leads_and_14_and_18_mm_at_f_2_8_follow(scores):
    after = sorted((p for p in SETTINGS if p.lens.name != FAST_STOPPED.name),
                   key=lambda p: -scores[p])  # fmt: skip
    assert set(after[:2]) == {WIDE_14, ZOOM_18}
    assert 45 <= scores[WIDE_14] <= 70
    assert 40 <= scores[ZOOM_18] <= 60


def test_slow_soft_zooms_reach_a_tenth_to_a_third(scores):
    for zoom in SLOW_ZOOMS:
        assert 10 <= scores[zoom] <= 33, zoom.name
        assert scores[zoom] < min(scores[BRIGHT_KIT], scores[PRIME_16], scores[ULTRA_WIDE_8])


def test_the_whole_ranking_agrees_with_its_parts():
    """The eleven through judge: same order as their scores, times by the default trail."""
    lenses = tuple({p.lens.name: p.lens for p in SETTINGS}.values())
    ranking = judge([p.result for p in SETTINGS], BenchFile(BODY, lenses), trials=200)
    names = [s.worth.setting.lens for s in ranking.standings]
    assert names[0] == FAST_STOPPED.name
    assert set(names[1:3]) == {WIDE_14.name, ZOOM_18.name}
    by_name = {s.worth.setting.lens: s.worth.score.value for s in ranking.standings}
    assert all(by_name[zoom.name] <= 33 for zoom in SLOW_ZOOMS)
    for planted in SETTINGS:
        found = next(w for w in ranking.worths if w.setting == planted.setting)
        assert found.exposure_s == pytest.approx(planted.exposure_s)
