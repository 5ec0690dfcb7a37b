"""Two sessions of one bench at the door: what drifted and differed is said with every result."""

import json
import math
from datetime import datetime, timedelta

import numpy as np
import pytest

from nightglass.cli.main import run

LENSES = {"Wren": 6.2, "Heron": 5.4, "Curlew": 7.0, "Teal": 6.0}
TOML = """
[[lens]]
name = "Heron"
focal_mm = 12
f_number = 2
[[lens]]
name = "Curlew"
focal_mm = 12
f_number = 2
[[lens]]
name = "Teal"
focal_mm = 12
f_number = 2
[plan]
reference = "Wren"
"""
SESSIONS = {
    "first": (datetime(2027, 5, 6, 20), 0.0, 0.10, ["Wren", "Heron", "Wren", "Curlew", "Wren"]),
    "borrowed": (datetime(2028, 5, 4, 20), 0.07, 0.0, ["Wren", "Teal", "Wren", "Teal", "Wren"]),
}


@pytest.fixture(scope="module")
def grown(tmp_path_factory):
    """A bench of pretended frames: 10 % drift in the first session, the second 7 % apart."""
    import bench_fakes as fakes

    folder = tmp_path_factory.mktemp("grown")
    (folder / "bench.toml").write_text(fakes.BENCH_TOML + TOML, encoding="utf-8")
    rng = np.random.default_rng(7)
    for name, (start, offset, drift, order) in SESSIONS.items():
        for number, lens in enumerate(order):
            for k in range(4):
                share = (number + 0.1 * k) / len(order)
                log = math.log(LENSES[lens]) + offset + drift * (share - 0.5) + rng.normal(0, 0.01)
                size = math.exp(log)
                fakes.fake_file(
                    folder / f"frames/{name}/{number} {k}.dng", lens=lens, length=size,
                    width_px=0.8 * size, noise_area=0.9 * size**2,
                    taken_at=(start + timedelta(hours=3 * share)).isoformat(),
                )  # fmt: skip
    return folder


@pytest.fixture
def measured(grown, fakes, capsys):
    assert run(["measure", str(grown), "--workers", "1"]) == 0
    capsys.readouterr()
    return grown


def test_rank_carries_sessions_as_codes_and_numbers(measured, capsys):
    assert run(["rank", str(measured), "--json", "--no-charts"]) == 0
    data = json.loads(capsys.readouterr().out)
    first, second = data["sessions"]
    assert first["drift"]["told"] is True
    assert first["drift"]["percent"] == pytest.approx(10, abs=3)
    assert second["offset"]["percent"] == pytest.approx(7.3, abs=2.5)
    assert second["against"] == first["name"] == "2027-05-06"
    assert data["scatter"]["copy_percent"] is None
    assert data["scatter"]["session_err_percent"] == second["offset"]["err_percent"]
    assert data["not_tested"] == ["other_copies", "other_distances"]
    notes = {row["lens"]: {note["code"] for note in row["notes"]} for row in data["settings"]}
    assert "session_drifted" in notes["Heron"]
    assert "session_drifted" not in notes["Teal"]
    # The borrowed lens ranks by its own size: 6.0 px against 5.4 and 7.0.
    blur = {row["lens"]: row["lens_tightness_percent"] for row in data["settings"]}
    for lens, size in LENSES.items():
        assert blur[lens] == pytest.approx(100 * size / 2592, rel=0.03)


def test_rank_says_it_in_words(measured, capsys):
    assert run(["rank", str(measured), "--no-charts"]) == 0
    out = " ".join(capsys.readouterr().out.split())
    assert "Session 2027-05-06 (2.6 h): blur of the reference drifted by +" in out
    assert "taken out, its error is in the intervals" in out
    assert "Session 2028-05-04: blur differs by +" in out
    assert "session 2027-05-06: drifted by +" in out
    assert "Scatter of a blur, 1 sigma: noise of a frame 0.8 %" in out
    assert "Not tested: other copies of these lenses; another distance." in out


def test_the_card_says_that_its_session_drifted(measured, capsys):
    assert run(["card", str(measured), "--lens", "Heron", "--json"]) == 0
    (card,) = json.loads(capsys.readouterr().out)["cards"]
    assert any("session 2027-05-06: drifted by +" in note for note in card["notes"])


def test_compare_says_it_of_both_settings(measured, capsys):
    assert run(["compare", str(measured), "heron", "teal"]) == 0
    out = capsys.readouterr().out
    assert "A: session 2027-05-06: drifted by +" in out
    assert "B: session 2028-05-04: blur differs by +" in out
