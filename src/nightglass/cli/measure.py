"""nightglass measure: measure what is new or changed in a bench folder."""

from __future__ import annotations

import dataclasses
import sys
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from nightglass.cli.doors import FAILED, by_reason, counted, print_json, shortened
from nightglass.cli.terminal import console

if TYPE_CHECKING:
    from nightglass.bench.measuring.measure import MeasureReport, Progress
    from nightglass.bench.records import SettingResult, ZoneResult


def measure(
    folder: Annotated[Path, typer.Argument(help="Bench folder.")] = Path(),
    workers: Annotated[
        int | None, typer.Option("--workers", min=1, help="Processes; without it one per core.")
    ] = None,
    check: Annotated[
        bool,
        typer.Option(
            "--check",
            help="Read every file on record again and compare its whole content, not only its "
            "size and time of change.",
        ),
    ] = False,
    as_json: Annotated[bool, typer.Option("--json", help="Print plain data.")] = False,
) -> None:
    """Measure the raw frames below frames/ and put each result on record as it comes.

    What is on record and unchanged is skipped. Stop it at any moment: nothing is lost, and the
    same command goes on. The exit code is 1 if no frame on record can be used.
    """
    from nightglass.bench.measuring.measure import measure_folder
    from nightglass.bench.study.repeats import results_on_record
    from nightglass.gear.bag import read_bench_file

    with _progress_bar() as on_progress:
        report = measure_folder(folder, workers=workers, check=check, on_progress=on_progress)
    results = results_on_record(read_bench_file(folder))
    ranked = any(zone.frames for result in results for zone in result.zones)
    usable = ranked or bool(report.in_series)
    if as_json:
        fault = (
            None if usable else "no frame on record can be used; `refused` and `not_used` say why"
        )
        data = {**dataclasses.asdict(report), "settings": [_setting_data(r) for r in results]}
        print_json(data, fault)
    else:
        print("\n".join(report_lines(report, results, folder)))
    if not usable:
        raise typer.Exit(FAILED)


def report_lines(
    report: MeasureReport, results: tuple[SettingResult, ...], folder: Path
) -> Iterator[str]:
    """Yield what was done, what was not and why, and the next step."""
    yield (
        f"{counted(report.files, 'file')}: {len(report.measured)} measured now, "
        f"{report.unchanged} unchanged, {len(report.refused)} refused, in {report.seconds:.1f} s"
    )
    sections = (
        ("Refused", report.refused),
        ("Measured, but belonging to no setting of bench.toml", report.not_used),
        (
            "In series for a study, kept out of the ranking",
            [(path, f'series "{name}"') for path, name in report.in_series],
        ),
        ("Left for the next run", report.left),
        ("Same content, measured once", [(a, f"the same as {b}") for a, b in report.duplicates]),
        ("Moved", [(new, f"was {old}") for old, new in report.moved]),
    )
    for title, pairs in sections:
        if pairs:
            yield f"{title}:"
            yield from (f"  {line}" for line in by_reason(pairs))
    if report.missing:
        yield f"On record, but gone from frames/ (not used): {shortened(report.missing)}"
    yield from report.hints
    zones = [zone for result in results for zone in result.zones if zone.frames]
    if not zones and report.in_series:
        yield "No frame on record counts for the ranking; frames of a series never do."
        yield (
            f'Next: what the series say, with  nightglass focus "{folder}"  or  '
            f'nightglass factors "{folder}"'
        )
        return
    if not zones:
        yield f'Next: mend what is named above, then  nightglass measure "{folder}"'
        return
    yield (
        f"On record: {counted(len(results), 'setting')} at {counted(len(zones), 'place')}, "
        f"{counted(sum(zone.frames for zone in zones), 'frame')}"
    )
    alone = sum(zone.error_source == "photons alone" for zone in zones)
    if alone:
        yield (
            f"{alone} of them with one frame only: their error bars come from photons alone and "
            "leave out focus and repetition; shoot at least 3 with refocusing"
        )
    yield f'Next: rank the lenses with  nightglass rank "{folder}"'


def _setting_data(result: SettingResult) -> dict[str, Any]:
    return {
        **dataclasses.asdict(result.setting),
        "sessions": result.sessions,
        "notes": result.notes,
        "zones": [_zone_data(zone) for zone in result.zones],
    }


def _zone_data(zone: ZoneResult) -> dict[str, Any]:
    data = dataclasses.asdict(dataclasses.replace(zone, stamp=None))
    del data["stamp"]
    return data


@contextmanager
def _progress_bar() -> Iterator[Callable[[Progress], None]]:
    """A bar on the terminal's error output, so that standard output stays clean for data."""
    from rich.progress import (
        BarColumn,
        MofNCompleteColumn,
        TextColumn,
        TimeRemainingColumn,
    )
    from rich.progress import (
        Progress as Bar,
    )

    columns = (
        TextColumn("measuring"),
        BarColumn(),
        MofNCompleteColumn(),
        TextColumn("left:"),
        TimeRemainingColumn(),
        TextColumn("{task.description}", markup=False),
    )
    with Bar(
        *columns, console=console(stderr=True), transient=True, disable=not sys.stderr.isatty()
    ) as bar:
        task = bar.add_task("", total=None)

        def show(progress: Progress) -> None:
            bar.update(
                task,
                completed=progress.done,
                total=progress.total,
                description=progress.path[-40:],
            )

        yield show
