"""Commands of the night planner: when to go, and what to set (night, season, tonight)."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from nightglass.cli.doors import print_json
from nightglass.cli.night_options import OPTIONS, FolderArgument, JsonOption
from nightglass.cli.option_records import with_records
from nightglass.cli.terminal import text_width
from nightglass.plan.wishes import NightsWish, SeasonWish, TonightWish


@with_records(OPTIONS)
def night(
    wish: NightsWish,
    folder: FolderArgument = Path(),
    as_json: JsonOption = False,
) -> None:
    """Say when it is dark, where the moon is, and when the Milky Way's centre can be seen."""
    from nightglass.plan.night.wished import wished_nights
    from nightglass.show.plan.night.data import night_data
    from nightglass.show.plan.night.text import night_lines, nights_lines

    plans = wished_nights(wish, folder)
    if as_json:
        data = [night_data(plan) for plan in plans]
        print_json(data[0] if len(data) == 1 else data)
    else:
        width = text_width()
        one = len(plans) == 1
        lines = night_lines(plans[0], width) if one else nights_lines(plans, width)
        print("\n".join(lines))


@with_records(OPTIONS)
def season(
    wish: SeasonWish,
    folder: FolderArgument = Path(),
    out: Annotated[
        Path | None,
        typer.Option(
            "--out", help="Folder for picture, table and calendar; without it out/ of the bench."
        ),
    ] = None,
    as_json: JsonOption = False,
) -> None:
    """Draw a year of nights, choose the best of each moonless run, write them as a calendar."""
    from nightglass.plan.night.wished import wished_season
    from nightglass.show.plan.season.files import season_data, write_season
    from nightglass.show.plan.season.text import season_lines

    plan = wished_season(wish, folder)
    files = write_season(plan, folder / "out" if out is None else out)
    if as_json:
        print_json(season_data(plan))
        return
    print("\n".join(season_lines(plan, text_width())))
    print("\n".join(f"  written: {path}" for path in files))


@with_records(OPTIONS)
def tonight(
    wish: TonightWish,
    folder: FolderArgument = Path(),
    out: Annotated[Path | None, typer.Option("--out", help="Folder for the picture.")] = None,
    as_json: JsonOption = False,
) -> None:
    """Give the longest times for one frame of tonight's sky, and draw its trails."""
    from nightglass.plan.night.wished_tonight import wished_tonight
    from nightglass.show.plan.night.tonight_picture import write_tonight
    from nightglass.show.plan.night.tonight_text import tonight_data, tonight_lines

    plan = wished_tonight(wish, folder)
    if as_json:
        print_json(tonight_data(plan))
    else:
        print("\n".join(tonight_lines(plan, text_width())))
    for path in () if out is None else write_tonight(plan.settings, out):
        if not as_json:
            print(f"  written: {path}")
