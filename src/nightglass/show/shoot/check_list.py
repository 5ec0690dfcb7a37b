"""The check list for the phone: one page without anything from outside, that remembers ticks.

Ticks stay on the phone (localStorage), by the bench and the line, so that a plan made anew finds
those of the lines that it still has, and says how many belong to lines that are gone.
"""

from __future__ import annotations

import base64
import hashlib
from datetime import datetime
from functools import lru_cache

from nightglass.shoot.records import BenchPlan
from nightglass.show.page import made, render
from nightglass.show.reds import LINE_RED, WORD_RED
from nightglass.show.shoot.cautions import REMINDERS, SHORT_CAUTIONS
from nightglass.show.shoot.sentences import cut_lines, opening, problem_lines, source_line
from nightglass.show.shoot.stations import stations
from nightglass.show.typeset import TEMPLATE_FOLDER

SCRIPT_NAME = "check_list.js"


def check_list(plan: BenchPlan, name: str) -> str:
    """Return the page; name: of the bench, under which the phone keeps the ticks."""
    script = _script()
    digest = base64.b64encode(hashlib.sha256(script.encode()).digest()).decode()
    return render(
        "check_list.html",
        title=f"Bench plan: {name}",
        word_red=WORD_RED,
        line_red=LINE_RED,
        script=made(script),
        script_hash=digest,
        name=name,
        stamp=plan.stamp,
        made_on=made_words(plan.made),
        opening=opening(plan),
        cuts=cut_lines(plan),
        problems=problem_lines(plan),
        source=source_line(plan),
        stations=stations(plan),
        reminders=REMINDERS,
        cautions=SHORT_CAUTIONS,
        minutes=plan.total.minutes,
    )


def made_words(moment: datetime) -> str:
    """Return when a plan was made, in the time of this computer."""
    local = moment.astimezone()
    return f"{local.day} {local:%B %Y, %H:%M}"


@lru_cache(maxsize=1)
def _script() -> str:
    return (TEMPLATE_FOLDER / SCRIPT_NAME).read_text(encoding="utf-8").strip()
