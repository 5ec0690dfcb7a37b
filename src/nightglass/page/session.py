"""What one run of the page knows: its secrets, the benches it may open, and what it keeps."""

from __future__ import annotations

import secrets
from dataclasses import dataclass, field
from pathlib import Path

from nightglass.bench.measuring.jobs import MEASURER, OPENER
from nightglass.page.benches import Benches
from nightglass.page.jobs import Jobs
from nightglass.page.kept import Shelf
from nightglass.page.phone import HandedOver

HOST = "127.0.0.1"


@dataclass
class Session:
    """One run of the page, from `nightglass open` to its end."""

    benches: Benches
    port: int = 8765
    token: str = field(default_factory=lambda: secrets.token_urlsafe(32))
    """In the address that the terminal opens; it lets one browser in."""
    cookie: str = field(default_factory=lambda: secrets.token_urlsafe(32))
    form_key: str = field(default_factory=lambda: secrets.token_urlsafe(32))
    """In every form: a page of somebody else can't know it."""
    opener: str = OPENER
    measurer: str = MEASURER
    """What opens and what measures frames: "package.module:name"."""
    works_ahead: bool = True
    """Whether rankings that the page offers are worked out before they are asked for."""
    jobs: Jobs = field(default_factory=Jobs)
    shelf: Shelf = field(default_factory=Shelf)
    choices: dict[Path, dict[str, str]] = field(default_factory=dict)
    """What was last asked of each bench's ranking, for as long as the page runs."""
    phone: HandedOver | None = None
    """Cards that a phone can fetch at present."""

    def end(self) -> None:
        """Stop all work and give nothing away any more."""
        if self.phone is not None:
            self.phone.end()
        self.jobs.stop_all()

    @property
    def cookie_name(self) -> str:
        """Cookies do not tell ports apart: each run has a name of its own."""
        return f"nightglass_{self.port}"

    @property
    def hosts(self) -> frozenset[str]:
        """What may stand as Host: names that lead to this machine only."""
        return frozenset({f"{HOST}:{self.port}", f"localhost:{self.port}"})

    def address(self, folder: Path | None = None) -> str:
        """Return the address to open, with the token; folder: a bench to begin with."""
        bench = "" if folder is None else f"&bench={self.benches.remember(folder)}"
        return f"http://{HOST}:{self.port}/enter?token={self.token}{bench}"
