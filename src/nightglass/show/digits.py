"""Values with their errors, and chances, in words: as many digits as the error allows."""

from __future__ import annotations

import math

FEWEST_LOG10 = -9.0


def plus_minus(value: float, err: float | None, unit: str = "") -> str:
    """Return a value with its error, both to two digits of the error: "2000.4 ± 1.2 px"."""
    if err is None or not math.isfinite(err) or err <= 0:
        return f"{value:.6g} {unit}".strip()
    digits = min(max(1 - math.floor(math.log10(err)), 0), 6)
    return f"{value:.{digits}f} ± {err:.{digits}f} {unit}".strip()


def chance_words(log10: float) -> str:
    """Return a small chance in words: "1 in 20,000", "under 1 in a billion"."""
    if log10 < FEWEST_LOG10:
        return "under 1 in a billion"
    return f"1 in {float(f'{10**-log10:.1g}'):,.0f}"
