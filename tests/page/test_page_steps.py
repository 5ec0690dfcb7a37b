"""What the steps show is what the commands say."""

import pytest

from nightglass.gear.bag import read_bench_file
from nightglass.show.ranking.sentences import opening
from nightglass.verdict.on_record import ranking_on_record
from nightglass.verdict.purpose import with_choices

NEW = {
    "name": "Our bench", "body": "Loan body", "sensor_width_mm": "23,5", "width_px": "3872",
    "height_px": "2592", "mosaic": "bayer", "lens_0": "Wren", "focal_0": "12", "f_0": "f/2",
    "lens_1": "Dipper", "focal_1": "11-18 mm", "f_1": "3.2",
}  # fmt: skip


def test_a_new_bench_is_made_by_asking(browser, tmp_path):
    folder = tmp_path / "made here"
    answer = browser.form("/new", folder=str(folder), **NEW)
    assert answer.status_code == 303
    bench = read_bench_file(folder)
    assert bench.body.pitch_um == pytest.approx(23500 / 3872, abs=1e-4)
    assert [lens.focal_mm_max for lens in bench.lenses] == [12, 18]
    assert (folder / "HOW-TO-SHOOT.txt").is_file()
    page = browser.get(answer.headers["location"])
    assert "Our bench" in page.text
    assert "made here" in browser.get("/").text


@pytest.mark.parametrize(
    ("field", "typed", "words"),
    [
        ("folder", "here", "give its whole path"),
        ("sensor_width_mm", "wide", "the sensor&#39;s width in mm is &#34;wide&#34;"),
        ("sensor_width_mm", "900", "sensors are 3 to 120 mm wide"),
        ("focal_0", "-", "Wren: its focal length is &#34;-&#34;; give a number above 0"),
        ("lens_0", "", "is not"),
    ],
)
def test_what_can_not_be_is_told_and_what_was_typed_stays(browser, tmp_path, field, typed, words):
    fields = {**NEW, "folder": str(tmp_path / "b"), field: typed}
    answer = browser.form("/new", **fields)
    if field == "lens_0":
        assert answer.status_code == 303
        return
    assert answer.status_code == 422
    assert words in answer.text
    assert 'value="Our bench"' in answer.text
    assert not (tmp_path / "b").exists()


def test_a_bench_is_opened_by_its_folder_and_forgotten(browser, bench, tmp_path):
    answer = browser.form("/open", folder=str(bench))
    assert answer.status_code == 303
    key = answer.headers["location"].split("/")[-1]
    assert browser.form("/open", folder=str(tmp_path)).status_code == 422
    browser.form("/forget", key=key)
    assert browser.get(f"/bench/{key}").status_code == 404
    assert (bench / "bench.toml").is_file()


def test_the_ranking_says_what_the_command_says(browser, measured, bench):
    for purpose in ("phone", "print 60 cm wide seen from 1 m"):
        asked = with_choices(read_bench_file(bench), purpose)
        said, _ = ranking_on_record(asked)
        part = browser.get(f"{measured}/ranking?purpose={purpose}", **{"hx-request": "true"})
        assert part.status_code == 200
        assert "<html" not in part.text
        first = next(iter(opening(said))).replace("'", "&#39;")
        assert first in part.text
        assert f"{said.standings[0].worth.score.value:.0f}</span>" in part.text


def test_a_choice_that_can_not_be_is_told_in_its_place(browser, measured):
    part = browser.get(f"{measured}/ranking?limit=x", **{"hx-request": "true"})
    assert part.status_code == 422
    assert "the limit of blur is &#34;x&#34;" in part.text


def test_a_number_leads_to_its_frames(browser, measured):
    page = browser.get(f"{measured}/lenses").text
    assert f'href="{measured}/lenses/0/12/2.8"' in page
    setting = browser.get(f"{measured}/lenses/0/12/2.8")
    assert setting.status_code == 200
    assert setting.text.count("Leave it out<span") == 6
    spot = browser.get(f"{measured}/lenses/0/12/2.8/0.png")
    assert spot.content[:4] == b"\x89PNG"
    assert browser.get(f"{measured}/lenses/0/12/2.8/9.png").status_code == 404
    assert browser.get(f"{measured}/lenses/9/12/2.8").status_code == 422


def test_cards_are_made_and_taken_away(browser, measured, bench):
    browser.form(f"{measured}/card")
    browser.wait(bench, "cards")
    page = browser.get(f"{measured}/card").text
    assert "cards/Wren.png" in page
    taken = browser.get(f"{measured}/out/cards/Wren.png?take=true")
    assert taken.headers["content-disposition"].startswith("attachment")
    assert taken.content[:4] == b"\x89PNG"


def test_an_empty_bench_says_what_to_do(browser, base):
    assert "No frames yet" in browser.get(f"{base}/frames").text
    assert "Nothing can be ranked yet" in browser.get(f"{base}/ranking").text
    browser.form(f"{base}/card")
    assert "Not tested" in browser.get(f"{base}/lenses").text
