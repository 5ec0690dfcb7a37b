"""nightglass sensor: gain, read noise and dark current from frames anyone can take."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from nightglass.cli.bench_options import BodyOption, ChartOption, FolderArgument, JsonOption
from nightglass.cli.doors import FAILED, print_json

if TYPE_CHECKING:
    from nightglass.gear.benchfile import BenchFile
    from nightglass.gear.sensorfile import Difference, MeasuredSensor
    from nightglass.verdict.sky_noise import SkyNoise


def sensor(
    folder: FolderArgument = Path(),
    frames: Annotated[
        list[Path] | None,
        typer.Argument(help="Raw frames or folders of them.", show_default="sensor/ of the bench"),
    ] = None,
    temperature: Annotated[
        float | None,
        typer.Option("--temperature", help="Temperature of the dark frames, degrees Celsius."),
    ] = None,
    body: BodyOption = None,
    as_json: JsonOption = False,
    charts: ChartOption = True,
) -> None:
    """Measure the camera's sensor from frames with the cap on and of an evenly lit surface.

    The frames of all ISO steps lie mixed in sensor/ of the bench folder and are told apart by
    content and metadata. What is found is kept in sensor.json beside bench.toml, and ISO, stars,
    glow and card use it; what you typed in bench.toml counts before it. Frames that you name add
    their steps to what is kept, the frames in sensor/ replace it. A folder without
    bench.toml is taken for the frames themselves, and nothing is kept. The exit code is 1 if no
    read noise could be measured.
    """
    from datetime import date

    from nightglass.bench.sensorframes import sensor_files
    from nightglass.cli.terminal import progress, text_width
    from nightglass.gear.bag import read_bench_file, read_typed_bench
    from nightglass.gear.sensorfile import differences
    from nightglass.sensor.kept import kept_sensor
    from nightglass.sensor.measure import measure_sensor
    from nightglass.show.sensor.data import sensor_data
    from nightglass.show.sensor.files import write_sensor_chart
    from nightglass.show.sensor.text import difference_lines, report_lines
    from nightglass.sky.photometry.dark_files import filtering_of
    from nightglass.verdict.sky_noise import sky_noises

    files = sensor_files(folder, frames or [])
    typed = read_typed_bench(folder) if (folder / "bench.toml").is_file() else None
    if typed is not None:
        typed = typed.on_body(body)
    with progress(quiet=as_json) as told:
        report = measure_sensor(files, typed.body if typed else None, temperature, told)
    filtered, _ = filtering_of(report.dark_paths)
    written: list[Path] = []
    skies: tuple[SkyNoise, ...] = ()
    different: tuple[Difference, ...] = ()
    if typed is not None and report.measured:
        kept = kept_sensor(report, typed.body, date.today())
        kept, path = _kept(kept, typed, folder, add=bool(frames))
        written.append(path)
        different = tuple(differences(typed.body, kept))
        skies = sky_noises(read_bench_file(folder).on_body(body))
        if charts:
            written += write_sensor_chart(report, skies, folder / "out")
    if as_json:
        files_written = {"written": [str(path) for path in written]}
        print_json({**sensor_data(report, skies, filtered, different), **files_written})
    else:
        print("\n".join(report_lines(report, skies, filtered, text_width())))
        print("\n".join([*difference_lines(different), *(f"written: {path}" for path in written)]))
        print(_next(folder, typed is not None, report.measured))
    if not report.measured:
        raise typer.Exit(FAILED)


def _kept(
    found: MeasuredSensor, bench: BenchFile, folder: Path, *, add: bool
) -> tuple[MeasuredSensor, Path]:
    """Write what was found into sensor.json, beside what it holds of other bodies."""
    from nightglass.gear.sensorfile import (
        beside_others,
        merged,
        read_sensor_file,
        write_sensor_file,
    )

    # Without a need the old file is not read: whatever is in it goes.
    old = read_sensor_file(folder) if add or bench.other_bodies else None
    kept = merged(old, found) if add else found
    return kept, write_sensor_file(folder, beside_others(kept, old, bench.bodies))


def _next(folder: Path, bench: bool, measured: bool) -> str:
    if not measured:
        return "Next: take the frames that are missing (docs/sensor.md) and run the command again"
    if not bench:
        return "Nothing was kept: there is no bench.toml here. Next: nightglass new FOLDER"
    return (
        f'Next: nightglass rank "{folder}" (after nightglass measure "{folder}", which measures '
        "spots anew where electrons per count changed)"
    )
