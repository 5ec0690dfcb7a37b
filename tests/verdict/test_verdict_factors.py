"""A third factor of the score costs one entry: everything about the score walks the table."""

import math
from dataclasses import replace

import pytest

from nightglass.gear.benchfile import ScoreChoice
from nightglass.show.ranking.assumption_words import assumption_row
from nightglass.show.ranking.tables import ranking_rows, to_csv, to_json
from nightglass.show.ranking.text import table_row
from nightglass.verdict.factors import FACTORS, Factor, FactorValue, each, weights_of
from nightglass.verdict.judge import judge
from nightglass.verdict.question import Question

# Worth as many units as millimetres of focal length; 10 % unsure beside the repeats.
REACH = Factor(
    "reach", lambda choice: 1.0, each(lambda case: FactorValue(case.setting.focal_mm, (), 0.1)),
    (1.0, 1.0),
)  # fmt: skip


def with_third(factor):
    return {**FACTORS, Question.PICTURE: (*FACTORS[Question.PICTURE], factor)}


THREE = with_third(REACH)


@pytest.fixture
def results(build):
    # Equal blur far below every tried limit.
    return [build.setting(lens, 2.8, (1.5, 1.53, 1.47)) for lens in build.bag]


def by_lens(ranking):
    return {worth.setting.lens: worth for worth in ranking.worths}


def test_a_third_factor_enters_the_score_by_its_weight(results, bench):
    named = replace(bench, score=ScoreChoice(reference=results[0].setting))
    two, three = judge(results, named), judge(results, named, factors=THREE)
    for lens, worth in by_lens(three).items():
        assert worth.factors["reach"] == worth.setting.focal_mm
        expected = by_lens(two)[lens].score.value * worth.setting.focal_mm / 12
        assert worth.score.value == pytest.approx(expected, rel=1e-12)


@pytest.mark.parametrize(("power", "order"), [(9, [24, 20, 12]), (-9, [12, 20, 24])])
def test_a_third_factor_orders_lenses(results, bench, power, order):
    steep = replace(REACH, measure=each(lambda case: FactorValue(case.setting.focal_mm**power)))
    ranking = judge(results, bench, factors=with_third(steep))
    assert [s.worth.setting.focal_mm for s in ranking.standings] == order
    assert ranking.order_frequency.whole_order_share == 1.0


def test_its_own_error_widens_the_interval(results, bench):
    named = replace(bench, score=ScoreChoice(reference=results[0].setting))
    two, three = (by_lens(judge(results, named, factors=f)) for f in (FACTORS, THREE))
    lens = results[1].setting.lens
    narrow, wide = (math.log(w[lens].score.high / w[lens].score.low) / 2 for w in (two, three))
    # Two settings of 10 % each differ with an error of 14 %; 1.96 is the least that Student's t
    # can be.
    assert wide > 1.95 * 0.1 * math.sqrt(2)
    assert wide > narrow


def test_its_error_swaps_lenses_in_the_order_frequency(results, bench):
    # 2 % ahead in score, 100 % unsure: about one trial in two has the other lens first.
    ranking = judge(results[:2], bench)
    scores = {s.worth.setting.focal_mm: s.worth.score.value for s in ranking.standings}
    level = {12.0: 1.02 * scores[20.0], 20.0: scores[12.0]}

    def frequency(log_err):
        third = replace(
            REACH,
            measure=each(lambda case: FactorValue(level[case.setting.focal_mm], (), log_err)),
        )
        return judge(results[:2], bench, factors=with_third(third))

    firm, loose = frequency(0.0), frequency(1.0)
    assert [s.place for s in loose.standings] == [1, 1]
    assert firm.standings[0].worth.setting == loose.standings[0].worth.setting


def test_powers_of_zones_move_a_third_factor(results, bench):
    spans = []
    for powers in ((), (-5.0,) * 3):
        third = replace(
            REACH, measure=each(lambda case, p=powers: FactorValue(case.setting.focal_mm, p))
        )
        score = judge(results, bench, factors=with_third(third)).standings[-1].worth.score
        spans.append(score.high / score.low)
    assert spans[1] > spans[0]


def test_assumptions_and_tables_name_it(results, bench):
    ranking = judge(results, bench, factors=THREE)
    rows = {row[0]: row[1] for row in map(assumption_row, ranking.assumptions)}
    assert rows["score"] == "100 x stars x glow x reach over those of the best setting"
    assert ",reach," in to_csv(ranking_rows(ranking))
    assert '"reach": 12' in to_json(ranking)
    assert table_row(ranking.standings[0], ranking.question)["reach"] in ("12", "20", "24")


def test_weights_share_one():
    assert weights_of(ScoreChoice(0.25, 0.75), FACTORS[Question.SKY]) == {
        "stars_on_sky": 0.5, "glow_on_sky": 1.5,
    }  # fmt: skip
    with pytest.raises(ValueError, match=r"a is -1 and b is 2; the weights of stars and glow are"):
        weights_of(ScoreChoice(-1, 2), FACTORS[Question.PICTURE])
