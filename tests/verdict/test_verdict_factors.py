"""The score's table of factors: a third one costs one entry and is seen everywhere."""

import csv
import io
import math

import pytest

from nightglass.show.ranking.factor_cells import factor_cells
from nightglass.show.ranking.tables import ranking_rows, to_csv
from nightglass.verdict import factors
from nightglass.verdict.factors import FACTORS, Factor
from nightglass.verdict.judge import judge


@pytest.fixture
def results(build):
    """Plover comes first by stars and glow, Wren last."""
    return [
        build.setting(lens, f_number, (size, 1.02 * size, 0.98 * size), focal_mm=focal_mm)
        for lens, focal_mm, f_number, size in (
            (build.wren, 12.0, 2.0, 5.0),
            (build.heron, 20.0, 2.5, 4.6),
            (build.plover, 24.0, 2.2, 4.2),
        )
    ]


def test_a_third_factor_is_one_entry(results, bench, monkeypatch):
    before = judge(results, bench)
    # How wide the lens is, with the weight 3, known to 10 %.
    third = Factor(
        "wide", lambda worth: 100 / worth.setting.focal_mm, lambda a, b: 3.0,
        log_err=lambda worth: 0.1,
    )  # fmt: skip
    monkeypatch.setattr(factors, "FACTORS", (*FACTORS, third))
    after = judge(results, bench)

    # Score: the old product times (focal length of the reference / its own)^3.
    reference = after.standings[0].worth
    by_lens = {s.worth.setting.lens: s.worth for s in before.standings}
    for standing in after.standings:
        worth, old = standing.worth, by_lens[standing.worth.setting.lens]
        wide = reference.setting.focal_mm / worth.setting.focal_mm
        ratio = old.score.value / by_lens[reference.setting.lens].score.value
        assert worth.score.value == pytest.approx(100 * ratio * wide**3)
    # Ranking, and its intervals: 3 x 10 % of either setting.
    assert [s.worth.setting.lens[:6] for s in after.standings] != [
        s.worth.setting.lens[:6] for s in before.standings
    ]
    last = after.standings[-1].worth.score
    half = math.log(last.high / last.value)
    assert half > 1.9 * math.sqrt(2) * 0.3
    # Order frequency, assumptions, tables.
    assert after.order_holds != before.order_holds
    score = next(row for row in after.assumptions if row.name == "score")
    assert "(stars)^0.5 x (glow)^0.5 x (wide)^3" in score.value
    row = next(csv.DictReader(io.StringIO(to_csv(ranking_rows(after)))))
    assert float(row["wide"]) == pytest.approx(100 / reference.setting.focal_mm)
    assert factor_cells(reference)["wide"] == f"{100 / reference.setting.focal_mm:.3g}"


def test_names_of_factors_are_fields_of_the_record(results, bench):
    worth = judge(results, bench).worths[0]
    assert [factor.value(worth) for factor in FACTORS] == [worth.stars, worth.glow]
