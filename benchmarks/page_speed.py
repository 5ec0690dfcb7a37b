"""How long the page takes at the server with 1,000 frames on record, and to list 10,000.

Run: python benchmarks/page_speed.py
A bench folder is made with a real store, as benchmarks/rank_1000_frames.py makes it ("repeats": 50
settings at 5 places, 4 frames each), and small files below frames/. Each page is asked for without
a network: what is timed is the server's own work. Promised on an idle machine: any page under 200
ms once the bench was looked at (the first look after a change works the results out anew and is
printed apart); a changed purpose, other weights and another limit under 300 ms. Purposes are
worked out ahead, in a few seconds after the ranking was opened; weights and limits when they are
asked for, on what was kept.
In a browser of the system (chromium, where there is one) the first paint of each page is promised
within a second, at a phone's width and at 2560 px; a busy machine makes it later, so it is printed
with the load and does not set the exit code.
Prints wall milliseconds, the median of ROUNDS, processor milliseconds beside it (what a busy
machine leaves comparable), and the load. The exit code is 1 if a promise is missed in processor
time.
"""

from __future__ import annotations

import os
import shutil
import statistics
import sys
import tempfile
import threading
import time
from collections.abc import Callable
from pathlib import Path
from typing import Any

from rank_1000_frames import make_bench
from starlette.testclient import TestClient

from nightglass.bench.store.store import open_store
from nightglass.gear.bag import read_bench_file
from nightglass.page.app import make_app
from nightglass.page.benches import Benches
from nightglass.page.server import bound, server_of
from nightglass.page.session import Session

PAGE_MS, RERANK_MS, LONG_MS, ROUNDS = 200.0, 300.0, 500.0, 5
PAGES = (
    "", "/plan", "/frames", "/frames?show=good&number=3", "/lenses", "/lenses/0/11/1.8", "/ranking",
    "/compare", "/checks", "/camera", "/light", "/sky", "/night", "/card", "/finish", "/report",
)  # fmt: skip
OFFERED = (
    "purpose=phone",
    "purpose=screen",
    "purpose=print 60 cm wide seen from 1 m",
    "purpose=print 30 cm wide seen from 50 cm",
    "release=remote",
    "question=sky",
)
TYPED = ("stars=70", "stars=25", "limit=0.3")
PAINT_MS, PAINT_WIDTHS = 1000.0, (390, 2560)
FIRST_PAINT = "performance.getEntriesByName('first-contentful-paint')[0]?.startTime ?? null"
LONG_LENSES, LONG_REPEATS = 25, 8
"""10,000 frames."""


def client_of(folder: Path) -> tuple[TestClient, str]:
    """Return a browser that was let in, and the address of the bench."""
    session = Session(Benches(folder.parent / "benches.json"))
    client = TestClient(make_app(session), base_url=f"http://127.0.0.1:{session.port}")
    client.get(session.address(folder), follow_redirects=False)
    return client, f"/bench/{session.benches.remember(folder)}"


def timed(ask: Callable[[], object]) -> tuple[float, float]:
    """Wall and processor milliseconds of one request."""
    wall, used = time.perf_counter(), time.process_time()
    ask()
    return 1000 * (time.perf_counter() - wall), 1000 * (time.process_time() - used)


def asked(client: TestClient, path: str, rounds: int = ROUNDS, part: bool = False) -> float:
    """Print how long a page takes; return its processor milliseconds."""

    def ask() -> None:
        answer = client.get(path, headers={"hx-request": "true"} if part else {})
        assert answer.status_code == 200, (path, answer.status_code)

    times = [timed(ask) for _ in range(rounds)]
    wall, used = (statistics.median(one[k] for one in times) for k in (0, 1))
    print(f"  {wall:6.0f} ms wall {used:6.0f} ms processor  {path.split('/', 3)[-1]}")
    return used


def first_paints(folder: Path) -> None:
    """Print when a browser first paints something of each page, after the address was asked."""
    chromium = next(filter(None, map(shutil.which, ("chromium", "chromium-browser"))), None)
    if chromium is None:
        print("no browser: first paint not tested")
        return
    from playwright.sync_api import sync_playwright

    listening = bound(None)
    session = Session(Benches(folder.parent / "benches.json"), listening.getsockname()[1])
    server = server_of(session)
    listening.listen(64)
    threading.Thread(target=server.run, kwargs={"sockets": [listening]}, daemon=True).start()
    while not server.started:
        time.sleep(0.05)
    with sync_playwright() as play:
        browser = play.chromium.launch(executable_path=chromium, args=["--no-sandbox"])
        for width in PAINT_WIDTHS:
            page = browser.new_page(viewport={"width": width, "height": 1000})
            page.goto(session.address(folder))
            base = page.url
            page.goto(f"{base}/ranking")
            print(f"first paint at {width} px (promised: {PAINT_MS:.0f} ms)")
            for path in PAGES:
                print(f"  {painted_ms(page, base + path):6.0f} ms  {path or '/'}", flush=True)
            page.close()
        browser.close()
    server.should_exit = True
    session.end()


def painted_ms(page: Any, address: str) -> float:
    """The median time from asking for a page to its first paint."""
    times = []
    for _ in range(3):
        page.goto(address)
        page.wait_for_function(f"({FIRST_PAINT}) !== null")
        times.append(page.evaluate(FIRST_PAINT))
    return statistics.median(times)


def bench_in(root: Path, lens_count: int, repeats: int) -> Path:
    """Make a bench with its results up to date, and a small file for each frame."""
    folder = root / f"{lens_count} lenses"
    frames = make_bench(folder, lens_count, repeats)
    store = open_store(read_bench_file(folder))
    for frame in store.frames():
        file = folder / "frames" / frame.path
        file.parent.mkdir(parents=True, exist_ok=True)
        file.write_bytes(b"x")
    store.close()
    print(f"{frames} frames")
    return folder


def main() -> None:
    """Time all pages, then changes of the ranking, then the long list."""
    print(f"load {os.getloadavg()[0]:.1f} on {os.cpu_count()} cores")
    missed = False
    with tempfile.TemporaryDirectory() as name:
        folder = bench_in(Path(name), 5, 4)
        client, base = client_of(folder)
        print("first look")
        asked(client, f"{base}/frames", 1)
        asked(client, f"{base}/ranking", 1)
        print(f"then (promised: {PAGE_MS:.0f} ms)")
        for path in PAGES:
            missed |= asked(client, base + path) > PAGE_MS
        while any(one.name.startswith("ahead") for one in threading.enumerate()):
            time.sleep(0.1)
        print(f"the ranking asked otherwise (promised: {RERANK_MS:.0f} ms)")
        for change in OFFERED:
            missed |= asked(client, f"{base}/ranking?{change}", 1, True) > RERANK_MS
        print(f"other weights and limits (promised: {RERANK_MS:.0f} ms)")
        for change in TYPED:
            missed |= asked(client, f"{base}/ranking?{change}", 1, True) > RERANK_MS
        first_paints(folder)
        client, base = client_of(bench_in(Path(name), LONG_LENSES, LONG_REPEATS))
        print("first look")
        asked(client, f"{base}/frames", 1)
        print(f"then (promised: {LONG_MS:.0f} ms)")
        for number in (1, 100, 209):
            missed |= asked(client, f"{base}/frames?number={number}") > LONG_MS
    sys.exit(1 if missed else 0)


if __name__ == "__main__":
    main()
