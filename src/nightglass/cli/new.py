"""nightglass new: a bench folder to fill in."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from nightglass.cli.doors import MistypedError, print_json


def new(
    folder: Annotated[Path, typer.Argument(help="Folder to make, or an existing one.")],
    name: Annotated[str, typer.Option("--name", help="Name of the bench.")] = "",
    frame: Annotated[
        Path | None, typer.Option("--from", help="A raw frame whose body and lens to take over.")
    ] = None,
    pitch_um: Annotated[
        float | None,
        typer.Option("--pitch-um", help="Pixel pitch: sensor width in mm x 1000 / pixels across."),
    ] = None,
    as_json: Annotated[bool, typer.Option("--json", help="Print plain data.")] = False,
) -> None:
    """Make a bench folder: bench.toml to fill in, frames/ and a sheet with the shooting protocol.

    Nothing that is there already is changed.
    """
    from nightglass.gear.bag import BENCH_FILE_NAME
    from nightglass.gear.kinds import LARGEST_PITCH_UM, SMALLEST_PITCH_UM
    from nightglass.gear.names import name_fault
    from nightglass.gear.template import EXAMPLE_BODY, EXAMPLE_LENSES, bench_template
    from nightglass.show.shoot.start import make_bench

    if name and (fault := name_fault(name)) is not None:
        raise MistypedError(f'--name {fault}; give a name such as "Our bench"')
    if pitch_um is not None and not SMALLEST_PITCH_UM < pitch_um < LARGEST_PITCH_UM:
        raise MistypedError(
            f"--pitch-um is {pitch_um:g}; allowed: between {SMALLEST_PITCH_UM:g} and "
            f"{LARGEST_PITCH_UM:g} um: the sensor's width in mm x 1000 / pixels across"
        )
    if frame is None:
        text = bench_template(EXAMPLE_BODY, EXAMPLE_LENSES, name)
    else:
        from nightglass.bench.starter import gear_from_frame

        text = bench_template(*gear_from_frame(frame, pitch_um), name)
    made = make_bench(folder, text)
    if as_json:
        print_json({"made": [str(path) for path in made]})
        return
    for path in made:
        print(f"made: {path}")
    file = folder / BENCH_FILE_NAME
    print(f'Next: fill in {file}, then plan the session with  nightglass plan "{folder}"')
