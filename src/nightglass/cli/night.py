"""Commands of the night planner: when to go (night, season)."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from datetime import date as Date  # noqa: N812
from pathlib import Path
from typing import Annotated

import typer

from nightglass.cli import night_gear as gear
from nightglass.cli.doors import MistypedError, print_json
from nightglass.gear.benchfile import Site
from nightglass.plan.where import Where, where

AtOption = Annotated[
    str | None,
    typer.Option(
        "--at",
        help='Place: "52.1 N 4.4 E", or the name of the site of bench.toml; without it that site.',
    ),
]
ZoneOption = Annotated[
    str | None, typer.Option("--zone", help="Time zone, like Europe/Paris or UTC+2.")
]
HeightOption = Annotated[
    float | None, typer.Option("--height", help="Height of the place above the sea (m).")
]
HorizonOption = Annotated[
    str | None,
    typer.Option(
        "--horizon", help='Height of the land (degrees): "10", "0:5, 60:12, ..." or a file of it.'
    ),
]
TargetOption = Annotated[
    str,
    typer.Option("--target", help='Name, or right ascension and declination: "266.4 -29.0".'),
]
BenchOption = Annotated[
    Path, typer.Option("--bench", help="Bench folder whose bench.toml keeps site and gear.")
]
SkyOption = Annotated[
    float | None,
    typer.Option("--sky", help="Your sky without moon (magnitudes per square arcsecond)."),
]
JsonOption = Annotated[bool, typer.Option("--json", help="Print plain data instead of text.")]


def night(
    at: AtOption = None,
    date: Annotated[
        str | None,
        typer.Option("--date", help="2027-05-06, 2027-05-06..2027-05-12, 2027-05 or 2027."),
    ] = None,
    zone: ZoneOption = None,
    height: HeightOption = None,
    horizon: HorizonOption = None,
    target: TargetOption = "centre of the Milky Way",
    sky: SkyOption = None,
    bench: BenchOption = Path(),
    as_json: JsonOption = False,
) -> None:
    """Say when it is dark, where the moon is, and when the Milky Way's centre can be seen."""
    from nightglass.almanac.night import nights
    from nightglass.plan import dates, targets
    from nightglass.plan.night.night import SkyAssumed, plan_of
    from nightglass.show.plan.night.data import night_data
    from nightglass.show.plan.night.text import night_lines, nights_table

    there = place_of(at, zone, height, horizon, bench)
    first, count = dates.span(date) if date else (today(there), 1)
    found = nights(there.place, first, count, targets.target(target), there.horizon)
    assumed = SkyAssumed() if sky is None else SkyAssumed(dark_zenith_mag=sky)
    plans = [plan_of(one, there.horizon, assumed) for one in found]
    if as_json:
        data = [night_data(plan) for plan in plans]
        print_json(data[0] if count == 1 else data)
    elif count == 1:
        print("\n".join(night_lines(plans[0])))
    else:
        print_table(nights_table(plans))
        words = (*plans[0].cautions, plans[0].knows_not)
        print("\n".join(["", "Before you go", *(f"  - {c}" for c in words)]))


def season(
    at: AtOption = None,
    date: Annotated[
        str | None, typer.Option("--from", help="First night; without it tonight.")
    ] = None,
    nights_ahead: Annotated[int, typer.Option("--nights", help="How many nights.")] = 365,
    out: Annotated[
        Path | None,
        typer.Option(
            "--out", help="Folder for picture, table and calendar; without it out/ of --bench."
        ),
    ] = None,
    zone: ZoneOption = None,
    height: HeightOption = None,
    horizon: HorizonOption = None,
    target: TargetOption = "centre of the Milky Way",
    bench: BenchOption = Path(),
    as_json: JsonOption = False,
) -> None:
    """Draw a year of nights, choose the ten best and write them as a calendar."""
    from nightglass.plan import dates, targets
    from nightglass.plan.night.season import plan_season
    from nightglass.show.plan.season.files import season_data, write_season
    from nightglass.show.plan.season.text import season_lines

    there = place_of(at, zone, height, horizon, bench)
    first = dates.day(date) if date else today(there)
    plan = plan_season(there.place, first, nights_ahead, targets.target(target), there.horizon)
    files = write_season(plan, bench / "out" if out is None else out)
    if as_json:
        print_json(season_data(plan))
        return
    print("\n".join(season_lines(plan)))
    print("\n".join(f"  written: {path}" for path in files))


