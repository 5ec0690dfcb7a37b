"""nightglass sky: measure stars in frames of the real sky."""

from __future__ import annotations

import sys
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from nightglass.cli.doors import (
    FAILED,
    STOPPED,
    MistypedError,
    counted,
    print_json,
    refuse_unless_above_zero,
    stopped_line,
    warn,
)
from nightglass.cli.night_options import AtOption, ZoneOption
from nightglass.cli.terminal import write_over

if TYPE_CHECKING:
    from nightglass.almanac.place import Place
    from nightglass.bench.kept import Keeper
    from nightglass.gear.benchfile import BenchFile
    from nightglass.show.sky.frame_report import FrameReport, Known
    from nightglass.show.sky.report import Section
    from nightglass.sky.photometry.filtering import Filtering

NOTHING_GIVEN = (
    "no frames given: name raw files of the night sky or a folder of them, or dark frames with "
    "--dark"
)


def sky(
    files: Annotated[
        list[Path] | None, typer.Argument(help="Raw files of the night sky, or folders of them.")
    ] = None,
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
        list[Path] | None,
        typer.Option(
            "--dark",
            help="A dark frame or a folder of them (may be given again): does the body erase "
            "small stars in its raw files?",
        ),
    ] = None,
    report: Annotated[
        Path | None,
        typer.Option(
            "--report",
            help="Folder for one page (sky.html) and the map and stars of each frame, as SVG and "
            "PNG.",
        ),
    ] = None,
    at: AtOption = None,
    zone: ZoneOption = None,
    bench: Annotated[
        Path | None,
        typer.Option(
            "--bench",
            help="Bench folder: its bench.toml keeps the site, its store what was measured.",
        ),
    ] = None,
    as_json: Annotated[bool, typer.Option("--json", help="Print plain data.")] = False,
) -> None:
    """Find the stars of frames, say where they point and what the lens did to the stars.

    Frames are worked on by all cores and told in the order given. A file that can't be read or
    solved gives its reason; the others go on, and the exit code is 1.
    """
    from nightglass.bench.files import files_of
    from nightglass.show.sky.frame_report import Known

    given = {"--pitch-um": pitch_um, "--focal-mm": focal_mm, "--exposure-s": exposure_s}
    _refuse_mistyped(given, report)
    frames, darks = files_of(files or []), files_of(dark or [])
    if not frames and not darks:
        raise MistypedError(NOTHING_GIVEN)
    if report is not None:
        report.mkdir(parents=True, exist_ok=True)
    known = Known(pitch_um, focal_mm, exposure_s, _place(at, zone, bench), report is not None)
    out = _Out(as_json, report)
    with _keeper(bench, frames) as (keeper, file):
        try:
            _tell_frames(frames, known, keeper, file, out)
            if darks:
                _tell_darks(darks, out)
        except KeyboardInterrupt:
            out.stopped = True
    out.finish()
    out.lines(_next(known, out))
    if out.stopped:
        raise typer.Exit(STOPPED)
    if out.fault() is not None:
        raise typer.Exit(FAILED)


@contextmanager
def _keeper(bench: Path | None, frames: list[Path]) -> Iterator[tuple[Keeper, BenchFile | None]]:
    """Find and keep results in the store of the bench: the one named, else the one whose folder
    sky/ holds all the frames. Loose frames have none and are measured each time."""
    from nightglass.bench.kept import Keeper
    from nightglass.bench.skyframes import bench_of
    from nightglass.bench.store.store import open_store
    from nightglass.gear.bag import read_bench_file
    from nightglass.show.sky.frame_report import KIND

    folder = bench if bench is not None else bench_of(frames)
    if folder is None or not (folder / "bench.toml").is_file():
        yield Keeper(None, KIND, warn), None
        return
    file = read_bench_file(folder)
    store = open_store(file)
    try:
        yield Keeper(store, KIND, warn), file
    finally:
        store.close()


def _refuse_mistyped(given: Mapping[str, float | None], report: Path | None) -> None:
    refuse_unless_above_zero(given)
    if report is not None and report.exists() and not report.is_dir():
        raise MistypedError(f"--report {report}: this is a file; name a folder, a new one or not")


