"""The command that opens the page: nightglass open FOLDER."""

from __future__ import annotations

import sys
from pathlib import Path
from typing import Annotated

import typer

from nightglass.cli.doors import MistypedError, UndoneError, print_json


def open(
    folder: Annotated[
        Path | None, typer.Argument(help="Bench folder to begin with; without it the start page.")
    ] = None,
    port: Annotated[
        int | None, typer.Option("--port", help="Port of this machine; without it a free one.")
    ] = None,
    browser: Annotated[
        bool, typer.Option("--browser/--no-browser", help="Open the page in the browser at once.")
    ] = True,
    as_json: Annotated[
        bool, typer.Option("--json", help="Print the address as plain data.")
    ] = False,
) -> None:
    """Open the page: the whole job in your browser, on this machine alone, until Ctrl-C.

    Only the browser that comes with the printed address is let in; nothing leaves this machine.
    """
    if port is not None and not 1024 <= port <= 65535:
        raise MistypedError(f"--port is {port}; allowed: 1024 to 65535, such as 8765")
    if folder is not None:
        from nightglass.gear.bag import read_bench_file

        read_bench_file(folder)
    from nightglass.page.server import serve

    try:
        serve(folder, port, lambda address: _tell(address, browser, as_json))
    except OSError as error:
        raise UndoneError(str(error)) from None
    if not as_json:
        print("The page is closed. What was measured stays.")


def _tell(address: str, browser: bool, as_json: bool) -> None:
    if as_json:
        print_json({"address": address})
        sys.stdout.flush()
    else:
        _say(address)
    if browser:
        import threading
        import webbrowser

        # After the server has begun to answer; a machine without a browser gets the address only.
        threading.Timer(0.8, webbrowser.open, args=[address]).start()


def _say(address: str) -> None:
    print(f"The page is open at  {address}")
    print(
        "It answers this machine only. Leave this window open; Ctrl-C closes the page.", flush=True
    )
