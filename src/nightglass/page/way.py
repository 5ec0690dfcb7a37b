"""The way through the job: its steps, how far each is, and what comes next."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from nightglass.bench.files import find_files
from nightglass.bench.tally import Tally
from nightglass.gear.benchfile import BenchFile
from nightglass.page.session import Session
from nightglass.show.shoot.words import count_words

Done = Literal["done", "begun", "open"]
CARDS_FOLDER = "cards"


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


def way_of(bench: BenchFile, session: Session, counts: Tally) -> tuple[Stop, ...]:
    """Return the steps of a bench with how far each is; counts: of its frames."""
    out = bench.folder / "out"
    cards = sorted((out / CARDS_FOLDER).glob("*.png"))
    made = sum(1 for _ in out.iterdir()) if out.is_dir() else 0
    measured: Done = "done" if counts.measured else "open"
    yet = "ready" if counts.measured else "not yet"
    place = bench.site.name or bench.site.place
    return (
        _stop("plan", (out / "bench_plan.html").exists(), "made", "What to shoot, in which order."),
        _frames(counts, session, bench),
        Stop("lenses", "Lenses", measured, yet, "See the spots, and the frames behind a number."),
        Stop("ranking", "Ranking", measured, yet, "Which lens, which setting, how sure that is."),
        Stop("compare", "Compare", measured, yet, "Two settings side by side."),
        Stop("checks", "Checks", measured, yet, "Faults of a lens, and what else moves numbers."),
        _folder("camera", "Camera", bench, "sensor", "Which ISO, really."),
        _folder("light", "Light", bench, "flats", "How dark the corners get."),
        _folder("sky", "Sky", bench, "sky", "Hold the bench against frames of the night."),
        _stop("night", place is not None, place or "", "When to go, what to set."),
        _stop("card", bool(cards), count_words(len(cards), "picture"), "The card for your phone."),
        _folder("finish", "Finish", bench, "finish", "What finishing did to your stars."),
        _stop("report", made > 0, count_words(made, "file"), "Take everything away."),
    )


def _stop(key: str, done: bool, says: str, todo: str) -> Stop:
    return Stop(key, key.capitalize(), "done" if done else "open", says if done else "", todo)


def _folder(key: str, title: str, bench: BenchFile, name: str, todo: str) -> Stop:
    """A step with frames of its own, in a folder beside frames/."""
    folder = bench.folder / name
    files = find_files(folder).files if folder.is_dir() else ()
    says = count_words(len(files), "file") if files else ""
    return Stop(key, title, "begun" if files else "open", says, todo)


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
