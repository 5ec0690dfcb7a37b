"""The page on a bench of two bodies: a choice of body, and answers of the one asked for."""

import re
import shutil

import pytest
from two_body_bench import write_two_body_bench


@pytest.fixture(scope="module")
def measured(tmp_path_factory):
    from bench_fakes import MEASURER, OPENER

    from nightglass.bench.measuring.measure import measure_folder

    folder = write_two_body_bench(tmp_path_factory.mktemp("two") / "bench")
    measure_folder(folder, workers=1, measurer=MEASURER, opener=OPENER)
    return folder


@pytest.fixture
def base(browser, measured, tmp_path):
    folder = shutil.copytree(measured, tmp_path / "two")
    return f"/bench/{browser.session.benches.remember(folder)}"


def lenses_of(page: str) -> set[str]:
    """The lenses in the standings."""
    return set(re.findall(r'class="who"><b>(?:<a [^>]*>)?(\w+)<', page))


def test_the_ranking_has_a_choice_of_body_and_says_which_it_is_of(browser, base):
    main = browser.get(f"{base}/ranking").text
    assert '<select name="body">' in main
    assert ", on Loan body<" in main
    assert lenses_of(main) == {"Wren", "Dipper"}
    assert "Heron: measured on Large body only" in main
    other = browser.get(f"{base}/ranking?body=Large+body").text
    assert "<option selected>Large body</option>" in other
    assert ", on Large body<" in other
    assert lenses_of(other) == {"Wren", "Heron"}
    # The pages of settings are of the body of [body].
    assert "/lenses/0/12/2.8" in main
    assert "/lenses/0/12/2.8" not in other
    assert "body=Large+body" in other
    # Letters are drawn as outlines: the two pictures must differ.
    charts = [browser.get(f"{base}/ranking/ranking.svg{q}") for q in ("", "?body=Large+body")]
    assert [chart.status_code for chart in charts] == [200, 200]
    assert charts[0].text != charts[1].text


def test_a_choice_of_a_body_that_is_gone_is_forgotten(browser, base, tmp_path):
    browser.get(f"{base}/ranking?body=Large+body")
    assert ", on Large body<" in browser.get(f"{base}/ranking").text
    file = tmp_path / "two/bench.toml"
    file.write_text(file.read_text("utf-8").replace("Large body", "Borrowed 2"), encoding="utf-8")
    assert ", on Loan body<" in browser.get(f"{base}/ranking").text


def test_a_bench_of_one_body_has_no_such_choice(browser, bench):
    alone = f"/bench/{browser.session.benches.remember(bench)}"
    assert 'name="body"' not in browser.get(f"{alone}/ranking").text


def test_an_unknown_body_is_told(browser, base):
    found = browser.get(f"{base}/ranking?body=Curlew")
    assert found.status_code >= 400
    assert "choose one of: Loan body, Large body, Borrowed body" in found.text


def test_frames_of_both_bodies_are_listed_as_used(browser, base):
    shown = browser.get(f"{base}/frames?show=unused").text
    assert "Wren-a0.dng" not in shown


def test_one_lens_on_two_cameras_is_a_question_of_the_checks(browser, base, tmp_path):
    assert "One lens on two cameras" in browser.get(f"{base}/checks").text
    browser.form(f"{base}/checks/bodies")
    browser.wait(tmp_path / "two", "bodies")
    told = browser.get(f"{base}/checks").text
    assert "is 36.0 um on Loan body and 36.5 um on Large body" in told
