"""Who may ask: the guard before every page.

The page answers this machine only, to the browser that came with the token. A page of somebody
else in the same browser can neither read here (Host, cookie SameSite=Strict) nor change anything
(Origin, form key); nothing that a file or a person wrote can run (Content-Security-Policy).
"""

from __future__ import annotations

import secrets
from collections.abc import Awaitable, Callable, MutableMapping
from http.cookies import CookieError, SimpleCookie
from typing import Any

from starlette.datastructures import Headers, MutableHeaders
from starlette.responses import HTMLResponse

from nightglass.page.session import Session
from nightglass.page.shown import refusal_page

Scope = MutableMapping[str, Any]
Receive = Callable[[], Awaitable[MutableMapping[str, Any]]]
Send = Callable[[MutableMapping[str, Any]], Awaitable[None]]
App = Callable[[Scope, Receive, Send], Awaitable[None]]

FORM_LIMIT_BYTES = 1 << 20
FILE_LIMIT_BYTES = 2 << 30
"""Of one dropped file: the largest raw files of cameras have about a tenth."""
UPLOAD_PATH_END = "/file"
"""Addresses that take a file as their body end so."""
OPEN_PATHS = ("/enter", "/static/")
"""What may be asked without the cookie: the way in, and the looks of the refusal."""
POLICY = (
    "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self' data:; "
    "font-src 'self'; connect-src 'self'; form-action 'self'; base-uri 'none'; "
    "frame-ancestors 'none'"
)
HEADERS = {
    "Content-Security-Policy": POLICY,
    "X-Content-Type-Options": "nosniff",
    "Referrer-Policy": "same-origin",
    "Cross-Origin-Opener-Policy": "same-origin",
    "Cross-Origin-Resource-Policy": "same-origin",
    "Permissions-Policy": "camera=(), microphone=(), geolocation=()",
    "X-Frame-Options": "DENY",
}
READS = ("GET", "HEAD")


class Guard:
    """Refuses what it must before the application sees it, and puts HEADERS on every answer."""

    def __init__(self, app: App, session: Session) -> None:
        self._app, self._session = app, session

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Serve one request of the server's interface (ASGI)."""
        if scope["type"] == "lifespan":
            await self._app(scope, receive, send)
            return
        if scope["type"] != "http":
            await send({"type": "websocket.close", "code": 1008})
            return
        refused = self._refusal(scope)
        if refused is not None:
            status, words = refused
            page = HTMLResponse(refusal_page(words), status_code=status)
            await page(scope, receive, _with_headers(send, scope))
            return
        await self._app(scope, _limited(scope, receive), _with_headers(send, scope))

    def _refusal(self, scope: Scope) -> tuple[int, str] | None:
        headers, session = Headers(scope=scope), self._session
        path = scope["path"]
        if headers.get("host", "") not in session.hosts:
            return 421, "This page answers under the address that the terminal printed only."
        if scope["method"] not in (*READS, "POST"):
            return 405, "Nothing here is done that way."
        if scope["method"] == "POST" and not self._is_own(headers):
            return 403, (
                "This came from another page than this one, so nothing was done. Go back to the "
                "page and try there."
            )
        if path.startswith(OPEN_PATHS) or self._has_cookie(headers):
            return _too_large(headers, path)
        return 403, (
            "This browser was not let in. Open the address that the terminal printed, or start "
            "again with  nightglass open"
        )

    def _is_own(self, headers: Headers) -> bool:
        """Whether a request that changes something comes from a page of ours."""
        site = headers.get("sec-fetch-site", "same-origin")
        origins = {f"http://{host}" for host in self._session.hosts}
        return site == "same-origin" and headers.get("origin", "") in origins

    def _has_cookie(self, headers: Headers) -> bool:
        try:
            cookies = SimpleCookie(headers.get("cookie", ""))
        except CookieError:
            return False
        sent = cookies.get(self._session.cookie_name)
        return sent is not None and secrets.compare_digest(
            sent.value.encode(), self._session.cookie.encode()
        )


def _too_large(headers: Headers, path: str) -> tuple[int, str] | None:
    size = headers.get("content-length", "0")
    if not size.isdecimal() or int(size) > _limit(path):
        return 413, (
            f"That is too large: a file may have {FILE_LIMIT_BYTES >> 30} GB, a form 1 MB. Copy "
            "larger files into frames/ by hand."
        )
    return None


def _limit(path: str) -> int:
    return FILE_LIMIT_BYTES if path.endswith(UPLOAD_PATH_END) else FORM_LIMIT_BYTES


def _limited(scope: Scope, receive: Receive) -> Receive:
    """Count what comes in, whatever the header says; more than the limit ends the request."""
    left = _limit(scope["path"])

    async def counted() -> MutableMapping[str, Any]:
        nonlocal left
        message = await receive()
        left -= len(message.get("body", b""))
        return {"type": "http.disconnect"} if left < 0 else message

    return counted


def _with_headers(send: Send, scope: Scope) -> Send:
    async def sent(message: MutableMapping[str, Any]) -> None:
        if message["type"] == "http.response.start":
            headers = MutableHeaders(scope=message)
            for name, value in HEADERS.items():
                headers.setdefault(name, value)
            fixed = scope["path"].startswith("/static/")
            headers.setdefault("Cache-Control", "max-age=600" if fixed else "no-store")
        await send(message)

    return sent
