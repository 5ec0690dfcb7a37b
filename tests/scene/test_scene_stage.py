"""The bench folder of the demo: made once, kept when whole, the same every time."""

from __future__ import annotations

from pathlib import Path

import pytest

from nightglass.scene import stage
from nightglass.scene.plan import plan


@pytest.fixture
def short_plan(monkeypatch: pytest.MonkeyPatch) -> None:
    shots = plan()
    monkeypatch.setattr(stage, "plan", lambda: (shots[4], shots[38]))


@pytest.mark.usefixtures("short_plan")
def test_a_second_run_keeps_what_is_whole_and_mends_what_is_not(tmp_path: Path) -> None:
    folder = tmp_path / "bench é 1"
    seen: list[tuple[int, int]] = []
    staged = stage.stage_bench(folder, lambda done, total: seen.append((done, total)), processes=2)
    assert staged.rendered == 2
    assert seen == [(0, 2), (1, 2), (2, 2)]
    assert sorted(p.name for p in folder.iterdir()) == ["bench.toml", "frames"]
    before = {p: (p.stat().st_mtime_ns, p.read_bytes()) for p in staged.frames}

    (folder / "bench.toml").write_text("# mine now\n", encoding="utf-8")
    broken, kept = staged.frames
    broken.write_bytes(before[broken][1][:200_000])
    again = stage.stage_bench(folder, processes=1)
    assert again.rendered == 1
    assert (folder / "bench.toml").read_text(encoding="utf-8") == "# mine now\n"
    assert kept.stat().st_mtime_ns == before[kept][0]
    assert broken.read_bytes() == before[broken][1]


@pytest.mark.usefixtures("short_plan")
def test_a_folder_that_cannot_be_made_is_an_error_of_the_system(tmp_path: Path) -> None:
    (tmp_path / "bench").write_text("a file", encoding="utf-8")
    with pytest.raises(OSError, match="bench"):
        stage.stage_bench(tmp_path / "bench")
