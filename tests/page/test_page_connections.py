"""Slow, broken and crowded: whole files or none, nothing lost or doubled, whoever works beside."""

import errno
import os
import socket
import subprocess
import sys
import threading
import time
from urllib.parse import quote

import pytest
from bench_fakes import MEASURER, OPENER, fake_file
from page_browser import wait_for
from page_chromium import serving

from nightglass.bench.measuring.measure import measure_folder
from nightglass.bench.store.store import open_store
from nightglass.gear.bag import read_bench_file
from nightglass.page import uploads

RUN = f"""
import sys, time
from pathlib import Path
from nightglass.gear.bag import read_bench_file
from nightglass.page.benches import Benches
from nightglass.page.session import Session
from nightglass.page.steps.frames import start_measuring
if __name__ == "__main__":
    bench = read_bench_file(sys.argv[1])
    session = Session(Benches(Path(sys.argv[2])), opener={OPENER!r}, measurer={MEASURER!r})
    start_measuring(bench, session)
    time.sleep(300)
"""


@pytest.fixture(scope="module")
def served(tmp_path_factory):
    with serving(tmp_path_factory.mktemp("page"), opener=OPENER, measurer=MEASURER) as session:
        yield session


@pytest.fixture
def wire(served, bench):
    """Begin to send a file over a connection of its own; return that connection."""
    key, open_ones = served.benches.remember(bench), []

    def begin(name, size):
        connection = socket.create_connection(("127.0.0.1", served.port), 30)
        host = f"127.0.0.1:{served.port}"
        connection.sendall((
            f"POST /bench/{key}/frames/file?name={quote(name)} HTTP/1.1\r\nHost: {host}\r\n"
            f"Origin: http://{host}\r\nCookie: {served.cookie_name}={served.cookie}\r\n"
            f"X-Form-Key: {served.form_key}\r\nContent-Length: {size}\r\n\r\n"
        ).encode())  # fmt: skip
        open_ones.append(connection)
        return connection

    yield begin
    for one in open_ones:
        one.close()


def coming(bench):
    return [file for file in (bench / "frames").iterdir() if file.name.startswith(uploads.COMING)]


def test_a_connection_that_breaks_in_the_middle_leaves_nothing(wire, bench, served):
    connection = wire("a.dng", 1_000_000)
    connection.sendall(b"x" * 100_000)
    wait_for(lambda: coming(bench))
    connection.close()
    wait_for(lambda: not coming(bench))
    assert not list((bench / "frames").iterdir())
    again = wire("a.dng", 5)
    again.sendall(b"whole")
    assert b"200 OK" in again.recv(1000)
    assert (bench / "frames" / "a.dng").read_bytes() == b"whole"


def test_a_connection_that_stalls_is_given_up_in_words(wire, bench, monkeypatch):
    monkeypatch.setattr(uploads, "SLOWEST_PIECE_S", 1.0)
    connection = wire("a.dng", 1000)
    connection.sendall(b"x" * 500)
    said = connection.recv(4000) + connection.recv(4000)
    assert b"422" in said
    assert b"a.dng: nothing came for 1 s; send it again" in said
    assert not list((bench / "frames").iterdir())


def test_a_slow_connection_ends_with_the_whole_file(wire, bench, monkeypatch):
    monkeypatch.setattr(uploads, "SLOWEST_PIECE_S", 5.0)
    connection = wire("a.dng", 50)
    for k in range(10):
        connection.sendall(bytes([k]) * 5)
        time.sleep(0.05)
    assert b"200 OK" in connection.recv(1000)
    assert (bench / "frames" / "a.dng").read_bytes() == bytes(k for k in range(10) for _ in "abcde")


def test_a_full_disk_is_told_and_leaves_nothing(browser, base, bench, monkeypatch):
    def full(_handle):
        raise OSError(errno.ENOSPC, "No space left on device")

    monkeypatch.setattr(uploads.os, "fsync", full)
    answer = browser.file(base, "a.dng", b"content")
    assert answer.status_code == 507
    assert answer.json()["fault"] == (
        "a.dng: the disk is full; free some space, then send it again"
    )
    assert not list((bench / "frames").iterdir())


