"""nightglass spot: measure loose files without a bench."""

from __future__ import annotations

import dataclasses
import sys
from collections.abc import Iterable
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from nightglass.cli.doors import FAILED, counted, print_json
from nightglass.cli.terminal import console, printable

if TYPE_CHECKING:
    from nightglass.spot.record import Spot


def spot(
    files: Annotated[list[Path], typer.Argument(help="Raw files, or TIFF, PNG, JPEG, FITS.")],
    near: Annotated[
        tuple[float, float] | None,
        typer.Option("--near", help="Where the star stands: x y in raw pixels."),
    ] = None,
    colours: Annotated[
        bool, typer.Option("--colours", help="Show red and blue too, not only green.")
    ] = False,
    image: Annotated[
        str | None,
        typer.Option(
            "--image", help="Which image of a FITS file that holds several: its name or number."
        ),
    ] = None,
    as_json: Annotated[bool, typer.Option("--json", help="Print plain data, all colours.")] = False,
) -> None:
    """Measure the artificial star in loose files: sizes in pixels and % of picture height.

    A file that can't be read gives one line; the others go on, and the exit code is 1.
    """
    from nightglass.bench.loose import measure_files

    measured, refused = [], []
    for result in measure_files(files, near, image=image):
        if result.refused is not None:
            refused.append(result)
            print(f"{result.file}: {result.refused}", file=sys.stderr)
        else:
            measured.append(result)
    if as_json:
        print_json(
            {
                "spots": [dataclasses.asdict(s) for result in measured for s in result.spots],
                "refused": [{"file": r.file, "reason": r.refused} for r in refused],
            },
            _fault(len(refused), len(measured) + len(refused)),
        )
    elif measured:
        _print_table(
            (s, result.picture_height_px)
            for result in measured
            for s in result.spots
            if colours or s.colour in ("green", "grey")
        )
        notes = dict.fromkeys(f"{r.file}: {note}" for r in measured for note in r.notes)
        print("\n".join(notes), end="\n" if notes else "")
        print("Next: for repeats and a ranking make a bench:  nightglass new FOLDER")
    if refused:
        raise typer.Exit(FAILED)


def _fault(refused: int, count: int) -> str | None:
    return f"{refused} of {counted(count, 'file')} refused; `refused` says why" if refused else None


def _print_table(rows: Iterable[tuple[Spot, int]]) -> None:
    from rich.table import Table
    from rich.text import Text

    table = Table(box=None, pad_edge=False, padding=(0, 2, 0, 0))
    flags: dict[str, None] = {}
    for k, (found, height_px) in enumerate(rows):
        cells = table_row(found, height_px)
        if k == 0:
            for title in cells:
                table.add_column(title, justify="left" if title in ("file", "flags") else "right")
        table.add_row(*(Text(printable(cell)) for cell in cells.values()))
        flags |= dict.fromkeys(found.flags)
    console(width_in_pipe=160).print(table)
    _explain(flags)


def _explain(flags: Iterable[str]) -> None:
    from nightglass.spot.record import FLAGS

    for flag in flags:
        print(f"{flag}: {FLAGS.get(flag, '')}")


def table_row(found: Spot, picture_height_px: int) -> dict[str, str]:
    """Return one row of the table: column titles and texts; what was not measured is a dash."""
    from nightglass.bench.loose import percent_of_height

    def size(value: float | None, err: float | None, at_most: float | None = None) -> str:
        if value is None:
            return "-" if at_most is None else f"at most {at_most:.2f}"
        return f"{value:.2f}" if err is None else f"{value:.2f} ± {err:.2f}"

    def share(value: float | None, err: float | None, at_most: float | None = None) -> str:
        shown = (percent_of_height(v, picture_height_px) for v in (value, err, at_most))
        value, err, at_most = shown
        if value is None:
            return "-" if at_most is None else f"at most {at_most:.3f}"
        return f"{value:.3f}" if err is None else f"{value:.3f} ± {err:.3f}"

    def plain(value: float | None, form: str) -> str:
        return "-" if value is None else format(value, form)

    length = found.length_px, found.length_px_err, found.length_at_most_px
    return {
        "file": Path(found.file).name,
        "colour": found.colour,
        "x, px": plain(found.x_px, ".1f"),
        "y, px": plain(found.y_px, ".1f"),
        "length, px": size(*length),
        "width, px": size(found.width_px, found.width_px_err, found.width_at_most_px),
        "ee50, px": size(found.ee50_px, found.ee50_px_err),
        "length, % of height": share(*length),
        "angle": plain(found.angle_degrees, ".0f"),
        "peak": plain(found.peak_share, ".0%"),
        "flags": ", ".join(found.flags),
    }
