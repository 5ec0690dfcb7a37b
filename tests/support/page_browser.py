"""A browser for the page without a browser: it carries the cookie and sends forms as one does."""

import re
import time
from collections.abc import Callable
from pathlib import Path

from starlette.testclient import TestClient

from nightglass.page.app import make_app
from nightglass.page.session import Session

PORT = 8765
HOST = f"http://127.0.0.1:{PORT}"


class Browser:
    """A client that carries the cookie and sends what a browser sends with forms."""

    def __init__(self, session: Session) -> None:
        self.session = session
        self.client = TestClient(
            make_app(session), base_url=HOST, follow_redirects=False, raise_server_exceptions=False
        )

    def enter(self) -> "Browser":
        answer = self.client.get(f"/enter?token={self.session.token}")
        assert answer.status_code == 303
        return self

    def get(self, path: str, **headers: str):
        return self.client.get(path, headers=headers)

    def form(self, to: str, origin: str = HOST, **fields: str):
        fields = {"form_key": self.session.form_key, **fields}
        return self.client.post(to, data=fields, headers={"origin": origin})

    def file(self, path: str, name: str, content: bytes, **headers: str):
        headers = {"origin": HOST, "x-form-key": self.session.form_key, **headers}
        return self.client.post(f"{path}/frames/file", params={"name": name}, content=content,
                                headers=headers)  # fmt: skip

    def wait(self, folder: Path, kind: str, limit_s: float = 60.0) -> None:
        end = time.monotonic() + limit_s
        while self.session.jobs.running(folder) is not None:
            assert time.monotonic() < end, "the work does not end"
            time.sleep(0.05)

    def state(self, page: str) -> str:
        """The stamp of bench.toml in the forms of a page."""
        found = re.search(r'name="state" value="(\w+)"', self.get(page).text)
        assert found is not None
        return found[1]


def wait_for(happened: Callable[[], bool], limit_s: float = 30.0) -> None:
    """Wait until something has happened."""
    end = time.monotonic() + limit_s
    while not happened():
        assert time.monotonic() < end, "it does not happen"
        time.sleep(0.05)
