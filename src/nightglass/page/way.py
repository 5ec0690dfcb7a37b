"""The way through the job: its steps, how far each is, and what comes next."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from nightglass.bench.tally import Tally, tally
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


def way_of(bench: BenchFile, session: Session) -> tuple[Stop, ...]:
    """Return the steps of a bench with how far each is. Raises StoreError."""
    counts = tally(bench)
    cards = sorted((bench.folder / "out" / CARDS_FOLDER).glob("*.png"))
    measured: Done = "done" if counts.measured else "open"
    return (
        _frames(counts, session, bench),
        Stop(
            "lenses",
            "Lenses",
            measured,
            count_words(len(bench.lenses), "lens").replace("lenss", "lenses"),
            "See the spots of every setting, and the frames behind each number.",
        ),
        Stop(
            "ranking",
            "Ranking",
            measured,
            "ready" if counts.measured else "not yet",
            "Which lens, which setting, and how sure that is.",
        ),
        Stop(
            "card",
            "Card",
            "done" if cards else "open",
            count_words(len(cards), "picture") if cards else "not yet",
            "Make the dim red card for your phone.",
        ),
    )


def next_stop(way: tuple[Stop, ...], key: str) -> Stop | None:
    """Return the first step after this one that is not done; else the one behind it, if any."""
    place = next((k for k, stop in enumerate(way) if stop.key == key), -1)
    later = way[place + 1 :]
    return next((stop for stop in later if stop.done != "done"), later[0] if later else None)


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
