"""nightglass measure and spot: what they say, what they print for machines, exit codes."""

import dataclasses
import json

import pytest

from nightglass.cli.doors import FAILED
from nightglass.cli.main import run
from nightglass.spot.record import Spot


@pytest.fixture
def bench(tmp_path, fakes):
    (tmp_path / "bench.toml").write_text(fakes.BENCH_TOML, encoding="utf-8")
    return tmp_path


def strict(text):
    """Parse as browsers do: NaN and Infinity are no JSON."""

    def refuse(word):
        raise AssertionError(f"{word} is not JSON")

    return json.loads(text, parse_constant=refuse)


def test_measure_tells_what_was_done_and_the_next_step(bench, fakes, capsys):
    for k in range(3):
        fakes.fake_file(bench / f"frames/a {k}.dng", length=6.0 + 0.1 * k)
    fakes.fake_file(bench / "frames/b.dng", f_number=4.0)
    fakes.fake_file(bench / "frames/c.dng", lens="Heron")
    fakes.fake_file(bench / "frames/d.dng", flags=["lost"])
    assert run(["measure", str(bench), "--workers", "1"]) == 0
    out = capsys.readouterr().out.splitlines()
    assert out[0].startswith("6 files: 5 measured now, 0 unchanged, 1 refused, in ")
    assert "  d.dng: no star stands out; check focus and exposure" in "\n".join(out)
    assert '  c.dng: the lens "Heron" is not in the bag (Wren, Dipper)' in "\n".join(out)
    assert "On record: 2 settings at 2 places, 4 frames" in out
    assert out[-2].startswith("1 of them with one frame only: their error bars come from photons")
    assert out[-1] == f'Next: rank the lenses with  nightglass rank "{bench}"'


def test_measure_lists_frames_of_a_series_apart(bench, fakes, capsys):
    with (bench / "bench.toml").open("a", encoding="utf-8") as file:
        file.write('[[frames]]\nmatch = "focus/*"\nseries = "wren focus"\n')
    for k in range(3):
        fakes.fake_file(bench / f"frames/focus/{k}.dng", length=6.0 + 2 * k)
    assert run(["measure", str(bench), "--workers", "1"]) == 0
    out = capsys.readouterr().out.splitlines()
    assert out[1] == "In series for a study, kept out of the ranking:"
    assert 'series "wren focus"' in out[2]
    assert out[-1].startswith("Next: what the series say, with  nightglass focus ")
    assert out[-2] == "No frame on record counts for the ranking; frames of a series never do."


def test_measure_json_is_for_machines(bench, fakes, capsys):
    fakes.fake_file(bench / "frames/a.dng", length=float("nan"))
    fakes.fake_file(bench / "frames/b.dng")
    assert run(["measure", str(bench), "--json", "--workers", "1"]) == 0
    data = strict(capsys.readouterr().out)
    assert data["measured"] == ["a.dng", "b.dng"]
    (zone,) = data["settings"][0]["zones"]
    assert zone["length_px"]["value"] == 6.0
    assert "stamp" not in zone


def test_measure_fails_when_nothing_can_be_used(bench, fakes, capsys):
    fakes.fake_file(bench / "frames/a.dng", flags=["clipped"])
    assert run(["measure", str(bench), "--workers", "1"]) == FAILED
    out = capsys.readouterr().out.splitlines()
    assert out[1].startswith("every frame is clipped (1): no sizes can be taken")
    assert out[-1].startswith("Next: mend what is named above")


def test_spot_goes_on_past_a_bad_file_and_ends_with_1(bench, fakes, capsys):
    good = fakes.fake_file(bench / "star é.dng")
    bad = bench / "bad.dng"
    bad.write_text("no picture")
    assert run(["spot", str(bad), str(good), str(bench / "none.dng")]) == FAILED
    out = capsys.readouterr()
    assert out.err.splitlines() == [
        f"{bad}: not a picture; copy it again from the card",
        f"{bench / 'none.dng'}: can't be opened (No such file or directory); check it",
    ]
    table = out.out.splitlines()
    assert "length, % of height" in table[0]
    # 6 px of a height of 2592 px are 0.231 %.
    assert "star é.dng" in table[1]
    assert "6.00 ± 0.20" in table[1]
    assert "0.231 ± 0.008" in table[1]
    assert table[-1].startswith("Next: ")


def test_spot_json_has_exactly_the_names_of_the_glossary(bench, fakes, capsys):
    file = fakes.fake_file(bench / "a.dng", length=float("nan"), flags=["faint"])
    assert run(["spot", str(file), "--json"]) == 0
    data = strict(capsys.readouterr().out)
    assert [spot["colour"] for spot in data["spots"]] == ["red", "green", "blue"]
    assert set(data["spots"][0]) == {field.name for field in dataclasses.fields(Spot)}
    assert data["spots"][1]["length_px"] is None
    assert data["spots"][1]["flags"] == ["faint"]
    assert data["refused"] == []


def test_spot_shows_flags_in_words_bounds_and_colours(bench, fakes, capsys):
    file = fakes.fake_file(bench / "a.dng", length=None, length_at_most=3.2, flags=["at limit"])
    assert run(["spot", str(file), "--colours"]) == 0
    out = capsys.readouterr().out
    assert out.count("at most 3.20") == 3
    assert "at limit: smaller than the mosaic can resolve" in out


def test_spot_takes_the_place_that_was_typed(bench, fakes, capsys):
    file = fakes.fake_file(bench / "a.dng")
    assert run(["spot", str(file), "--near", "100.5", "200", "--json"]) == 0
    assert strict(capsys.readouterr().out)["spots"][0]["x_px"] == 100.5
