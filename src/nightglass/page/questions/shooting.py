"""Beside the camera: each frame is measured and judged as it lands in frames/."""

from __future__ import annotations

from nightglass.gear.benchfile import BenchFile
from nightglass.page.asks import Ask, AskedStep, Typed, nothing, told
from nightglass.page.jobs import Tell, Told
from nightglass.shoot.watcher import Said, WatchOptions, watch_folder
from nightglass.show.shoot.watch_text import next_lines, verdict_words


def _watch(bench: BenchFile, typed: Typed, tell: Tell) -> Told:
    said = ["waiting for a frame"]
    count = 0

    def goes_on() -> bool:
        # Raises where the person wants to stop: the watch ends after the frame in hand.
        tell(count, 0, " ".join(said))
        return True

    for event in watch_folder(bench.folder, WatchOptions(goes_on=goes_on)):
        if isinstance(event, Said):
            count += 1
            said = [f"{event.frame.path}: {verdict_words(event.frame)}.", *next_lines(event.now)]
    return told(said)


WATCH = AskedStep(
    "watch",
    "Beside the camera",
    "Let the camera, or a cable, put its files into the folder frames/ of this bench.",
    (
        Ask(
            "watch",
            "Watch the folder",
            "Each frame is measured as it lands; you read whether it is good, and what to shoot "
            "next.",
            "Watch frames/",
            nothing,
            _watch,
        ),
    ),
)
