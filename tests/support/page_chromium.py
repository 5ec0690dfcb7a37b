"""A real browser (chromium of the system) and a page that answers it."""

from __future__ import annotations

import shutil
import threading
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import pytest
from page_browser import wait_for

from nightglass.page.benches import Benches
from nightglass.page.server import bound, server_of
from nightglass.page.session import Session

CHROMIUM = next(filter(None, map(shutil.which, ("chromium", "chromium-browser"))), None)
NEEDS_CHROMIUM = pytest.mark.skipif(
    CHROMIUM is None, reason="no browser: install chromium from the system's packages"
)
FLAGS = [
    "--headless",
    "--no-sandbox",
    "--disable-gpu",
    "--disable-quic",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
]


@contextmanager
def serving(folder: Path, **options: object) -> Iterator[Session]:
    """Give the session of a page that answers; options: of the session."""
    listening = bound(None)
    session = Session(
        Benches(folder / "benches.json"),
        listening.getsockname()[1],
        **options,  # type: ignore[arg-type]
    )
    server = server_of(session)
    listening.listen(64)
    thread = threading.Thread(target=server.run, kwargs={"sockets": [listening]}, daemon=True)
    thread.start()
    wait_for(lambda: server.started)
    try:
        yield session
    finally:
        server.should_exit = True
        session.jobs.stop_all()
        thread.join(10)
        listening.close()
