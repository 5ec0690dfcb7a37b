"""Records of options: what the command line shows of them and what a command gets."""

from dataclasses import dataclass, field
from pathlib import Path
from typing import Annotated

import pytest
import typer
from typer.testing import CliRunner

from nightglass.cli.option_records import with_records


@dataclass(frozen=True)
class Inner:
    """A record within a record."""

    gap_s: float = 3.0
    name: str | None = None


@dataclass(frozen=True)
class Outer:
    """A record of a field and a record."""

    frames: int = 16
    inner: Inner = field(default_factory=Inner)


OPTIONS = {
    Outer: {"frames": typer.Option("--frames", help="How many.")},
    Inner: {"gap_s": typer.Option("--gap"), "name": typer.Option("--name")},
}
FolderArgument = Annotated[Path, typer.Argument()]


def ran(*typed):
    got = []

    @with_records(OPTIONS)
    def go(wish: Outer, folder: FolderArgument = Path()) -> None:
        """Do it."""
        got.append((wish, folder))

    app = typer.Typer()
    app.command()(go)
    result = CliRunner().invoke(app, typed)
    return got, result


def test_a_command_gets_records_of_what_was_typed():
    got, _ = ran("somewhere", "--frames", "4", "--name", "arch")
    assert got == [(Outer(4, Inner(3.0, "arch")), Path("somewhere"))]


def test_what_is_not_typed_has_the_default_of_the_field():
    got, _ = ran()
    assert got == [(Outer(), Path())]


def test_help_shows_every_field_once():
    _, result = ran("--help")
    assert all(result.output.count(option) == 1 for option in ("--frames", "--gap", "--name"))
    assert "16" in result.output
    assert "How many." in result.output


def test_a_field_without_an_option_is_refused():
    def go(wish: Outer) -> None:
        """Never run."""

    with pytest.raises(KeyError, match="gap_s"):
        with_records({**OPTIONS, Inner: {}})(go)
