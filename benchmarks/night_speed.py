"""How long the night planner takes: one night, a year at one place, a frame's trails, start-up.

Run: python benchmarks/night_speed.py
Promised on an idle machine: one night under 0.3 s after start-up, a year under 3 s, the trail map
over a frame under 0.2 s, start-up of the command under 1.5 s. Prints wall and processor seconds
(processor time is what a busy machine leaves comparable); best of three rounds.
"""

from __future__ import annotations

import resource
import subprocess
import sys
import time
from collections.abc import Callable
from datetime import date

from nightglass.almanac.place import place
from nightglass.gear.body import Body
from nightglass.plan.aim import aim_wish, local_time
from nightglass.plan.camera import Shot
from nightglass.plan.night.night import plan_night
from nightglass.plan.night.season import plan_season
from nightglass.plan.night.tonight import plan_tonight

ROUNDS = 3
HERE = place("33.9 S 18.4 E", "Africa/Johannesburg")
SHOT = Shot(Body("full", 4.35, 8256, 5504), 20, 1.8)


def main() -> None:
    """Print one line for each promise."""
    day = date(2027, 6, 4)
    at = local_time("22:30", HERE, day)
    wish = aim_wish("centre of the Milky Way in the left third")
    plan_night(HERE, day)  # start-up: libraries, the ephemeris file
    plan_tonight(SHOT, HERE, at, wish)
    report("one night, hours and moonlight", 0.3, lambda: plan_night(HERE, day))
    report("a year, ten best nights", 3.0, lambda: plan_season(HERE, date(2027, 1, 1), 365))
    report("tonight's frame, map of 37 x 25", 0.2, lambda: plan_tonight(SHOT, HERE, at, wish))
    command = ["night", "--at", "33.9 S 18.4 E", "--date", "2027-06-04"]
    run = [sys.executable, "-m", "nightglass.cli.main", *command]
    report("the command, start-up and one night", 1.5, lambda: started(run))


def report(what: str, promised_s: float, work: Callable[[], object]) -> None:
    """Print the best wall and processor time of a few rounds against the promise."""
    best = []
    for _ in range(ROUNDS):
        wall, cpu = time.perf_counter(), processor_s()
        work()
        best.append((time.perf_counter() - wall, processor_s() - cpu))
    wall_s, cpu_s = min(best)
    print(f"{what:<38} {wall_s:6.3f} s wall {cpu_s:6.3f} s processor  promised {promised_s:g} s")


def processor_s() -> float:
    """Processor time of this process and its children so far."""
    spent = [resource.getrusage(w) for w in (resource.RUSAGE_SELF, resource.RUSAGE_CHILDREN)]
    return sum(s.ru_utime + s.ru_stime for s in spent)


def started(command: list[str]) -> None:
    """Run a command to its end."""
    subprocess.run(command, check=True, stdout=subprocess.DEVNULL)


if __name__ == "__main__":
    main()