def place_of(
    at: str | None, zone: str | None, height: float | None, horizon: str | None, bench: Path
) -> Where:
    """Return place and horizon of the options, with the site of bench.toml behind them."""
    return where(at, zone, height, horizon, site_of(bench))


def site_of(bench: Path) -> Site:
    """Return the site that bench.toml keeps; an empty one without a bench folder."""
    from nightglass.gear.bag import read_bench_file

    if (bench / "bench.toml").is_file():
        return read_bench_file(bench).site
    if bench != Path():
        raise MistypedError(
            f"--bench {bench}: there is no bench.toml in it; name a bench folder, or leave --bench "
            "out and give --at"
        )
    return Site()


def today(there: Where) -> Date:
    """Return the date of the coming or running night at a place."""
    return (datetime.now(UTC) - timedelta(hours=12)).astimezone(there.place.zone).date()


def print_table(rows: list[list[str]]) -> None:
    """Print rows of text in aligned columns, the first row as their head."""
    widths = [max(len(row[k]) for row in rows) for k in range(len(rows[0]))]
    for row in rows:
        print(
            "  ".join(cell.ljust(width) for cell, width in zip(row, widths, strict=True)).rstrip()
        )


def tonight(
    aim: Annotated[
        str,
        typer.Option(
            "--aim",
            help='Azimuth and height, "180 25", or "centre of the Milky Way in the left third".',
        ),
    ] = "centre of the Milky Way in the middle",
    at: AtOption = None,
    date: Annotated[str | None, typer.Option("--date", help="Evening of the night.")] = None,
    time: Annotated[
        str | None, typer.Option("--time", help="Local clock, 23:15; without it the best time.")
    ] = None,
    lens: gear.LensOption = None,
    focal: gear.FocalOption = None,
    aperture: gear.ApertureOption = None,
    sensor: gear.SensorOption = None,
    pixels: gear.PixelsOption = None,
    portrait: gear.PortraitOption = None,
    roll: Annotated[float, typer.Option("--roll", help="Camera turned clockwise (degrees).")] = 0,
    trail: gear.LimitOption = None,
    zone: ZoneOption = None,
    height: HeightOption = None,
    horizon: HorizonOption = None,
    bench: BenchOption = Path(),
    out: Annotated[Path | None, typer.Option("--out", help="Folder for the picture.")] = None,
    as_json: JsonOption = False,
) -> None:
    """Give the longest times for one frame of tonight's sky, and draw its trails."""
    from nightglass.almanac.ephemeris import MILKY_WAY_CENTRE
    from nightglass.almanac.night import nights
    from nightglass.plan import aim as aims
    from nightglass.plan import dates
    from nightglass.plan.night.land import BLUE_HOUR_DEGREES, ISO_TAKEN, land_exposure, land_focus
    from nightglass.plan.night.tonight import plan_tonight
    from nightglass.show.plan.night.tonight_text import tonight_data, tonight_lines

    there = place_of(at, zone, height, horizon, bench)
    chosen = gear.gear_choice(bench, lens, focal, aperture, sensor, pixels, portrait)
    wish = aims.aim_wish(aim, roll)
    evening = dates.day(date) if date else today(there)
    if time is not None:
        moment = aims.local_time(time, there.place, evening)
    else:
        star = wish.target or MILKY_WAY_CENTRE
        (night_found,) = nights(there.place, evening, 1, star, there.horizon)
        moment = aims.best_time(night_found)
    plan = plan_tonight(
        chosen.shot, there.place, moment, wish, there.horizon, chosen.tolerance(trail), roll
    )
    if as_json:
        print_json(tonight_data(plan))
    else:
        shot = chosen.shot
        focus = land_focus(shot.focal_mm, shot.f_number, shot.width_mm, shot.height_mm)
        iso = plan.iso.iso or ISO_TAKEN
        light = land_exposure(shot.f_number, iso, plan.moon_degrees, plan.moon_phase_angle_degrees)
        land = (
            f"Land: {focus.words}",
            *((light.words,) if plan.sun_degrees < BLUE_HOUR_DEGREES[1] else ()),
        )
        print("\n".join(tonight_lines(plan, (*land, *chosen.notes))))
    if out is not None:
        from nightglass.show.outlined import write_picture
        from nightglass.show.plan.night.tonight_picture import tonight_picture

        written = write_picture(tonight_picture(plan), out / "tonight.svg", out / "tonight.png")
        if not as_json:
            print("\n".join(f"  written: {path}" for path in written))
