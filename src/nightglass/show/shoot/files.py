"""The bench plan on disk: check list, print, table, data."""

from __future__ import annotations

import json
from collections.abc import Iterator
from pathlib import Path

from nightglass.gear.benchfile import BenchFile
from nightglass.shoot.plan import distances_of
from nightglass.shoot.records import BenchPlan
from nightglass.show.csv_rows import csv_text
from nightglass.show.shoot.check_list import check_list
from nightglass.show.shoot.data import plan_data
from nightglass.show.shoot.print import plan_pdf
from nightglass.show.shoot.sheet import how_to_shoot, write_sheet
from nightglass.show.shoot.tables import line_rows
from nightglass.show.whole_file import write_whole

STEM = "bench_plan"


def bench_name(bench: BenchFile) -> str:
    """Return what the bench is called: its name, else that of its folder."""
    return bench.bench.name or bench.folder.resolve().name


def write_plan_and_sheet(plan: BenchPlan, bench: BenchFile) -> tuple[list[Path], Path | None]:
    """Write the plan into out/ of a bench, and its HOW-TO-SHOOT.txt; return the files, and where
    the person's own changes of that sheet are kept, if there were any.

    Raises OSError where the folder can't be written.
    """
    written = list(write_plan(plan, bench_name(bench), bench.folder / "out"))
    sheet, aside = write_sheet(how_to_shoot(bench, distances_of(bench)), bench.folder)
    return [*written, sheet], aside


def write_plan(plan: BenchPlan, name: str, folder: Path) -> Iterator[Path]:
    """Write the plan into a folder (made if missing); yield each file as it is done.

    A file is replaced once the new one is whole. Raises OSError where it can't be written.
    """
    folder.mkdir(parents=True, exist_ok=True)
    yield write_whole(folder / f"{STEM}.html", check_list(plan, name).encode())
    yield write_whole(folder / f"{STEM}.pdf", plan_pdf(plan, name))
    yield write_whole(folder / f"{STEM}.csv", csv_text(line_rows(plan)).encode())
    document = json.dumps(plan_data(plan), ensure_ascii=False, indent=1, allow_nan=False)
    yield write_whole(folder / f"{STEM}.json", document.encode())
