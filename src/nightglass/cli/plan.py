"""The command that plans a session at the bench: nightglass plan FOLDER."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from nightglass.cli.bench_options import BodyOption, FolderArgument, JsonOption
from nightglass.cli.doors import UndoneError, print_json, warn
from nightglass.cli.terminal import text_width

if TYPE_CHECKING:
    from nightglass.gear.benchfile import BenchFile
    from nightglass.shoot.asked import Asked
    from nightglass.shoot.records import BenchPlan

HoursOption = Annotated[
    float | None, typer.Option("--hours", help="Time that you have at the bench.")
]
RoomOption = Annotated[
    float | None, typer.Option("--room", help="Longest distance that there is (m).")
]
DistanceOption = Annotated[
    float | None, typer.Option("--distance", help="Distance of the source on the axis (m).")
]
SourceOption = Annotated[
    float | None, typer.Option("--source", help="Diameter of the source or its pinhole (mm).")
]
TellOption = Annotated[
    float | None, typer.Option("--tell", help="Difference of blur to tell apart (%).")
]
ScatterOption = Annotated[
    float | None, typer.Option("--scatter", help="Your guess of how far one frame scatters (%).")
]
RepeatsOption = Annotated[
    int | None, typer.Option("--repeats", help="Frames of each line, whatever is needed.")
]
LensesOption = Annotated[
    list[str] | None, typer.Option("--lens", help="Only this lens, or part of its name; repeat it.")
]
PlacesOption = Annotated[
    list[str] | None, typer.Option("--place", help="Only this place; repeat the option.")
]
AddOption = Annotated[
    bool,
    typer.Option("--add", help="Only what is not on record yet, with reference frames."),
]


def plan(
    folder: FolderArgument = Path(),
    hours: HoursOption = None,
    room: RoomOption = None,
    distance: DistanceOption = None,
    source: SourceOption = None,
    tell: TellOption = None,
    scatter: ScatterOption = None,
    repeats: RepeatsOption = None,
    lens: LensesOption = None,
    place: PlacesOption = None,
    add: AddOption = False,
    body: BodyOption = None,
    as_json: JsonOption = False,
) -> None:
    """Plan a session at the bench: distances, aims, exposures, repeats, shot list, minutes.

    Options win over [plan] and [bench] of bench.toml. The plan is written as a check list for the
    phone, a print, a table and plain data; HOW-TO-SHOOT.txt is made anew for the gear.
    """
    from nightglass.gear.bag import read_bench_file
    from nightglass.shoot.asked import Asked
    from nightglass.show.body_words import on_body_data, on_body_lines
    from nightglass.show.shoot.data import plan_data
    from nightglass.show.shoot.text import next_line

    bench = read_bench_file(folder).on_body(body)
    asked = Asked(
        hours,
        room,
        distance,
        source,
        tell,
        scatter,
        repeats,
        tuple(lens or ()),
        tuple(place or ()),
        add,
    )
    made = _planned(bench, asked)
    if as_json:
        _written(made, bench)
        print_json({**plan_data(made), **on_body_data(bench)})
        return
    for line in on_body_lines(bench):
        print(line)
    _print(made)
    print("\n".join(_written(made, bench)))
    print(next_line(folder))


def _planned(bench: BenchFile, asked: Asked) -> BenchPlan:
    """The plan, kept in the bench's store for the watch."""
    from nightglass.bench.errors import StoreError
    from nightglass.shoot.plan import plan_bench
    from nightglass.shoot.plan_on_record import plan_and_keep

    try:
        return plan_and_keep(bench, asked)
    except StoreError as error:
        warn(f"{error}; planned without what is on record, and nightglass watch will not know it")
        return plan_bench(bench, asked)


def _print(made: BenchPlan) -> None:
    from nightglass.show.shoot.text import plan_lines

    print("\n".join(plan_lines(made, text_width())))


def _written(made: BenchPlan, bench: BenchFile) -> list[str]:
    """Write plan and sheet; return a line for each file."""
    from nightglass.show.shoot.files import write_plan_and_sheet

    try:
        written, aside = write_plan_and_sheet(made, bench)
    except OSError as error:
        cause = error.strerror or str(error)
        raise UndoneError(
            f"{bench.folder}: can't be written ({cause}); free the disk or allow writing there"
        ) from None
    lines = [f"written: {path}" for path in written]
    if aside is not None:
        lines.append(f"Your own changes to {written[-1].name} are kept: {aside}")
    return lines
