"""The command that shows the whole way on rendered frames: nightglass demo [FOLDER]."""

from __future__ import annotations

import sys
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from nightglass.cli.doors import MistypedError
from nightglass.cli.terminal import console

if TYPE_CHECKING:
    from nightglass.scene.stage import Staged

BENCH_FOLDER, SKY_FOLDER, SENSOR_FOLDER = "demo-bench", "demo-sky", "demo-sensor"
FOCUS_FOLDER, FLATS_FOLDER, FINISH_FOLDER = "demo-focus", "demo-flats", "demo-finish"
COUNTS = {2: "two", 3: "three", 4: "four", 5: "five"}


def demo(
    folder: Annotated[
        Path | None,
        typer.Argument(
            help="Bench folder to make.",
            show_default=f"{BENCH_FOLDER}, with --sky {SKY_FOLDER}, with --sensor {SENSOR_FOLDER}, "
            f"with --focus {FOCUS_FOLDER}, with --flats {FLATS_FOLDER}, "
            f"with --finish {FINISH_FOLDER}",
        ),
    ] = None,
    sky: Annotated[
        bool,
        typer.Option("--sky", help="The proof on the night sky, with a small bench, instead."),
    ] = False,
    sensor: Annotated[
        bool,
        typer.Option("--sensor", help="The sensor of the club's second body, measured, instead."),
    ] = False,
    focus: Annotated[
        bool,
        typer.Option(
            "--focus", help="A plan, series through focus and a study of exposure, instead."
        ),
    ] = False,
    flats: Annotated[
        bool,
        typer.Option("--flats", help="Two lenses before a white screen, measured, instead."),
    ] = False,
    finish: Annotated[
        bool,
        typer.Option(
            "--finish", help="A frame of the night and three developed pictures of it, instead."
        ),
    ] = False,
) -> None:
    """Render the bench of an invented camera club, then measure it, rank it and make its cards.

    The frames are raw files like a camera's; measuring knows nothing of how they were made.
    Frames that are there already and whole are kept.
    """
    began = time.monotonic()
    demos = {
        "--sky": (sky, _sky_demo, SKY_FOLDER),
        "--sensor": (sensor, _sensor_demo, SENSOR_FOLDER),
        "--focus": (focus, _focus_demo, FOCUS_FOLDER),
        "--flats": (flats, _flats_demo, FLATS_FOLDER),
        "--finish": (finish, _finish_demo, FINISH_FOLDER),
    }
    asked = [name for name, (wanted, _, _) in demos.items() if wanted]
    if len(asked) > 1:
        words = f"{' and '.join(asked)} are {COUNTS[len(asked)]} demos"
        raise MistypedError(f"{words}: ask for one at a time")
    show, usual = demos[asked[0]][1:] if asked else (_bench_demo, BENCH_FOLDER)
    show(folder or Path(usual))
    print(f"The whole demo took {time.monotonic() - began:.0f} s.")


def _bench_demo(folder: Path) -> None:
    from nightglass.cli.card import card
    from nightglass.cli.measure import measure
    from nightglass.cli.rank import rank
    from nightglass.scene.stage import stage_bench

    _staged(stage_bench, folder, f"raw frames of an invented club rendered into {folder}")
    _title("measure", folder)
    measure(folder)
    _title("rank", folder)
    rank(folder)
    _title("card", folder)
    card(folder)
    print()
    print(f"Ranking, tables and charts: {folder / 'out'}")
    print(f"Field cards: {folder / 'out' / 'cards'}")
    print(f'Next: see it in the browser with  nightglass open "{folder}"')


def _sky_demo(folder: Path) -> None:
    from nightglass.cli.measure import measure
    from nightglass.cli.proof import proof
    from nightglass.scene.sky.plan import SITE_PLACE, STARTED_AT
    from nightglass.scene.stage import stage_sky

    _staged(stage_sky, folder, f"raw frames of bench and night sky rendered into {folder}")
    print(f"The night: {SITE_PLACE}, {STARTED_AT:%d %B %Y, %H:%M}, new moon.")
    _title("measure", folder)
    measure(folder)
    _title("proof", folder)
    proof(folder)
    print()
    print(f"The page to look at: {folder / 'out' / 'proof.html'}")


