"""The page's patch of sky: the fields of the same minutes reach the command's own functions."""

import pytest
from cli_results import BODY, HERON, RESULTS, WREN, make_bench, setting

import nightglass.page.questions.against as against
from nightglass.gear.bag import read_bench_file
from nightglass.page.asks import Typed

PAIR = {"one": "Wren 12 mm f/2 at f/2", "other": "Heron 20 mm f/1.8 at f/1.8"}
FORM = {"place": "centre", "one_as": "stack", "other_as": "panorama"}


@pytest.fixture
def bench(tmp_path, monkeypatch):
    # The files are tested with the command.
    monkeypatch.setattr(against, "write_all", lambda *_: [])
    results = (RESULTS[0], setting("Heron 20 mm f/1.8", 20, 1.8, 5.0))
    return read_bench_file(make_bench(tmp_path, monkeypatch, BODY + WREN + HERON, results))


def look(bench, **more):
    ask = against.COMPARE.ask("look")
    return ask.run(bench, Typed({**PAIR, **FORM, **more}), lambda *_: None).parts


def test_the_same_minutes_are_asked_for_and_answered(bench):
    names = [field.name for field in against.COMPARE.ask("look").fields(bench, lambda: [])]
    assert names[-4:] == ["frames", "minutes", "one_as", "other_as"]
    assert look(bench, minutes="10", frames="")[0] == (
        "In 10 minutes: Wren 12 mm f/2 at f/2 as a stack of 17 frames of 30 s; Heron 20 mm f/1.8 "
        "at f/1.8 as a panorama of 7 panels of 4 frames of 15 s."
    )
    # Without minutes the choice of what to make of them says nothing.
    assert "is ahead of" in look(bench, minutes="", frames="")[0]


def test_frames_and_minutes_together_are_one_too_many(bench):
    with pytest.raises(ValueError, match="both say how many frames; leave one out"):
        look(bench, minutes="10", frames="1,4")