@dataclass
class _Out:
    """What was told so far, and where it goes."""

    as_json: bool
    report: Path | None
    stopped: bool = False

    def __post_init__(self) -> None:
        self.told: list[dict[str, Any]] = []
        self.refused: list[dict[str, str]] = []
        self.sections: list[Section] = []
        self.verdicts: tuple[Filtering, ...] = ()
        self.stems: set[str] = set()

    def lines(self, lines: list[str]) -> None:
        """Print lines, at once; as plain data nothing is printed before the end."""
        if not self.as_json:
            print("\n".join(lines), end="\n" if lines else "", flush=True)

    def refuse(self, name: str, reason: str) -> None:
        """Keep a reason and tell it."""
        self.refused.append({"file": name, "reason": reason})
        text = reason if name in reason else f"{name}: {reason}"
        print(text, file=sys.stderr, flush=True)

    def progress(self, number: int, count: int, name: str) -> None:
        """On a terminal say which frame is awaited; the next line writes over it."""
        if not self.as_json and count > 1 and sys.stderr.isatty():
            text = f"frame {number} of {count}: {name}" if name else ""
            write_over(text)

    def finish(self) -> None:
        """Write the page and print the one document of plain data."""
        from nightglass.show.sky.words.filter import filtering_data

        page = self._page()
        if self.as_json:
            data: dict[str, Any] = {"frames": self.told, "refused": self.refused}
            if self.verdicts:
                data["filtering"] = [filtering_data(verdict) for verdict in self.verdicts]
            if page is not None:
                data["report"] = str(page)
            fault = stopped_line("sky") if self.stopped else self.fault()
            stopped = {"stopped": True} if self.stopped else {}
            print_json(data | stopped, fault, STOPPED if self.stopped else FAILED)

    def fault(self) -> str | None:
        """Say how many files gave no answer; None if all did."""
        missed = len(self.refused) + sum(not frame["solved"] for frame in self.told)
        words = f"{counted(missed, 'file')} not read or not solved; `refused` and `frames` say why"
        return words if missed else None

    def _page(self) -> Path | None:
        from nightglass.show.sky.report import report_html, write_report

        if self.report is None or not (self.sections or self.verdicts):
            return None
        page = write_report(report_html(self.sections, self.verdicts), self.report)
        self.lines([f"written: {page}"])
        return page


def _tell_frames(
    frames: list[Path], known: Known, keeper: Keeper, bench: BenchFile | None, out: _Out
) -> None:
    from nightglass.frame.many import in_order
    from nightglass.show.sky.frame_report import frame_report, keep_report

    results = in_order(lambda file: frame_report(file, known, keeper), frames)
    for number, file in enumerate(frames, start=1):
        out.progress(number, len(frames), file.name)
        found = next(results)
        out.progress(number, len(frames), "")
        if found.reason is not None:
            out.refuse(str(file), found.reason)
            continue
        keep_report(found, keeper, bench)
        out.told.append(found.data)
        written = _pictures(found, file, out)
        out.lines([*found.lines, *(f"  written: {path}" for path in written)])


def _pictures(found: FrameReport, file: Path, out: _Out) -> list[Path]:
    """Write a frame's pictures; they are named after the file, and none over another."""
    from nightglass.show.sky.report import write_pictures
    from nightglass.show.words import file_stem

    if out.report is None or found.section is None:
        return []
    out.sections.append(found.section)
    written = write_pictures(found.svgs, out.report, file_stem(file.stem, out.stems))
    found.data["pictures"] = [str(path) for path in written]
    return written


def _tell_darks(darks: list[Path], out: _Out) -> None:
    """Tell the verdict on dark frames, per exposure mode and time."""
    from nightglass.show.sky.filter_chart import filter_svg
    from nightglass.show.sky.report import write_pictures
    from nightglass.show.sky.words.filter import filtering_advice, filtering_lines
    from nightglass.sky.photometry.dark_files import filtering_of

    out.verdicts, refused = filtering_of(darks)
    for name, reason in refused:
        out.refuse(name, reason)
    if not out.verdicts:
        return
    for verdict in out.verdicts:
        out.lines(filtering_lines(verdict))
    out.lines([filtering_advice(out.verdicts)])
    if out.report is not None:
        written = write_pictures({"filtering": filter_svg(out.verdicts)}, out.report, "darks")
        out.lines([f"  written: {path}" for path in written])


def _next(known: Known, out: _Out) -> list[str]:
    """What more a person could ask for, after frames that were solved."""
    solved = [frame for frame in out.told if frame["solved"]]
    timed = any(frame["taken_at"] for frame in solved)
    open_time = any(frame["exposure_s"] is None for frame in solved)
    ways = [
        "--exposure-s SECONDS tells the lens from the trails" if open_time else "",
        "--report FOLDER draws the map" if out.report is None else "",
        '--at "52.1 N 4.4 E" tells moon, twilight and clock'
        if known.place is None and timed
        else "",
    ]
    named = "; ".join(way for way in ways if way)
    return [f"Next: {named}"] if solved and named and not out.stopped else []


def _place(at: str | None, zone: str | None, bench: Path | None) -> Place | None:
    """The place of the options, else of the bench's site; None where neither names one."""
    from nightglass.plan.where import site_of, where

    site = site_of(bench) if bench is not None else None
    if at is None and (site is None or site.place is None):
        if bench is not None:
            raise MistypedError(f"--bench {bench}: {_no_site(bench)}; name the place with --at")
        if zone is not None:
            raise MistypedError("--zone belongs to a place: name it with --at, or --bench")
        return None
    try:
        return where(at, zone, None, None, site).place
    except ValueError as error:
        raise MistypedError(str(error)) from error


def _no_site(bench: Path) -> str:
    if (bench / "bench.toml").is_file():
        return "its bench.toml keeps no place under [site]"
    return "there is no bench.toml in it"
