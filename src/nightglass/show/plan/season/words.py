"""Words for the best runs of a season: their span, why they are good, how they are ordered."""

from __future__ import annotations

from nightglass.plan.codes import SeasonCode
from nightglass.plan.night.season import LEAST_HOURS, BestRun, Season
from nightglass.show.plan.night.words import compass


def season_words(season: Season) -> str:
    """Return why the target did not choose the nights; empty where it did."""
    match season.code:
        case None:
            return ""
        case SeasonCode.NO_MOONLESS_DARK:
            return "No night here has half an hour that is dark and moonless."
        case SeasonCode.TARGET_NEVER_IN_THE_DARK:
            return (
                f"The {season.target.name} is never up for half an hour of dark, moonless time "
                "here; the nights are chosen by dark and moonless hours alone."
            )


def order_words(season: Season) -> tuple[str, ...]:
    """Return what the hours are and what puts the runs in their order, a sentence each."""
    if season.code is not None:
        order = ["Hours: dark and moonless. The night with most of them comes first."]
    else:
        order = [
            f"Hours: dark and moonless with the {season.target.name} up. The night with most comes "
            "first;",
            "an hour low in the sky counts for less, as the air takes its light.",
        ]
    return (
        *order,
        "One line is one new moon: its best night, and the nights around it at least half as good.",
        f"A night counts from {60 * LEAST_HOURS:.0f} minutes on.",
    )


def height_words(run: BestRun, season: Season) -> str:
    """Return how high the target gets in a run's best night: "85° north"; empty without it."""
    target = run.night.target
    if season.code is not None or target.best_degrees is None:
        return ""
    return f"{target.best_degrees:.0f}° {compass(target.best_azimuth_degrees or 0.0)}"


def run_span(run: BestRun) -> str:
    """Return the span of a run: "29 May to 10 June 2027", or its one night."""
    last = f"{run.last.day} {run.last:%B %Y}"
    if run.nights == 1:
        return f"{last} only"
    if run.first.year != run.last.year:
        return f"{run.first.day} {run.first:%B %Y} to {last}"
    month = "" if run.first.month == run.last.month else f" {run.first:%B}"
    return f"{run.first.day}{month} to {last}"


def reason_words(run: BestRun, season: Season) -> str:
    """Return why a run's best night is good: moon, hours, how high the target gets."""
    target = run.night.target
    moon = moon_distance(run.days_from_new_moon)
    if season.code is not None or target.best_degrees is None:
        return f"{moon}, {run.hours:.1f} h dark and moonless"
    return (
        f"{moon}, {run.hours:.1f} h dark and moonless with it up, up to {target.best_degrees:.0f}° "
        f"in the {compass(target.best_azimuth_degrees or 0.0)}"
    )


def moon_distance(days: float) -> str:
    """Return how far the new moon is, in words; days since it, negative before it."""
    whole = round(abs(days))
    if whole == 0:
        return "new moon"
    unit = "day" if whole == 1 else "days"
    return f"{whole} {unit} {'after' if days > 0 else 'before'} new moon"
