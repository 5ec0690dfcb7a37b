"""nightglass new: a bench folder to fill in."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from nightglass.cli.doors import MistypedError, UndoneError, print_json


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
    from nightglass.gear.bag import BENCH_FILE_NAME, parse_bench
    from nightglass.gear.kinds import LARGEST_PITCH_UM, SMALLEST_PITCH_UM
    from nightglass.gear.names import name_fault
    from nightglass.gear.template import EXAMPLE_BODY, EXAMPLE_LENSES, bench_template
    from nightglass.shoot.plan import distances_of
    from nightglass.show.shoot.sheet import SHEET_NAME, how_to_shoot

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
    bench = parse_bench(text)
    file = folder / BENCH_FILE_NAME
    if file.exists():
        raise UndoneError(
            f"{file}: there already; nothing was changed. Edit it, or name another folder"
        )
    made = [folder / "frames"]
    made[0].mkdir(parents=True, exist_ok=True)
    sheet = folder / SHEET_NAME
    for path, words in ((file, text), (sheet, how_to_shoot(bench, distances_of(bench)))):
        if not path.exists():
            # "x": another program may have written it since we looked.
            with path.open("x", encoding="utf-8", newline="\n") as stream:
                stream.write(words)
            made.append(path)
    if as_json:
        print_json({"made": [str(path) for path in made]})
        return
    for path in made:
        print(f"made: {path}")
    print(f'Next: fill in {file}, then plan the session with  nightglass plan "{folder}"')
