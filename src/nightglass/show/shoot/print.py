"""The bench plan on paper."""

from __future__ import annotations

from nightglass.shoot.records import BenchPlan
from nightglass.show.shoot.cautions import CAUTIONS, LOCAL_RULES, REMINDERS
from nightglass.show.shoot.check_list import made_words
from nightglass.show.shoot.sentences import cut_lines, opening, problem_lines, source_line
from nightglass.show.shoot.stations import stations
from nightglass.show.typeset import typeset


def plan_pdf(plan: BenchPlan, name: str) -> bytes:
    """Return the plan as a PDF of A4 pages, a box for each frame."""
    data = {
        "title": f"Bench plan: {name}",
        "footer": f"{name}; plan {plan.stamp}, made {made_words(plan.made)}",
        "opening": opening(plan),
        "cuts": cut_lines(plan),
        "problems": problem_lines(plan),
        "source": source_line(plan),
        "local_rules": LOCAL_RULES,
        "cautions": list(CAUTIONS),
        "reminders": list(REMINDERS),
        "stations": stations(plan),
    }
    return typeset("bench_plan.typ", data, "pdf", plan.made.date())[0]
