"""The command that draws a patch of the sky as two settings record it: nightglass look."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from nightglass.cli.bench_options import BodyOption, JsonOption, PurposeOption, RemoteOption
from nightglass.cli.compare import SettingArgument
from nightglass.cli.doors import print_json


def look(
    folder: Annotated[Path, typer.Argument(help="Bench folder.")],
    one: SettingArgument,
    other: SettingArgument,
    purpose: PurposeOption = None,
    remote: RemoteOption = None,
    place: Annotated[
        str, typer.Option("--place", help="Place of the frame, as bench.toml names it.")
    ] = "centre",
    toward: Annotated[
        str,
        typer.Option("--toward", help='Middle of the patch: a name or "266.4 -29.0" (degrees).'),
    ] = "270.0 -24.0",
    frames: Annotated[
        str | None,
        typer.Option(
            "--frames", help='Frames stacked of each setting, like "1,4". Without it: one of each.'
        ),
    ] = None,
    minutes: Annotated[
        float | None,
        typer.Option("--minutes", help="The same minutes for both, for as many frames as fit."),
    ] = None,
    made_as: Annotated[
        str | None,
        typer.Option(
            "--as",
            help="What each makes of the minutes: single, stack, or a panorama of the other's "
            'field, like "stack,panorama". Without it: stacks.',
        ),
    ] = None,
    body: BodyOption = None,
    as_json: JsonOption = False,
) -> None:
    """Draw one patch of the real sky as two settings record it, and as a viewer would see it.

    Writes look.png (phone, screen and print side by side) and blind.pdf (pairs in random order).
    """
    from nightglass.gear.bag import read_bench_file
    from nightglass.patch.on_record import looked_on_record, patch_wish
    from nightglass.show.body_words import on_body_data, on_body_lines
    from nightglass.show.patch.sheet import write_all
    from nightglass.show.patch.words import look_data, look_lines
    from nightglass.verdict.purpose import with_choices

    bench = with_choices(read_bench_file(folder).on_body(body), purpose, remote)
    wish = patch_wish(bench, place, toward, frames, minutes, made_as)
    found, eye, pairs = looked_on_record(bench, one, other, wish)
    if as_json:
        print_json({**look_data(found), **on_body_data(bench)})
    else:
        print("\n".join((*on_body_lines(bench), *look_lines(found))))
    for path in write_all(found, eye, pairs, bench.folder / "out" / "look"):
        if not as_json:
            print(f"written: {path}")
