"""How the score's factors stand in a table: titles and cells by the factor's code."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

from nightglass.verdict.records import Worth


@dataclass(frozen=True)
class FactorWords:
    """Title of a factor's column and the text of its cell."""

    title: str
    cell: Callable[[Worth], str]


def title(code: str) -> str:
    """Return the title of a factor's column; a factor without words of its own has its code."""
    return _WORDS[code].title if code in _WORDS else code.replace("_", " ")


def cell(code: str, worth: Worth) -> str:
    """Return the text of a factor's cell."""
    return _WORDS[code].cell(worth) if code in _WORDS else f"{worth.factors[code]:.3g}"


def _thousands(number: float) -> str:
    return f"{number:,.0f}".replace(",", "\N{THIN SPACE}")


_WORDS = {
    "stars": FactorWords("stars seen", lambda worth: _thousands(worth.factors["stars"])),
    "glow": FactorWords("glow, SNR", lambda worth: f"{worth.factors['glow']:.0f}"),
    "stars_on_sky": FactorWords(
        "stars per 1,000 sq. degrees", lambda worth: _thousands(worth.factors["stars_on_sky"])
    ),
    "glow_on_sky": FactorWords(
        "glow per sq. degree, SNR", lambda worth: f"{worth.factors['glow_on_sky']:.0f}"
    ),
}
