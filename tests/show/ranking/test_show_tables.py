"""The verdict as rows, CSV and JSON: no NaN, units in names, safe in a spreadsheet."""

import csv
import io
import json
from dataclasses import replace

import numpy as np
import pytest

from nightglass.light.iso import IsoReason, WorkingIso
from nightglass.show.ranking.tables import (
    finite,
    ranking_rows,
    setting_rows,
    to_csv,
    to_json,
)


def broken(ranking):
    """A ranking in which much is not known."""
    first = ranking.standings[0]
    worth = replace(
        first.worth,
        iso=WorkingIso(None, IsoReason.NOT_KNOWN),
        factors={**first.worth.factors, "glow": float("nan")},
        score=replace(first.worth.score, low=None, high=None),
        lens_tightness_percent_err=None,
        tightness_interval=None,
    )
    return replace(
        ranking,
        standings=(replace(first, worth=worth, gain_over_next_percent=None),),
        worths=(worth,),
    )


def test_rows_hold_the_records_values(bag):
    rows = ranking_rows(bag.ranking)
    assert [row["place"] for row in rows] == [1, 2, 3, 4, 5]
    for row, standing in zip(rows, bag.ranking.standings, strict=True):
        worth = standing.worth
        assert row["lens"] == worth.setting.lens
        assert row["f_number"] == worth.setting.f_number
        assert row["remote_s"] == worth.times.centre.remote_s
        assert row["other_limit_s"] == worth.times.corners.limit_s
        assert row["dial_true_s"] == worth.times.centre.dial_true_s
        assert row["score"] == worth.score.value
        assert row["lens_tightness_percent"] == worth.lens_tightness_percent
    assert len(setting_rows(bag.ranking)) == len(bag.ranking.worths)
    unbeaten = [row for row in setting_rows(bag.ranking) if row["unbeaten"]]
    assert len(unbeaten) == len(bag.ranking.unbeaten)


def test_numbers_carry_their_unit_in_the_name(bag):
    units = ("_s", "_mm", "_percent", "_percent_err", "_stops")
    # Counts and ratios that the glossary names without a unit.
    bare = {"place", "f_number", "iso", "iso_next", "stars", "glow", "stars_on_sky", "glow_on_sky"}
    bare |= {"score", "score_low", "score_high", "other_score", "peak_kept", "crowded_share"}
    units += ("_mm2_s", "_widths")
    for name, value in ranking_rows(bag.ranking)[0].items():
        if isinstance(value, int | float) and not isinstance(value, bool):
            assert name in bare or name.endswith(units), name


def test_what_is_not_known_is_null_with_a_reason(bag):
    [row] = ranking_rows(broken(bag.ranking))
    for name in ("iso", "score_low", "lens_tightness_percent_err", "glow"):
        assert row[name] is None
    for reason in ("no gain", "no interval of the score", "no error of tightness", "no ISO"):
        assert reason in row["reason"]


def test_json_is_strict_and_complete(bag):
    def no_constants(name):
        raise AssertionError(f"{name} is not JSON")

    document = json.loads(to_json(broken(bag.ranking)), parse_constant=no_constants)
    assert document["standings"][0]["glow"] is None
    assert document["limit"] == {"percent": 0.25, "on": "lens", "at": "worst"}
    assert document["question"] == "picture"
    assert document["assumptions"][0] == {
        "code": "sky_brightness", "source": "default", "values": {"value": 21.6},
        "could_change_order": True,
    }  # fmt: skip
    assert document["not_ranked"][0]["reason"] == {"code": "not_tested", "values": {}}
    assert document["order_frequency"]["trials"] == 2000


def test_csv_reads_back(bag):
    text = to_csv(ranking_rows(bag.ranking))
    assert text.count("\r\n") == len(bag.ranking.standings) + 1
    rows = list(csv.DictReader(io.StringIO(text)))
    first = bag.ranking.standings[0].worth
    assert float(rows[0]["lens_tightness_percent"]) == first.lens_tightness_percent
    assert rows[0]["eligible"] == "yes"
    assert rows[-1]["gain_over_next_percent"] == ""
    assert "nan" not in text.lower().replace("covenant", "")


@pytest.mark.parametrize("start", ["=", "+", "-", "@", "\t", "\r"])
def test_a_lens_name_can_not_become_a_formula(bag, start):
    first = bag.ranking.standings[0]
    name = f'{start}HYPERLINK("x"), 24 mm'
    setting = replace(first.worth.setting, lens=name)
    ranking = replace(
        bag.ranking, standings=(replace(first, worth=replace(first.worth, setting=setting)),)
    )
    [row] = csv.DictReader(io.StringIO(to_csv(ranking_rows(ranking)), newline=""))
    assert row["lens"] == "'" + name
    assert json.loads(to_json(ranking))["standings"][0]["lens"] == name


def test_finite_makes_plain_values():
    value = {"a": np.float32("nan"), "b": [np.int64(3), float("inf")], "c": (np.float64(0.5), "x")}
    assert finite(value) == {"a": None, "b": [3, None], "c": [0.5, "x"]}
    assert type(finite(np.float32(1.5))) is float


def test_no_rows_no_table():
    with pytest.raises(ValueError, match="no rows to write; rank at least one setting first"):
        to_csv([])
