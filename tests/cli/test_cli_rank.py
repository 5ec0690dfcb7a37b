"""nightglass rank: what a person sees, and the files that are left behind."""

from __future__ import annotations

import csv
import io
import json

import pytest
from cli_results import BODY, HERON, WREN, make_bench, seem_measured

from nightglass.cli.main import run

PLOVER = """
[[lens]]
name = "Plover [24] mm f/2.2"
focal_mm = 24
f_number = 2.2
"""


@pytest.fixture
def bench(tmp_path, monkeypatch):
    return make_bench(tmp_path / "my bench é", monkeypatch, BODY + WREN + HERON + PLOVER)


def test_table_and_everything_below_it(bench, capsys):
    assert run(["rank", str(bench), "--no-charts"]) == 0
    shown = capsys.readouterr().out
    for words in (
        "Wren 12 mm f/2 at f/2 first: about a stop ahead of Heron 20 mm f/1.8",
        "For one patch of sky (a panorama, a crop, a stack)",
        "Best setting of each lens for a whole picture, looked at on a screen",
        "No other setting beats these in both light (score) and tightness (blur):",
        "Of 2000 trials Wren 12 mm f/2 comes first in",
        "Plover [24] mm f/2.2: not tested: no frame gave a measurement",
        "assumptions with their sources: --assumed",
        f'Next: make the field card with  nightglass card "{bench}"',
    ):
        assert words in shown


def test_all_assumptions_are_printed_when_asked(bench, capsys):
    run(["rank", str(bench), "--no-charts", "--assumed"])
    shown = capsys.readouterr().out
    assert "brightness of the sky beside the Milky Way: 21.6" in shown
    assert "--assumed" not in shown


def test_a_score_is_never_shown_without_blur(bench, capsys):
    run(["rank", str(bench), "--no-charts"])
    shown = capsys.readouterr().out
    for line in shown.splitlines():
        if ": score " in line and line.startswith("  "):
            assert "blur" in line
    head = next(line for line in shown.splitlines() if line.startswith("place"))
    assert "blur, % of" in head
    assert "score" in head


def test_files_hold_the_same_verdict(bench, capsys):
    run(["rank", str(bench), "--no-charts", "--limit", "0.25"])
    rows = list(csv.DictReader(io.StringIO((bench / "out/ranking.csv").read_text("utf-8"))))
    assert [row["lens"] for row in rows] == ["Wren 12 mm f/2", "Heron 20 mm f/1.8"]
    assert rows[1]["over_limit"] == "yes"
    document = json.loads((bench / "out/ranking.json").read_text("utf-8"))
    assert document["limit"] == {"percent": 0.25, "on": "lens", "at": "worst"}
    assert len(document["settings"]) == 3
    assert document["assumptions"]


def test_json_is_one_document_and_nothing_else(bench, capsys):
    assert run(["rank", str(bench), "--json", "--no-charts"]) == 0
    document = json.loads(capsys.readouterr().out)
    assert document["standings"][0]["lens"] == "Wren 12 mm f/2"
    assert document["standings"][0]["lens_tightness_percent"] > 0


def test_charts_are_drawn_as_svg_and_png(bench, capsys):
    assert run(["rank", str(bench)]) == 0
    for stem in ("ranking", "light_and_tightness"):
        assert (bench / "out" / f"{stem}.svg").read_text("utf-8").lstrip().startswith("<svg")
        assert (bench / "out" / f"{stem}.png").read_bytes().startswith(b"\x89PNG")
    sheet = bench / "out" / "spots_Wren-12-mm-f-2.png"
    assert sheet.read_bytes().startswith(b"\x89PNG")
    written = [line for line in capsys.readouterr().out.splitlines() if "written: " in line]
    # The tables are out before the first picture is drawn.
    assert [line.rpartition("/")[2] for line in written[:2]] == ["ranking.csv", "ranking.json"]
    assert any(line.endswith("ranking.png") for line in written)
    assert written[-1].endswith(".png")


def test_purpose_and_release_can_be_said(bench, capsys):
    assert run(["rank", str(bench), "--for", "phone", "--remote", "--no-charts"]) == 0
    shown = capsys.readouterr().out
    assert "for a whole picture, looked at on a phone" in shown
    assert "32 s" in shown
    assert run(["rank", str(bench), "--for", "phone", "--assumed", "--no-charts"]) == 0
    assert "the eye blurs 0.128 % of height" in capsys.readouterr().out


def test_unknown_purpose_lists_the_allowed_ones(bench, capsys):
    assert run(["rank", str(bench), "--for", "poster"]) == 2
    assert '"poster" is not understood as a purpose; allowed: "phone"' in capsys.readouterr().err


def test_rules_side_by_side(bench, capsys):
    run(["rank", str(bench), "--rules", "--no-charts"])
    shown = capsys.readouterr().out
    for rule in ("500 rule in 35 mm terms", "300 rule", "NPF, simplified", "NPF, full, k = 1"):
        assert rule in shown


def test_nothing_measured_yet_says_what_to_do(bench, capsys, monkeypatch):
    seem_measured(monkeypatch, ())
    assert run(["rank", str(bench)]) == 1
    shown = capsys.readouterr().out
    assert "Nothing can be ranked yet." in shown
    assert f'nightglass measure "{bench}"' in shown


def test_a_folder_without_bench_toml_is_named(tmp_path, capsys):
    assert run(["rank", str(tmp_path)]) == 2
    assert "no bench.toml here" in capsys.readouterr().err


def test_out_that_is_a_file_is_told_in_one_line_after_the_ranking(bench, capsys):
    (bench / "out").write_text("in the way")
    assert run(["rank", str(bench), "--no-charts"]) == 1
    shown = capsys.readouterr()
    assert "Wren 12 mm f/2" in shown.out
    assert "can't be written" in shown.err
    assert "free the disk or allow writing there" in shown.err
