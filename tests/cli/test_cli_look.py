"""nightglass look: one patch of sky by two settings."""

import io
import json

import pypdf
import pytest
from cli_results import BODY, HERON, RESULTS, WREN, make_bench, setting

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
    assert "So made, Wren 12 mm f/2 at f/2 is ahead of Heron 20 mm f/1.8 at f/1.8 by" in shown
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


SHARP = (RESULTS[0], setting("Heron 20 mm f/1.8", 20, 1.8, 5.0))


def test_the_same_minutes_as_stack_and_panorama(tmp_path, monkeypatch, capsys):
    bench = make_bench(tmp_path, monkeypatch, BODY + WREN + HERON + PLACES, SHARP)
    given = ("--minutes", "10", "--as", "stack,panorama")
    assert run(["look", str(bench), "wren", "heron", *given]) == 0
    assert capsys.readouterr().out.splitlines()[0] == (
        "In 10 minutes: Wren 12 mm f/2 at f/2 as a stack of 17 frames of 30 s; Heron 20 mm f/1.8 "
        "at f/1.8 as a panorama of 7 panels of 4 frames of 15 s."
    )
    pdf = (bench / "out" / "look" / "blind.pdf").read_bytes()
    pages = pypdf.PdfReader(io.BytesIO(pdf)).pages
    assert "as a panorama of 7 panels" in " ".join(pages[0].extract_text().split())
    # The panels are those of the planner's own command.
    planned = ("--lens", "heron", "--like", "12", "--exposure", "15", "--json")
    assert run(["panorama", str(bench), *planned]) == 0
    assert len(json.loads(capsys.readouterr().out)["frames"]) == 7
    short = ("--minutes", "1", "--as", "stack,panorama")
    assert run(["look", str(bench), "wren", "heron", *short]) == 2
    assert (
        "--minutes 1 is too short for a panorama of 7 panels by Heron 20 mm f/1.8 at f/1.8; give "
        "--minutes"
    ) in capsys.readouterr().err


@pytest.mark.parametrize(
    ("more", "words"),
    [
        (("--place", "edge"), '--place "edge" is not in bench.toml; choose one of: centre, far'),
        (("--frames", "0,1"), '--frames "0,1" are not two counts of 1 or more; write 1,4 or 4'),
        (("--frames", "many"), '--frames "many" are not two counts of 1 or more'),
        (
            ("--minutes", "0"),
            "--minutes 0 is no time to make a picture in; give above 0 and at most",
        ),
        (("--minutes", "3", "--frames", "2"), '--frames "2" and --minutes 3 both say how many fra'),
        (("--as", "stack"), '--as "stack" needs the minutes that both get; add --minutes 10'),
        (("--minutes", "3", "--as", "film"), '--as "film" is not one word for each setting; the '),
        (("--minutes", "3", "--as", "single,stack,stack"), "single, stack, panorama: write stack,"),
        (("--toward", "somewhere"), '"somewhere" is no direction in the sky; write degrees'),
    ],
)
def test_what_can_t_be_drawn_says_what_is_allowed(bench, capsys, more, words):
    assert run(["look", str(bench), "heron", "wren", *more]) == 2
    assert words in capsys.readouterr().err
