"""The factors of the score as columns of the printed table."""

from __future__ import annotations

from collections.abc import Callable

from nightglass.show.words import thousands
from nightglass.verdict import factors
from nightglass.verdict.records import Worth


def factor_cells(worth: Worth) -> dict[str, str]:
    """Return column titles and texts, in the order of the factors."""
    return dict(
        CELLS[factor.name](worth)
        if factor.name in CELLS
        else (factor.name, f"{factor.value(worth):.3g}")
        for factor in factors.FACTORS
    )


def _stars(worth: Worth) -> tuple[str, str]:
    return "stars (merged)", f"{thousands(worth.stars)}\n({thousands(worth.stars_lost_to_cap)})"


CELLS: dict[str, Callable[[Worth], tuple[str, str]]] = {
    "stars": _stars,
    "glow": lambda worth: ("glow", f"{worth.glow:.0f}"),
}
"""Factors that are written in a way of their own; others stand with three digits."""
