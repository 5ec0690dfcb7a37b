"""nightglass look: one patch of sky by two settings."""

import io
import json

import pypdf
import pytest
from cli_results import BODY, HERON, RESULTS, WREN, make_bench

import nightglass.show.patch.sheet
from nightglass.cli.main import run

PLACES = """
[[place]]
name = "centre"

[[place]]
name = "far corner"
x_percent = 95
y_percent = 95
"""


@pytest.fixture
def bench(tmp_path, monkeypatch):
    best = tuple(one for one in RESULTS if one.setting.f_number != 2.8)
    return make_bench(tmp_path, monkeypatch, BODY + WREN + HERON + PLACES, best)


def test_a_look_writes_a_sheet_and_a_blind_sheet(bench, capsys):
    assert run(["look", str(bench), "heron", "wren", "--frames", "1,4"]) == 0
    shown = capsys.readouterr().out
    assert "is ahead of" in shown.splitlines()[0]
    assert "Drawn from 1 and 4 stacked frames" in shown
    assert "stars are the catalogue's, to G 9.5" in shown
    out = bench / "out" / "look"
    assert (out / "look.png").read_bytes().startswith(b"\x89PNG")
    pages = pypdf.PdfReader(io.BytesIO((out / "blind.pdf").read_bytes())).pages
    last = pages[-1].extract_text()
    assert "Answers" in last
    assert last.count("Pair ") == 6
    assert "The bench expects that you find Wren 12 mm f/2" in " ".join(last.split())
    assert "left Wren 12 mm f/2 at f/2" in last
    assert "left Heron 20 mm f/1.8 at f/1.8" in last
    assert "Answers" not in "".join(page.extract_text() for page in pages[:-1])


def test_json_holds_what_was_drawn(bench, capsys, monkeypatch):
    # The files themselves are tested above; here nothing but data may be printed.
    monkeypatch.setattr(nightglass.show.patch.sheet, "write_all", lambda *_: [bench / "look.png"])
    assert run(["look", str(bench), "heron", "wren", "--json", "--toward", "83.8 -5.4"]) == 0
    found = json.loads(capsys.readouterr().out)
    assert (found["ra_degrees"], found["dec_degrees"], found["place"]) == (83.8, -5.4, "centre")
    assert found["stars_of_the_catalogue"] > 100
    assert found["recorded"][0]["sky_e"] > found["recorded"][0]["read_noise_e"]


@pytest.mark.parametrize(
    ("more", "words"),
    [
        (("--place", "edge"), '--place "edge" is not in bench.toml; choose one of: centre, far'),
        (("--frames", "0,1"), '--frames "0,1" are not two counts of 1 or more; write 1,4 or 4'),
        (("--frames", "many"), '--frames "many" are not two counts of 1 or more'),
        (("--toward", "somewhere"), '"somewhere" is no direction in the sky; write degrees'),
    ],
)
def test_what_can_t_be_drawn_says_what_is_allowed(bench, capsys, more, words):
    assert run(["look", str(bench), "heron", "wren", *more]) == 2
    assert words in capsys.readouterr().err
