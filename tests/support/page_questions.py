"""Questions that behave badly; processes apart import this module by its name."""

import os
import time
from pathlib import Path

import numpy as np

from nightglass.page.jobs import Told


def answers(bench, typed, tell):
    tell(1, 2, "a.dng")
    return Told((typed.text("words") or "", str(os.getpid())), (bench.folder / "out" / "a.svg",))


def eats(bench, typed, tell):
    tell(0, 1, "large.dng")
    return Told((str(np.ones(300_000_000)[-1]),))


def dies(bench, typed, tell):
    tell(0, 1, "broken.dng")
    os._exit(9)


def hangs(bench, typed, tell):
    tell(0, 1, "endless.dng")
    Path(typed.text("note") or os.devnull).write_text(str(os.getpid()))
    time.sleep(120)
    return Told()


def goes_on(bench, typed, tell):
    while True:
        tell(1, 9, "one of many.dng")
        time.sleep(0.02)


def is_wrong(bench, typed, tell):
    return {}["no such key"]


def refuses(bench, typed, tell):
    raise ValueError("nothing to measure; drop frames first")