def _sensor_demo(folder: Path) -> None:
    from nightglass.cli.sensor import sensor
    from nightglass.scene.stage import stage_sensor

    _staged(stage_sensor, folder, f"raw frames of the club's second body rendered into {folder}")
    _title("sensor", folder)
    sensor(folder)
    print()
    print(f"The chart to look at: {folder / 'out' / 'sensor_noise.png'}")


def _focus_demo(folder: Path) -> None:
    from nightglass.cli.factors import factors
    from nightglass.cli.focus import focus
    from nightglass.cli.measure import measure
    from nightglass.cli.plan import plan
    from nightglass.scene.stage import stage_focus

    _staged(stage_focus, folder, f"raw frames of the club's small body rendered into {folder}")
    _title("plan", folder)
    plan(folder)
    _title("measure", folder)
    measure(folder)
    _title("focus", folder)
    focus(folder)
    _title("factors", folder)
    factors(folder)
    print()
    print(f"The picture to look at: {folder / 'out' / 'focus.png'}")


def _flats_demo(folder: Path) -> None:
    from nightglass.cli.flats import flats
    from nightglass.cli.measure import measure
    from nightglass.cli.rank import rank
    from nightglass.gear.bag import read_bench_file
    from nightglass.scene.stage import stage_flats
    from nightglass.show.flats.changed import changed_lines
    from nightglass.verdict.on_record import read_on_record

    _staged(stage_flats, folder, f"raw frames of the club's field body rendered into {folder}")
    _title("measure", folder)
    measure(folder)
    _title("flats", folder)
    flats(folder)
    _title("rank", folder)
    rank(folder)
    bench = read_bench_file(folder)
    record = read_on_record(bench)
    without = replace(record, falloffs={}, light={})
    print("\nThe ranking without the flats and with them:")
    print("\n".join(changed_lines(without.ranking(bench), record.ranking(bench))))
    print(f"\nThe chart to look at: {folder / 'out' / 'flats.png'}")


def _finish_demo(folder: Path) -> None:
    from nightglass.cli.finish import finish
    from nightglass.scene.finish_plan import DONE, stage_finish

    paths, made = stage_finish(folder)
    frame, clean, *others = paths
    print(f"{made} pictures of an invented night made in {folder} ({len(paths) - made} were there)")
    for name, done in DONE.items():
        print(f"  {name}: {done}")
    sheets = folder / "out"
    for reference, pictures in ((frame, [clean, *others]), (clean, others)):
        out = sheets / f"against-{reference.stem}"
        named = " ".join(f'"{path}"' for path in pictures)
        print(f'\n$ nightglass finish "{reference}" {named} --out "{out}"', flush=True)
        finish(reference, pictures, out)
    print(f"\nThe pictures to look at: {sheets / 'against-clean'}")


def _staged(stage: Callable[..., Staged], folder: Path, words: str) -> None:
    began = time.monotonic()
    with _progress_bar() as on_progress:
        staged = stage(folder, on_progress)
    kept = len(staged.frames) - staged.rendered
    seconds = time.monotonic() - began
    print(f"{staged.rendered} {words} ({kept} were there), in {seconds:.1f} s")


def _title(command: str, folder: Path) -> None:
    print(f'\n$ nightglass {command} "{folder}"', flush=True)


@contextmanager
def _progress_bar() -> Iterator[Callable[[int, int], None]]:
    """A bar on the terminal's error output, as the other commands have."""
    from rich.progress import BarColumn, MofNCompleteColumn, Progress, TextColumn

    columns = (TextColumn("rendering"), BarColumn(), MofNCompleteColumn())
    with Progress(
        *columns, console=console(stderr=True), transient=True, disable=not sys.stderr.isatty()
    ) as bar:
        task = bar.add_task("", total=None)

        def show(done: int, total: int) -> None:
            bar.update(task, completed=done, total=total)

        yield show
