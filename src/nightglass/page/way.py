"""The way through the job: its steps, how far each is, and what comes next."""

from __future__ import annotations

from dataclasses import dataclass, replace
from pathlib import Path
from typing import Literal

from nightglass.bench.files import find_files
from nightglass.bench.tally import Tally
from nightglass.gear.benchfile import BenchFile
from nightglass.page.answers import kept_ns
from nightglass.page.session import Session
from nightglass.show.shoot.words import count_words

Done = Literal["done", "begun", "open"]
CARDS_FOLDER = "cards"
RESULTS = {
    "compare": ("out/pair.png", "out/look/look.png"),
    "checks": ("out/factors.svg",),
    "camera": ("sensor.json",),
    "light": ("out/flats.svg",),
    "sky": ("out/sky/sky.html", "out/proof.html"),
    "finish": ("out/finish",),
}
"""What a step leaves on disk once it was done, the commands' results too."""
ASKED = {
    "compare": ("compare", "look"),
    "checks": ("faults", "bodies", "factors"),
    "camera": ("sensor",),
    "light": ("flats",),
    "sky": ("map", "proof"),
    "finish": ("finish",),
}
"""The questions of a step, whose answers are kept."""


@dataclass(frozen=True)
class Stop:
    """One step of the way, as the bar shows it."""

    key: str
    title: str
    done: Done
    says: str
    """How far it is, in a few words."""
    todo: str
    """What to do here, in a sentence."""
    optional: bool = False
    """Whether the job can be finished without it."""


def way_of(bench: BenchFile, session: Session, counts: Tally) -> tuple[Stop, ...]:
    """Return the steps of a bench with how far each is; counts: of its frames."""
    out = bench.folder / "out"
    cards = sorted((out / CARDS_FOLDER).glob("*.png"))
    made = sum(1 for _ in out.iterdir()) if out.is_dir() else 0
    measured: Done = "done" if counts.measured else "open"
    yet = "ready" if counts.measured else "not yet"
    place = bench.site.name or bench.site.place
    return (
        _plan((out / "bench_plan.html").exists(), counts),
        _frames(counts, session, bench),
        Stop("lenses", "Lenses", measured, yet, "See the spots, and the frames behind a number."),
        Stop("ranking", "Ranking", measured, yet, "Which lens, which setting, how sure that is."),
        _asked("compare", bench, yet, "Two settings side by side."),
        _asked("checks", bench, yet, "Faults of a lens, and what else moves numbers."),
        _folder("camera", bench, "sensor", "Which ISO is best, from frames in the dark."),
        _folder("light", bench, "flats", "How dark the corners get."),
        _folder("sky", bench, "sky", "Hold the bench against frames of the night."),
        _stop("night", place is not None, place or "", "When to go, what to set."),
        _stop("card", bool(cards), count_words(len(cards), "picture"), "The card for your phone."),
        _folder("finish", bench, "finish", "What finishing did to your stars."),
        _stop("report", made > 0, count_words(made, "file"), "Take everything away."),
    )


def _stop(key: str, done: bool, says: str, todo: str) -> Stop:
    return Stop(key, key.capitalize(), "done" if done else "open", says if done else "", todo)


def _plan(is_made: bool, counts: Tally) -> Stop:
    stop = _stop("plan", is_made, "made", "What to shoot, in which order.")
    return replace(stop, optional=counts.measured > 0)


def _asked(key: str, bench: BenchFile, yet: str, todo: str) -> Stop:
    """A step that asks of what is on record."""
    done = _made_ns(key, bench) is not None
    says = "looked at" if done else yet
    return Stop(key, key.capitalize(), "done" if done else "open", says, todo, optional=True)


def _folder(key: str, bench: BenchFile, name: str, todo: str) -> Stop:
    """A step with frames of its own, in a folder beside frames/."""
    folder = bench.folder / name
    files = find_files(folder).files if folder.is_dir() else ()
    made_ns = _made_ns(key, bench)
    newest_ns = max((_landed_ns(folder / file.path) for file in files), default=0)
    count = count_words(len(files), "file") if files else ""
    if made_ns is not None and made_ns >= newest_ns:
        return Stop(key, key.capitalize(), "done", count or "on record", todo, optional=True)
    said: tuple[Done, str] = ("begun", f"{count} to work out") if files else ("open", "")
    return Stop(key, key.capitalize(), *said, todo, optional=True)


def _made_ns(key: str, bench: BenchFile) -> int | None:
    """When the newest result of a step was written; None where there is none."""
    files = (bench.folder / name for name in RESULTS[key])
    written = [file.stat().st_mtime_ns for file in files if file.exists()]
    answered = [at for ask in ASKED[key] if (at := kept_ns(bench, ask)) is not None]
    return max([*written, *answered], default=None)


def _landed_ns(file: Path) -> int:
    """When a file came here: a copy keeps the time at which its frame was taken."""
    return file.stat().st_ctime_ns


def _frames(counts: Tally, session: Session, bench: BenchFile) -> Stop:
    if session.jobs.running(bench.folder) is not None and counts.waiting:
        says, done = f"{counts.waiting} to measure", "begun"
    elif counts.waiting:
        says, done = f"{counts.waiting} not measured", "begun"
    elif counts.files:
        says, done = f"{counts.measured} measured", "done"
    else:
        says, done = "none yet", "open"
    todo = "Drop your raw files here; each is measured as it comes."
    return Stop("frames", "Frames", done, says, todo)  # type: ignore[arg-type]
