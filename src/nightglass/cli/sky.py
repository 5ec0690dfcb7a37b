"""nightglass sky: measure stars in frames of the real sky."""

from __future__ import annotations

import sys
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from nightglass.cli.doors import FAILED, in_one_line, print_json
from nightglass.cli.night import AtOption, ZoneOption

if TYPE_CHECKING:
    from nightglass.sky.observe import Observation
    from nightglass.sky.place import Place


def sky(
    files: Annotated[list[Path], typer.Argument(help="Raw files of the night sky.")],
    pitch_um: Annotated[
        float | None, typer.Option("--pitch-um", help="Pixel pitch, if known (um).")
    ] = None,
    focal_mm: Annotated[
        float | None, typer.Option("--focal-mm", help="Focal length, if the file has none (mm).")
    ] = None,
    exposure_s: Annotated[
        float | None,
        typer.Option("--exposure-s", help="True exposure time, if the file has none (s)."),
    ] = None,
    dark: Annotated[
        bool,
        typer.Option("--dark", help="The files are dark frames: is raw data filtered of stars?"),
    ] = False,
    out: Annotated[
        Path | None,
        typer.Option("--map", help="Folder for a map of each frame, as SVG and PNG."),
    ] = None,
    at: AtOption = None,
    zone: ZoneOption = None,
    bench: Annotated[
        Path | None, typer.Option("--bench", help="Bench folder whose bench.toml keeps the site.")
    ] = None,
    as_json: Annotated[bool, typer.Option("--json", help="Print plain data.")] = False,
) -> None:
    """Find the stars of frames, say where they point and what the lens did to the stars.

    A file that can't be read or solved gives its reason; the others go on, and the exit code is 1.
    """
    if dark:
        _filtering(files, as_json)
        return
    from nightglass.frame.errors import FrameError
    from nightglass.frame.open import open_frame
    from nightglass.sky.observe import observe
    from nightglass.sky.told import as_data, in_words

    there = _place(at, zone, bench)
    told: list[dict[str, Any]] = []
    refused: list[dict[str, str]] = []
    for file in files:
        try:
            seen: Observation = observe(open_frame(file), pitch_um, focal_mm, exposure_s=exposure_s)
        except (FrameError, ValueError, OSError) as error:
            refused.append({"file": str(file), "reason": in_one_line(error)})
            print(in_one_line(error), file=sys.stderr)
            continue
        told.append(as_data(seen, str(file)))
        moment = _moment(seen, there, told[-1]) if there else []
        if out is not None and seen.motion is not None:
            told[-1]["map"] = _map(seen, file, out)
        if not as_json:
            print("\n".join([*in_words(seen, str(file)), *moment]))
    if as_json:
        print_json({"frames": told, "refused": refused})
    if refused or not all(frame["solved"] for frame in told):
        raise typer.Exit(FAILED)


def _place(at: str | None, zone: str | None, bench: Path | None) -> Place | None:
    """The place of the options, else of the bench's site; None where neither names one."""
    from nightglass.cli.night import site_of
    from nightglass.plan.where import where

    site = site_of(bench) if bench is not None else None
    known = at is not None or (site is not None and site.place is not None)
    return where(at, zone, None, None, site).place if known else None


def _moment(seen: Observation, place: Place, told: dict[str, Any]) -> list[str]:
    """Add what place and time say to the frame's data; return it in words."""
    from nightglass.sky.ephemeris import DateOutsideEphemerisError
    from nightglass.sky.moment import moment_data, moment_words, sky_moment, taken_at
    from nightglass.sky.refine import Solution

    at, note = taken_at(seen.frame.metadata, place)
    lines = [] if note is None else [note]
    if at is not None and isinstance(seen.solution, Solution):
        try:
            found = sky_moment(seen.solution, seen.found.stars, place, at)
        except DateOutsideEphemerisError as error:
            lines.append(f"clock: {in_one_line(error)}")
        else:
            lines += moment_words(found, place)
            told["moment"] = moment_data(found)
    told["notes"] += [line for line in lines if "moment" not in told or line == note]
    return [f"  {line}" for line in lines]


def _map(seen: Observation, file: Path, folder: Path) -> list[str]:
    """Write the map of a frame; return its files, none where no zone was measured."""
    from nightglass.show.sky_map import ZoneMark, sky_map_svg, write_sky_map

    motion, frame = seen.motion, seen.frame
    if motion is None or all(zone.length_px is None for zone in motion.zones):
        return []
    marks = [
        ZoneMark(
            x_px=zone.x_px,
            y_px=zone.y_px,
            field_radius=zone.field_radius,
            length_px=zone.length_px,
            width_px=zone.width_px,
            angle_degrees=zone.angle_degrees or 0.0,
            trail_px=zone.trail_seen_px,
            stars=zone.stars,
        )
        for zone in motion.zones
    ]
    notes = [motion.words]
    if seen.night is not None and seen.night.falloff is not None:
        notes.append(f"light at the corner: {100 * seen.night.falloff:.0f} % of the centre's")
    folder.mkdir(parents=True, exist_ok=True)
    svg = sky_map_svg(marks, frame.width_px, frame.height_px, file.name, notes)
    return [str(path) for path in write_sky_map(svg, folder / f"map_{file.stem}")]


def _filtering(files: list[Path], as_json: bool) -> None:
    """Print the verdict on dark frames, per exposure mode and time."""
    from nightglass.frame.open import open_frame
    from nightglass.sky.filtering import filtering

    verdicts = filtering([open_frame(file) for file in files])
    if as_json:
        print_json({"filtering": [verdict.as_data() for verdict in verdicts]})
        return
    for verdict in verdicts:
        time = "time not recorded" if verdict.exposure_s is None else f"{verdict.exposure_s:g} s"
        share = "" if verdict.alone_share is None else f", {100 * verdict.alone_share:.0f} % alone"
        print(
            f"{verdict.mode}, {time}, {verdict.frames} frames: {verdict.verdict} "
            f"({verdict.bright} bright samples{share})\n  {verdict.words}"
        )
