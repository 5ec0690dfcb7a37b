"""The page's server: bound to this machine, ended with Ctrl-C."""

from __future__ import annotations

import errno
import socket
from collections.abc import Callable
from pathlib import Path

import typer
import uvicorn

from nightglass.page.app import make_app
from nightglass.page.benches import Benches
from nightglass.page.session import HOST, Session

FIRST_PORT, PORTS_TRIED = 8765, 20
APP_NAME = "nightglass"
LIST_NAME = "benches.json"
END_WITHIN_S = 5


def list_file() -> Path:
    """Return where the list of benches is kept, by the manners of this system."""
    return Path(typer.get_app_dir(APP_NAME)) / LIST_NAME


def bound(port: int | None) -> socket.socket:
    """Return a socket of this machine alone; port: None takes the first that is free.

    Raises OSError, with the port in its words, where it is taken.
    """
    ports = range(FIRST_PORT, FIRST_PORT + PORTS_TRIED) if port is None else (port,)
    for one in ports:
        listening = socket.socket(socket.AF_INET, socket.SOCK_STREAM)
        # A port that was just given back may be used; one that is in use may not.
        listening.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        try:
            listening.bind((HOST, one))
            return listening
        except OSError as error:
            listening.close()
            if error.errno not in (errno.EADDRINUSE, errno.EACCES):
                raise
    where = f"port {port}" if port is not None else f"ports {ports[0]} to {ports[-1]}"
    raise OSError(f"{where}: in use; end the other page, or name another with --port")


def server_of(session: Session) -> uvicorn.Server:
    """Return the server of a session, to be run on a bound socket."""
    config = uvicorn.Config(
        make_app(session),
        log_level="warning",
        access_log=False,
        server_header=False,
        timeout_graceful_shutdown=END_WITHIN_S,
        limit_concurrency=200,
    )
    return uvicorn.Server(config)


def serve(
    folder: Path | None, port: int | None, tell: Callable[[str], None], benches: Path | None = None
) -> None:
    """Serve the page until Ctrl-C; tell: is told the address once it answers.

    folder: a bench to begin with. benches: file of the list, else that of this person. Raises
    OSError where no port is free.
    """
    listening = bound(port)
    session = Session(Benches(benches or list_file()), listening.getsockname()[1])
    address = session.address(folder)
    server = server_of(session)
    listening.listen(128)
    tell(address)
    try:
        server.run(sockets=[listening])
    finally:
        session.end()
        listening.close()
