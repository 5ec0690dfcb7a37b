"""The steps made of questions, and the plan: the same answers as the commands give."""

import re

import pytest

from nightglass.gear.bag import read_bench_file
from nightglass.page.blocks import blocks_of
from nightglass.page.steps.asked import ASKED
from nightglass.plan.night.wished import wished_nights
from nightglass.plan.wishes import NightsWish
from nightglass.show.columns import Facts, Heading, Table
from nightglass.show.plan.night.text import night_lines

SITE = {"place": "46.2 N 8.3 E", "zone": "Europe/Zurich", "name": "High meadow"}


def answered(browser, base, bench, step, ask, **typed):
    assert browser.form(f"{base}/{step}/{ask}", **typed).status_code == 303
    browser.wait(bench, ask)
    return browser.get(f"{base}/{step}/{ask}/answer").text


@pytest.mark.parametrize("step", ASKED)
def test_every_step_shows_its_questions(browser, measured, step):
    page = browser.get(f"{measured}/{step}")
    assert page.status_code == 200
    for ask in ASKED[step].asks:
        assert f'id="{ask.key}"' in page.text
    assert not re.search(r"nightglass [a-z]+ &#34;|\s--[a-z]", page.text)


def test_the_place_is_kept_for_all_and_the_night_is_the_commands(browser, measured, bench):
    state = browser.state(f"{measured}/night")
    assert browser.form(f"{measured}/site", state=state, **SITE).status_code == 303
    site = read_bench_file(bench).site
    assert (site.place, site.zone, site.name) == tuple(SITE.values())
    text = answered(browser, measured, bench, "night", "night", date="2027-05-06")
    said = night_lines(wished_nights(NightsWish("2027-05-06"), bench)[0])
    assert said[0].replace("'", "&#39;") in text
    dark = next(line for line in said if "Dark and moon down" in line)
    assert f"<dt>Dark and moon down</dt><dd>{dark.split('down')[1].strip()}</dd>" in text


@pytest.mark.parametrize(
    ("ask", "typed", "words"),
    [
        ("stack", {"lens": "Wren", "f": "2", "frames": "9", "aim": "180 40"}, "9 frames of"),
        ("tonight", {"lens": "Wren", "f": "2", "aim": "180 40", "date": "2027-05-06"}, "Wren"),
        ("night", {"at": "nowhere"}, "nowhere"),
        ("stack", {"lens": "Wren", "f": "two"}, "f is &#34;two&#34;; give a number such as 2.8"),
    ],
)
def test_questions_of_the_night_are_answered(browser, measured, bench, ask, typed, words):
    state = browser.state(f"{measured}/night")
    browser.form(f"{measured}/site", state=state, **SITE)
    assert words in answered(browser, measured, bench, "night", ask, **typed)


def test_a_place_that_is_none_is_not_kept(browser, measured, bench):
    before = (bench / "bench.toml").read_bytes()
    state = browser.state(f"{measured}/night")
    answer = browser.form(f"{measured}/site", state=state, place="over there", zone="", name="")
    assert answer.status_code == 422
    assert (bench / "bench.toml").read_bytes() == before


def test_missing_frames_are_told_with_what_to_do(browser, measured, bench):
    text = answered(browser, measured, bench, "sky", "proof")
    assert "copy raw frames of the night sky there" in text
    text = answered(browser, measured, bench, "finish", "finish")
    assert "drop at least two pictures" in text


def test_files_of_a_step_land_in_its_folder(browser, base, bench):
    headers = {"origin": "http://127.0.0.1:8765", "x-form-key": browser.session.form_key}
    answer = browser.client.post(
        f"{base}/sky/file", params={"name": "s.dng"}, content=b"x", headers=headers
    )
    assert answer.json() == {"path": "s.dng", "state": "new"}
    assert (bench / "sky" / "s.dng").is_file()
    assert browser.client.post(
        f"{base}/night/file", params={"name": "s.dng"}, content=b"x", headers=headers
    ).status_code == 404  # fmt: skip


def test_faults_are_told_from_what_is_on_record(browser, measured, bench):
    assert "Wren" in answered(browser, measured, bench, "checks", "faults")


def test_a_plan_is_made_and_remembers_ticks(browser, measured, bench):
    assert browser.form(f"{measured}/plan", hours="2").status_code == 303
    assert (bench / "out" / "bench_plan.pdf").is_file()
    page = browser.get(f"{measured}/plan").text
    done = int(re.search(r'class="large">(\d+)</span> of', page)[1])
    box = re.search(r'hx-vals=\'\{"box": "([^"]+)"\}\'', page)[1]
    browser.form(f"{measured}/plan/tick", box=box, on="on")
    assert f'large">{done + 1}</span> of' in browser.get(f"{measured}/plan").text
    browser.form(f"{measured}/plan/tick", box=box)
    assert f'large">{done}</span> of' in browser.get(f"{measured}/plan").text
    assert browser.form(f"{measured}/plan/tick", box="old-1", on="on").status_code == 422


def test_everything_is_taken_away_in_one_file(browser, measured, bench):
    browser.form(f"{measured}/plan", hours="2")
    answer = browser.get(f"{measured}/report.zip")
    assert answer.content[:2] == b"PK"
    assert "bench_plan.pdf" in browser.get(f"{measured}/report").text


def test_answers_become_blocks_without_commands():
    table = Table(("setting", "blur"), (("12 mm", "0.2 %"),), ("blur",))
    blocks = blocks_of(
        ["Ahead. Ask with --view sky.", "", "It needs:", "  - a  frame", "  - light", table,
         Heading("Wren"), Facts((("dark", "2 h"),)), "  - end of it"]
    )  # fmt: skip
    assert [(b.kind, b.lines) for b in blocks] == [
        ("words", ("Ahead.",)),
        ("words", ("It needs:",)),
        ("list", ("a frame", "light")),
        ("table", ()),
        ("heading", ("Wren",)),
        ("facts", ()),
        ("words", ("end of it",)),
    ]
    assert (blocks[3].titles, blocks[3].rows) == (table.titles, table.rows)
    assert blocks[5].rows == (("dark", "2 h"),)
