"""Commands of the night planner: how many frames (panorama, stack)."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from nightglass.cli.doors import print_json
from nightglass.cli.night_options import OPTIONS, FolderArgument, JsonOption
from nightglass.cli.option_records import with_records
from nightglass.cli.terminal import text_width
from nightglass.plan.wishes import PanoramaWish, StackWish


@with_records(OPTIONS)
def panorama(
    wish: PanoramaWish,
    folder: FolderArgument = Path(),
    out: Annotated[Path | None, typer.Option("--out", help="Folder for picture and list.")] = None,
    as_json: JsonOption = False,
) -> None:
    """Plan rows and columns of frames on the sphere, their order and time, and what they gain."""
    from nightglass.plan.panorama.wished import wished_panorama
    from nightglass.show.plan.panorama.files import write_panorama
    from nightglass.show.plan.panorama.text import panorama_data, panorama_lines

    plan = wished_panorama(wish, folder)
    if as_json:
        print_json(panorama_data(plan))
    else:
        print("\n".join(panorama_lines(plan, text_width())))
    for path in () if out is None else write_panorama(plan, out):
        if not as_json:
            print(f"  written: {path}")


@with_records(OPTIONS)
def stack(
    wish: StackWish,
    folder: FolderArgument = Path(),
    as_json: JsonOption = False,
) -> None:
    """Plan a stack: frames, interval, time, and when more frames stop helping."""
    from nightglass.plan.wished_stack import wished_stack
    from nightglass.show.plan.panorama.stack import stack_data, stack_lines

    plan = wished_stack(wish, folder)
    if as_json:
        print_json(stack_data(plan))
    else:
        print("\n".join(stack_lines(plan, text_width())))
