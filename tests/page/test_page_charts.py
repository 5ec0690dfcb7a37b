"""Charts to be drawn in the browser: same numbers as the standings, and where a point leads."""

import json

import pytest

from nightglass.gear.bag import read_bench_file
from nightglass.show.ranking.points import TOLD


def points(spec):
    return [
        row
        for data in spec["data"]
        for row in data.get("values", ())
        if isinstance(row, dict) and "told_setting" in row
    ]


@pytest.mark.parametrize(
    "chart", ["ranking/ranking.json", "ranking/frontier.json", "lenses/0/map.json"]
)
def test_every_point_tells_its_numbers_and_leads_to_its_setting(browser, measured, chart):
    answer = browser.get(f"{measured}/{chart}")
    assert answer.headers["content-type"] == "application/json"
    rows = points(json.loads(answer.text))
    assert rows
    page = browser.get(f"{measured}/ranking").text
    for row in rows:
        assert all(row[str(tip.shorthand).removesuffix(":N")] for tip in TOLD)
        assert "where" not in row
        assert row["address"] == "/lenses/0/12/2.8"
        assert browser.get(measured + row["address"]).status_code == 200
        assert f'huge">{row["told_score"].split(" ")[0]}<' in page


def test_a_chart_of_nothing_is_not_there(browser, measured):
    assert browser.get(f"{measured}/ranking/none.json").status_code == 404
    assert browser.get(f"{measured}/lenses/9/map.json").status_code == 404


def test_a_choice_is_kept_until_bench_toml_is_asked_for(browser, measured, bench):
    browser.get(f"{measured}/ranking?purpose=phone&limit=0.9&stars=70")
    again = browser.get(f"{measured}/ranking").text
    assert "looked at on a phone; your limit of blur: 0.90 % of height" in again
    assert "bench.toml and the card keep theirs until you keep this" in again
    assert 'value="70"' in again
    assert read_bench_file(bench).purpose.words != "phone"
    fresh = browser.get(f"{measured}/ranking?fresh=true").text
    assert "looked at on a phone" not in fresh
    assert "looked at on a phone" not in browser.get(f"{measured}/ranking").text


def test_an_emptied_limit_is_no_limit(browser, measured):
    state = browser.state(f"{measured}/ranking")
    browser.form(f"{measured}/ranking/keep", state=state, purpose="screen", release="dial",
                 limit="0.9", stars="50")  # fmt: skip
    assert "your limit of blur" in browser.get(f"{measured}/ranking").text
    assert "your limit of blur" not in browser.get(f"{measured}/ranking?limit=").text
