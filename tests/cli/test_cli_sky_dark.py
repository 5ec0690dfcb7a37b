"""nightglass sky on dark frames and on files that are none, through the real door."""

from __future__ import annotations

import json

import numpy as np
import pytest

from nightglass.cli.main import run
from nightglass.frame.record import Metadata
from nightglass.scene.dng import write_dng


@pytest.fixture
def darks(tmp_path):
    """A folder with a dark frame, one that saw light, and a text file of another kind."""
    folder = tmp_path / "darks é"
    folder.mkdir()
    rng = np.random.default_rng(3)
    samples = rng.normal(1000, 5, (400, 600))
    samples[rng.integers(0, 400, 90), rng.integers(0, 600, 90)] += 300
    known = Metadata(exposure_marked_s=30.0, exposure_true_s=32.0, exposure_mode="manual")
    for name, light in (("d.dng", 0), ("lit.dng", 4000)):
        counts = np.rint(samples + light).astype(np.uint16)
        write_dng(
            folder / name, counts, pattern=[[0, 1], [1, 2]], black=1000, white_level=16000,
            metadata=known,
        )  # fmt: skip
    (folder / "words.dng").write_text("no picture at all", encoding="utf-8")
    return folder


def test_a_folder_of_darks_gives_a_verdict_and_the_reason_of_each_other_file(
    darks, tmp_path, capsys
):
    out = tmp_path / "out"
    assert run(["sky", "--dark", str(darks), "--report", str(out)]) == 1
    told, said = capsys.readouterr()
    assert "Unnamed body, manual, 32 s, 1 dark frame: not filtered" in told
    assert "No filtering at Unnamed body, manual, 32 s: these settings keep small stars." in told
    assert "lit.dng: level 4000 counts above black; this is no dark frame" in said
    assert "words.dng" in said
    assert {path.name for path in out.iterdir()} == {
        "filtering_darks.svg", "filtering_darks.png", "sky.html"
    }  # fmt: skip


def test_plain_data_is_one_document(darks, capsys):
    assert run(["sky", "--dark", str(darks / "d.dng"), "--json"]) == 0
    data = json.loads(capsys.readouterr().out)
    assert data["frames"] == []
    (verdict,) = data["filtering"]
    assert verdict["verdict"] == "not_filtered"
    assert verdict["exposure_s"] == 32.0


@pytest.mark.parametrize("kind", ["text", "missing"])
def test_what_is_no_frame_gets_one_line(tmp_path, capsys, kind):
    path = tmp_path / "night.raw"
    if kind == "text":
        path.write_text("stars", encoding="utf-8")
    assert run(["sky", str(path)]) == 1
    told, said = capsys.readouterr()
    assert told == ""
    assert said.startswith(str(path)) or "night.raw" in said
    assert len(said.splitlines()) == 1
