"""nightglass watch: a line for each frame at once; real files in time, stopped by Ctrl-C."""

import json
import os
import signal
import subprocess
import sys
import time
from datetime import datetime

import numpy as np
import pytest

from nightglass.cli.doors import STOPPED
from nightglass.frame.record import Metadata
from nightglass.scene.dng import write_dng

BENCH = """[body]
name = "Loan body"
pitch_um = 6
width_px = 720
height_px = 480
[[lens]]
name = "Wren 12 mm f/2"
focal_mm = 12
f_number = 2
[[place]]
name = "centre"
[plan]
repeats = 3
f_numbers = [2]
"""


@pytest.fixture
def folder(tmp_path):
    (tmp_path / "frames").mkdir()
    (tmp_path / "bench.toml").write_text(BENCH, encoding="utf-8")
    return tmp_path


def raw(path, x, sigma, peak=0.55, second=0):
    """Write a raw frame with a Gaussian star; put under its name in one step."""
    rng = np.random.default_rng(second)
    rows, columns = np.indices((480, 720))
    light = np.exp(-((columns - x) ** 2 + (rows - 240.4) ** 2) / (2 * sigma**2))
    counts = rng.normal(256, 4, light.shape) + peak * (4095 - 256) * light
    said = Metadata(body="Loan body", lens="Wren 12 mm f/2", focal_mm=12.0, f_number=2.0, iso=100,
                    exposure_marked_s=0.25, exposure_true_s=0.25,
                    taken_at=datetime(2027, 1, 1, 20, 0, second))  # fmt: skip
    part = path.parent.parent / "part"
    write_dng(part, np.clip(np.round(counts), 0, 4095).astype(np.uint16), white_level=4095,
              pattern=np.array([[0, 1], [1, 2]], dtype=np.uint8), black=256, metadata=said,
              verify=False)  # fmt: skip
    os.replace(part, path)


class Watching:
    """The command running beside the test; its lines as they come."""

    def __init__(self, folder, *options):
        command = (
            "import signal, sys; signal.signal(signal.SIGINT, signal.default_int_handler); "
            "from nightglass.cli.main import run; sys.exit(run(sys.argv[1:]))"
        )
        self.process = subprocess.Popen(
            [sys.executable, "-c", command, "watch", str(folder), *options],
            stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True,
        )  # fmt: skip

    def line(self):
        return self.process.stdout.readline().rstrip("\n")

    def lines_until(self, beginning):
        found = [self.line()]
        while found[-1] and not found[-1].startswith(beginning):
            found.append(self.line())
        assert found[-1], self.process.stderr.read()
        return found

    def stop(self):
        self.process.send_signal(signal.SIGINT)
        out, _ = self.process.communicate(timeout=30)
        return self.process.returncode, out


def test_frames_are_told_as_they_land_and_stay_on_record(folder):
    watching = Watching(folder)
    began = watching.lines_until("  Next:")
    assert began[0].startswith("No plan on record; this one was made from bench.toml")
    assert "Plan: 0 of 9 frames are there." in began[1]
    raw(folder / "frames" / "1.dng", 360.3, 2.2, second=1)
    said = watching.lines_until("  Next:")
    assert said[0] == "1.dng: first frame here: nothing yet to compare its focus with"
    assert said[1].startswith("  Wren 12 mm f/2, f/2, centre, 1 of 3: spot 7.")
    assert ", peak 5" in said[1]
    raw(folder / "frames" / "2.dng", 364.6, 2.25, second=2)
    assert watching.lines_until("  Next:")[0] == "2.dng: good"
    raw(folder / "frames" / "3.dng", 357.1, 4.4, second=3)
    said = watching.lines_until("  Next:")
    assert said[0].startswith("3.dng: shoot again: out of focus (")
    assert "refocus, then Wren 12 mm f/2, f/2, centre, round 3 of 3" in said[-1]
    code, out = watching.stop()
    assert code == STOPPED
    assert out.startswith("3 frames landed, 1 to shoot again.\n")
    from nightglass.bench.store.store import open_store
    from nightglass.gear.bag import read_bench_file

    store = open_store(read_bench_file(folder))
    assert [frame.state for frame in store.frames()] == ["measured"] * 3
    store.close()


def test_json_gives_one_line_of_data_for_each_frame(folder):
    watching = Watching(folder, "--json")
    began = json.loads(watching.line())
    assert (began["watching"], began["frames_there"], began["frames_planned"]) == (True, 0, 9)
    raw(folder / "frames" / "1.dng", 360.3, 2.2, peak=1.5, second=1)
    data = json.loads(watching.line())
    code, out = watching.stop()
    assert code == STOPPED
    assert json.loads(out) == {"watching": False, "frames": 1, "again": 1}
    assert (data["file"], data["words"], data["again"]) == ("1.dng", ["clipped"], True)
    assert data["expose"]["marked_s"] == pytest.approx(1 / 8)
    assert data["next"]["round"] == 1


def alive(pid):
    """Whether a process runs; one that has ended and waits to be counted does not."""
    try:
        with open(f"/proc/{pid}/stat", encoding="utf-8") as stream:
            return stream.read().rpartition(")")[2].split()[0] != "Z"
    except FileNotFoundError:
        return False


@pytest.mark.skipif(not os.path.isdir("/proc"), reason="processes are looked up in /proc")
def test_watch_ends_with_its_reader_and_leaves_no_process(folder):
    watching = Watching(folder)
    watching.lines_until("  Next:")
    children = subprocess.run(
        ["ps", "-o", "pid=", "--ppid", str(watching.process.pid)], capture_output=True, text=True
    ).stdout.split()
    assert children
    watching.stop()
    until = time.monotonic() + 10
    while any(map(alive, children)) and time.monotonic() < until:
        time.sleep(0.05)
    assert not list(filter(alive, children))
