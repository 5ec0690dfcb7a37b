"""nightglass compare: two settings side by side."""

import json

import pytest
from cli_results import make_bench

from nightglass.cli.main import run


@pytest.fixture
def bench(tmp_path, monkeypatch):
    return make_bench(tmp_path, monkeypatch)


def test_the_answer_comes_first_then_the_table(bench, capsys):
    assert run(["compare", str(bench), "wren at f/2", "wren at f/2.8"]) == 0
    shown = capsys.readouterr().out
    first, second, *_ = shown.splitlines()
    assert first.startswith("Wren 12 mm f/2 at f/2 is ahead of Wren 12 mm f/2 at f/2.8 by ")
    assert "stacked frames of Wren 12 mm f/2 at f/2.8 equal one of Wren 12 mm f/2 at f/2." in shown
    for words in ("A over B", "light", "+1.0 stops", "blur, centre", "stars seen", "score"):
        assert words in shown
    assert "different pictures" not in shown
    assert (bench / "out" / "pair.png").read_bytes().startswith(b"\x89PNG")
    assert second


def test_a_lens_alone_stands_for_its_best_setting(bench, capsys):
    assert run(["compare", str(bench), "heron", "wren", "--json", "--no-charts"]) == 0
    found = json.loads(capsys.readouterr().out)
    assert (found["one"]["f_number"], found["other"]["f_number"]) == (1.8, 2.0)
    assert found["different_picture"] is True
    assert run(["rank", str(bench), "--json", "--no-charts"]) == 0
    ranked = {s["lens"]: s for s in json.loads(capsys.readouterr().out)["standings"]}
    assert found["one"]["score"] == pytest.approx(ranked["Heron 20 mm f/1.8"]["score"])
    assert not (bench / "out" / "pair.png").exists()


def test_what_can_t_be_compared_says_why(bench, capsys):
    assert run(["compare", str(bench), "wren at f/8", "heron"]) == 2
    assert 'wren at f/8" was not measured; of Wren 12 mm f/2 there is' in capsys.readouterr().err
    assert run(["compare", str(bench), "heron", "heron"]) == 2
    assert "both are the same setting" in capsys.readouterr().err
