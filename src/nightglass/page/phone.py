"""The cards for a phone in the same network: only after a yes, only by a code, until it is ended.

A server of its own, that knows nothing of the page: it has copies of the cards' pictures, and gives
them to whoever comes with the code. It ends with the page at the latest.
"""

from __future__ import annotations

import secrets
import socket
import threading
from collections.abc import Awaitable, Callable, MutableMapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import segno
import uvicorn
from starlette.responses import HTMLResponse, Response

from nightglass.page.shown import render

Scope = MutableMapping[str, Any]
Receive = Callable[[], Awaitable[MutableMapping[str, Any]]]
Send = Callable[[MutableMapping[str, Any]], Awaitable[None]]
NOWHERE = ("192.0.2.1", 9)
"""An address of the block for documents (RFC 5737): asking for the way there sends nothing."""
HEADERS = {
    "Content-Security-Policy": "default-src 'none'; img-src 'self'",
    "X-Content-Type-Options": "nosniff",
    "Referrer-Policy": "no-referrer",
    "Cache-Control": "no-store",
}


@dataclass(frozen=True)
class HandedOver:
    """Cards that a phone can fetch at present."""

    folder: Path
    """Of the bench."""
    address: str
    server: uvicorn.Server

    @property
    def picture(self) -> str:
        """The address as a QR code, an SVG as data."""
        code = segno.make(self.address, error="m")
        return code.svg_data_uri(scale=6, border=4, dark="#000000", light="#ffffff")

    def end(self) -> None:
        """Stop giving them away."""
        self.server.should_exit = True


def hand_over(folder: Path, pictures: Sequence[Path]) -> HandedOver:
    """Begin to give the pictures away; return where. Raises OSError without a network."""
    host = own_address()
    listening = socket.socket(socket.AF_INET, socket.SOCK_STREAM)
    listening.bind((host, 0))
    listening.listen(16)
    code, port = secrets.token_urlsafe(16), listening.getsockname()[1]
    app = card_app(code, f"{host}:{port}", [picture.read_bytes() for picture in pictures])
    config = uvicorn.Config(app, log_level="warning", access_log=False, lifespan="off",
                            server_header=False, limit_concurrency=20)  # fmt: skip
    server = uvicorn.Server(config)
    threading.Thread(
        target=server.run, kwargs={"sockets": [listening]}, name="phone", daemon=True
    ).start()
    return HandedOver(folder, f"http://{host}:{port}/{code}/", server)


def own_address() -> str:
    """Return this machine's address in its network. Raises OSError where there is none."""
    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as asking:
        try:
            asking.connect(NOWHERE)
        except OSError:
            raise OSError(
                "this machine is in no network: join the one that your phone is in, then try again"
            ) from None
        address: str = asking.getsockname()[0]
    return address


def card_app(
    code: str, host: str, pictures: Sequence[bytes]
) -> Callable[[Scope, Receive, Send], Awaitable[None]]:
    """Return the application that shows the pictures below /CODE/ and nothing else."""
    page = render("phone.html", count=len(pictures))
    named = {f"{k}.png": picture for k, picture in enumerate(pictures)}

    async def app(scope: Scope, receive: Receive, send: Send) -> None:
        if scope["type"] != "http":
            return
        answer = Response(status_code=404, headers=HEADERS)
        given, _, name = scope["path"].removeprefix("/").partition("/")
        asked = dict(scope["headers"]).get(b"host", b"").decode("latin-1")
        may = secrets.compare_digest(given.encode(), code.encode())
        if scope["method"] == "GET" and asked == host and may:
            if name == "":
                answer = HTMLResponse(page, headers=HEADERS)
            elif name in named:
                answer = Response(named[name], media_type="image/png", headers=HEADERS)
        await answer(scope, receive, send)

    return app
