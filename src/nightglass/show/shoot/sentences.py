"""The bench plan in sentences: what it is, what a short one leaves out, what it can't know."""

from __future__ import annotations

import math

from nightglass.shoot.codes import CutCode, DistanceFrom, DistanceProblem
from nightglass.shoot.records import BenchPlan, Cut, Distance
from nightglass.show.shoot.words import (
    DISTANCE_FROM,
    count_words,
    hours_words,
    metres,
    precision_sentences,
    small_percent,
)
from nightglass.show.words import f_number, focal, percent, setting_title, title_of

DISTANCE_NOT_TESTED = (
    "Not tested, and no arithmetic can tell: whether a lens is as good at this distance as at "
    "infinity. Shoot one place from twice as far, or let the night sky decide (nightglass proof)."
)


def opening(plan: BenchPlan) -> list[str]:
    """Return the answer first: what there is to shoot, how long it takes, what it can tell."""
    settings = len({line.setting for line in plan.lines})
    lenses = len({line.setting.lens for line in plan.lines})
    places = max(len(block.lines) for block in plan.blocks)
    what = (
        f"{count_words(lenses, 'lens').replace('lenss', 'lenses')}, "
        f"{count_words(settings, 'setting')} at {count_words(places, 'place')}"
    )
    lines = []
    if plan.cuts:
        lines.append(
            f"The full plan takes {hours_words(plan.full.minutes)} "
            f"({plan.full.frames} frames), more than your {hours_words((plan.hours or 0) * 60)}."
        )
        lines.append(f"This one fits: {what}, {_total(plan)}.")
    else:
        lines.append(f"{what}: {_total(plan)}.")
    lines += added_lines(plan)
    return [*lines, *precision_sentences(plan.precision)]


def added_lines(plan: BenchPlan) -> list[str]:
    """Return what a session adds to, and what ties it to the others; nothing for one by itself."""
    if not plan.on_record or plan.reference is None:
        return []
    on_record = count_words(len(plan.on_record), "setting")
    tie = setting_title(plan.reference)
    return [
        f"{on_record} of earlier sessions stay as they are: this plan has only what is missing.",
        f"Frames of {tie}, at its start, middle and end tie it to them.",
    ]


def _total(plan: BenchPlan) -> str:
    return f"{plan.total.frames} frames in {hours_words(plan.total.minutes)}"


def cut_lines(plan: BenchPlan) -> list[str]:
    """Return what the short plan leaves out, and what each cut costs in certainty."""
    return [cut_sentence(cut, plan) for cut in plan.cuts]


def cut_sentence(cut: Cut, plan: BenchPlan) -> str:
    """Return one cut with its cost."""
    before, after, names = f"{cut.before:g}", f"{cut.after:g}", ", ".join(cut.names)
    zooms = "; ".join(title_of(lens, focal_mm) for lens, focal_mm in cut.zooms)
    if cut.code is CutCode.REPEATS:
        short, full = plan.precision.counts_from_percent, plan.full_precision.counts_from_percent
        now = "no difference counts" if math.isinf(short) else f"a tie under {small_percent(short)}"
        return f"{after} repeats instead of {before}: {now} instead of {small_percent(full)}."
    if cut.code is CutCode.F_NUMBERS:
        kept = "wide open only" if cut.after == 1 else f"the {after} widest f-numbers of {before}"
        return f"{kept[0].upper()}{kept[1:]}: what stopping down further gains stays unknown."
    if cut.code is CutCode.ZOOM_MIDDLES:
        return f"No zoom position between the ends: unknown for {zooms}."
    if cut.code is CutCode.ZOOM_LONG_ENDS:
        return f"Zooms at their short end only: unknown for {zooms}."
    if cut.code is CutCode.PLACES:
        return f"{after} places instead of {before}: a fault at {names} would not be seen."
    if cut.code is CutCode.REFERENCE_ROUNDS:
        return (
            f"{after} reference frames a time instead of {before}: only a large drift would show."
        )
    return f"Left out, not tested: {names}."


def problem_lines(plan: BenchPlan) -> list[str]:
    """Return what the room or the source does not allow, lens by lens."""
    return [line for d in plan.distances for line in _problem(d, plan)]


def _problem(d: Distance, plan: BenchPlan) -> list[str]:
    name = title_of(d.lens, d.focal_mm)
    needs = metres(math.ceil((d.needs_room_m or 0) * 10) / 10)
    if d.problem is DistanceProblem.ROOM_TOO_SHORT:
        return [
            f"{name} can't be tested in this room: with a source of {plan.source_mm:g} mm it takes "
            f"{needs}. A source of at most {mm_down(d.largest_source_mm)} would do here."
        ]
    if d.problem is DistanceProblem.SOURCE_TOO_LARGE and d.source_image_px is not None:
        return [
            f"{name}: the source's image is {d.source_image_px:.2f} px wide at the worst place, "
            f"over half a pixel: take a source of at most {mm_down(d.largest_source_mm)}, or stand "
            f"{metres(d.least_m or 0)} away."
        ]
    if d.problem is DistanceProblem.NO_STAND_BACK:
        return [
            f"{name}: standing back for every place takes {needs}; come nearer, or leave out the "
            "outermost places."
        ]
    return []


def focus_lines(plan: BenchPlan) -> list[str]:
    """Return what focus at the wrong distance would do, for the lens that minds most."""
    spaced = [d for d in plan.distances if d.left_at_infinity_percent is not None]
    worst = max(spaced, key=lambda d: d.left_at_infinity_percent or 0)
    away = metres(worst.distance_m or 0)
    lens = f"{worst.lens} at {focal(worst.focal_mm)} and {f_number(worst.f_number)}"
    return [
        f"Focus on the source, not at infinity: left at infinity, {lens} would blur the source at "
        f"{away} by {percent(worst.left_at_infinity_percent or 0)} of picture height; focused on "
        f"the source it would blur the stars by {percent(worst.star_percent or 0)}.",
        DISTANCE_NOT_TESTED,
    ]


def source_line(plan: BenchPlan) -> str:
    """Return which source serves every lens at its distance."""
    smallest = min(d.largest_source_mm for d in plan.distances if d.largest_source_mm is not None)
    ready = "" if plan.source_mm is None else f" Yours is {plan.source_mm:g} mm."
    return f"A source of at most {mm_down(smallest)} serves every lens here.{ready}"


def distance_line(plan: BenchPlan) -> str:
    """Return why the source stands where it does."""
    froms = {d.distance_from for d in plan.distances}
    why = next((f for f in DistanceFrom if f in froms), DistanceFrom.ASSUMED)
    return f"Distance: {DISTANCE_FROM[why]}."


def mm_down(size_mm: float | None) -> str:
    """Return the size of a source rounded down, so that it keeps its promise: 1.23 mm."""
    if size_mm is None:
        return "?"
    digits = 2 - min(2, max(0, math.floor(math.log10(size_mm)))) if size_mm >= 1 else 2
    step = 10.0**-digits
    return f"{math.floor(size_mm / step + 1e-9) * step:.{digits}f} mm"
