"""A run that is killed at any moment loses and doubles nothing."""

import os
import signal
import subprocess
import sys
import time

import pytest
from bench_fakes import MEASURER, OPENER, fake_file

from nightglass.bench.store.store import open_store
from nightglass.gear.bag import read_bench_file

RUN = f"""
import signal
import sys
# A shell that starts the tests in the background hands SIGINT down ignored.
signal.signal(signal.SIGINT, signal.default_int_handler)
from nightglass.bench.measuring.measure import measure_folder
if __name__ == "__main__":
    measure_folder(sys.argv[1], workers=2, measurer={MEASURER!r}, opener={OPENER!r},
                   on_progress=lambda p: print(p.done, flush=True))
"""
FRAMES = 12


@pytest.fixture
def script(tmp_path):
    """A program file: spawned workers read the main program again."""
    path = tmp_path / "run.py"
    path.write_text(RUN)
    return path


def contents(bench):
    """Everything on record that does not depend on when it was measured."""
    store = open_store(read_bench_file(bench))
    try:
        frames = store.frames()
        stamps = store.stamps([f.path for f in frames])
        images = {path: (s.left_px, s.light.tobytes()) for path, s in stamps.items()}
        return frames, store.spots(), images
    finally:
        store.close()


def start(script, bench):
    return subprocess.Popen(
        [sys.executable, str(script), str(bench)],
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
        start_new_session=True,
    )


def wait_for(process, done):
    for line in process.stdout:
        if int(line) >= done:
            return


def group_is_gone(group):
    try:
        os.killpg(group, 0)
    except ProcessLookupError:
        return True
    return False


@pytest.mark.parametrize("how", [signal.SIGKILL, signal.SIGINT])
def test_killed_run_goes_on_to_the_same_record(bench, script, measure, how):
    for k in range(FRAMES):
        fake_file(bench / f"frames/{k}.dng", seconds=0.4, length=5.0 + k, content=f"frame {k // 2}")
    process = start(script, bench)
    wait_for(process, 2)
    if how == signal.SIGKILL:
        process.kill()
    else:
        os.killpg(process.pid, how)  # as the terminal does: the workers get it too
    process.communicate(timeout=20)
    # Workers of a killed parent see their pipe end and leave.
    deadline = time.monotonic() + 10
    while not group_is_gone(process.pid) and time.monotonic() < deadline:
        time.sleep(0.05)
    assert group_is_gone(process.pid)
    kept, spots, _ = contents(bench)
    measured = [f for f in kept if f.state == "measured"]
    assert 2 <= len(measured) < FRAMES
    assert len(spots) == len(measured)
    report = measure(workers=2)
    assert len(report.measured) == FRAMES - len(measured)
    disturbed = contents(bench)
    (bench / "bench.sqlite").unlink()
    measure(workers=2)
    assert contents(bench) == disturbed