def test_halves_of_a_killed_page_are_taken_away_and_running_ones_stay(browser, base, bench):
    old, new = (bench / "frames" / f"{uploads.COMING}{name}" for name in ("old", "new"))
    for file in (old, new):
        file.write_bytes(b"half")
    os.utime(old, (time.time() - 4000,) * 2)
    browser.file(base, "a.dng", b"whole")
    assert not old.exists()
    assert new.exists()


def test_two_that_send_one_name_at_once_lose_nothing(browser, base, bench):
    both = [threading.Thread(target=browser.file, args=(base, "a.dng", bytes([k]) * 70_000))
            for k in (1, 2, 1, 2)]  # fmt: skip
    for one in both:
        one.start()
    for one in both:
        one.join()
    files = sorted((bench / "frames").iterdir())
    assert [file.name for file in files] == ["a-2.dng", "a.dng"]
    assert {file.read_bytes()[0] for file in files} == {1, 2}


def contents(bench):
    store = open_store(read_bench_file(bench))
    try:
        return [(frame.path, frame.state) for frame in store.frames()], len(store.spots())
    finally:
        store.close()


def test_page_and_command_measure_at_once_and_nothing_is_doubled(browser, base, bench):
    for k in range(4):
        fake_file(bench / "frames" / f"f{k}.dng", seconds=0.2)
    browser.form(f"{base}/frames/measure")
    measure_folder(bench, workers=1, measurer=MEASURER, opener=OPENER)
    browser.wait(bench, "measuring")
    assert contents(bench) == ([(f"f{k}.dng", "measured") for k in range(4)], 4)


def test_a_page_killed_in_the_middle_of_measuring_loses_nothing(browser, base, bench, tmp_path):
    for k in range(5):
        fake_file(bench / "frames" / f"f{k}.dng", seconds=0.6 if k > 1 else 0.0)
    script = tmp_path / "run.py"
    script.write_text(RUN)
    page = subprocess.Popen([sys.executable, str(script), str(bench), str(tmp_path / "list.json")],
                            env=os.environ | {"PYTHONPATH": os.pathsep.join(sys.path)})  # fmt: skip
    wait_for(lambda: (bench / "bench.sqlite").exists() and len(contents(bench)[0]) > 0, 120)
    page.kill()
    page.wait()
    browser.get(f"{base}/frames")
    assert browser.session.jobs.of(bench, "measuring") is not None
    browser.wait(bench, "measuring")
    assert contents(bench) == ([(f"f{k}.dng", "measured") for k in range(5)], 5)
    assert "5</span> frames measured" in browser.get(f"{base}/frames").text


@pytest.mark.parametrize(
    ("step", "to", "fields"),
    [
        ("ranking", "ranking/keep", {"purpose": "phone"}),
        ("night", "site", {"place": "46.2 N 8.3 E", "zone": "UTC+2"}),
        ("frames", "frames/take-in", {"path": "f0.dng"}),
        ("frames", "undo", {}),
    ],
)
def test_a_form_of_another_tab_that_is_stale_writes_nothing(
    browser, measured, bench, step, to, fields
):
    browser.form(f"{measured}/frames/leave-out", state=browser.state(f"{measured}/frames"),
                 path="f0.dng", reason="door")  # fmt: skip
    stale = browser.state(f"{measured}/{step}")
    browser.form(f"{measured}/frames/leave-out", state=browser.state(f"{measured}/frames"),
                 path="f1.dng", reason="the other tab")  # fmt: skip
    before = (bench / "bench.toml").read_bytes()
    answer = browser.form(f"{measured}/{to}", state=stale, **fields)
    assert answer.status_code == 422
    assert "was changed since this was shown to you" in answer.text
    assert (bench / "bench.toml").read_bytes() == before
