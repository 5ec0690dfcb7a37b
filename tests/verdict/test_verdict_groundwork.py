"""A ranking asked again with other weights, another limit or reference: as if asked anew."""

from dataclasses import replace

import pytest

from nightglass.gear.benchfile import LimitChoice, ScoreChoice
from nightglass.verdict import groundwork
from nightglass.verdict.groundwork import Groundwork
from nightglass.verdict.judge import judge, judge_on
from nightglass.verdict.question import Question


@pytest.fixture
def results(build):
    return (
        build.setting(build.wren, 2.0, (5.0, 5.1, 4.9)),
        build.setting(build.wren, 2.8, (4.0, 4.1, 3.9)),
        build.setting(build.heron, 1.8, (9.0, 9.3, 8.8)),
        build.setting(build.plover, 2.2, (6.0, 6.2, 6.1)),
    )


def asked(results):
    """Weights, limits and references, one after another on the same groundwork."""
    heron = results[2].setting
    yield ScoreChoice(), None
    yield ScoreChoice(0.9, 0.1), None
    yield ScoreChoice(0.1, 0.9), LimitChoice(0.25)
    yield ScoreChoice(0.5, 0.5, heron), LimitChoice(0.25, "with trail", "mean")
    yield ScoreChoice(), None


@pytest.mark.parametrize("question", list(Question))
def test_what_was_worked_out_before_changes_nothing(results, bench, question):
    ground = Groundwork(results, bench)
    for score, limit in asked(results):
        anew = judge(results, replace(bench, score=score, limit=limit), question, trials=50)
        assert judge_on(ground, score, limit, question, trials=50) == anew


def test_weights_and_limit_of_the_groundwork_own_bench_do_not_matter(results, bench):
    strict = replace(bench, score=ScoreChoice(0.9, 0.1), limit=LimitChoice(0.01))
    found = judge_on(Groundwork(results, strict), ScoreChoice(), None, trials=50)
    assert found == judge(results, replace(bench, score=ScoreChoice(), limit=None), trials=50)


def test_spots_are_drawn_and_stars_counted_once(results, bench, monkeypatch):
    ground = Groundwork(results, bench)
    first = judge_on(ground, ScoreChoice(), None, trials=50)

    def again(*_):
        raise AssertionError("worked out again")

    for name in ("candidate_of", "with_patch_of_sky", "judged", "pool_repeats", "copies_of"):
        monkeypatch.setattr(groundwork, name, again)
    weighed = judge_on(ground, ScoreChoice(0.6, 0.4), LimitChoice(0.4), trials=50)
    assert [w.factors for w in weighed.worths] == [w.factors for w in first.worths]
    assert [w.score for w in weighed.worths] != [w.score for w in first.worths]


def test_weights_that_do_not_add_up_are_refused(results, bench):
    with pytest.raises(ValueError, match="are from 0 to 1 and add up to 1"):
        judge_on(Groundwork(results, bench), ScoreChoice(0.9, 0.9), None)


def test_nothing_to_judge_has_no_settings(bench):
    ground = Groundwork((), bench)
    with pytest.raises(ValueError, match=r"^nothing was measured that can be judged"):
        ground.settled({"stars": 1.0, "glow": 1.0}, None)
