"""The cautions under every plan: whole where a person meets them first, short where they repeat.

`night` and `season` say when to go and come first: they carry the whole list. `tonight`,
`panorama` and `stack` follow them.
"""

from __future__ import annotations

from nightglass.plan.codes import CautionCode

CAUTIONS: dict[CautionCode, str] = {
    CautionCode.DARK_GROUND: "A moonless place is a dark place: see the ground by daylight first, "
    "and carry a headlamp and a spare.",
    CautionCode.NOT_ALONE: "Do not go alone if you can help it; tell someone where you are and "
    "when you will be back.",
    CautionCode.WARNINGS: "Check weather, wind, tides, avalanche and fire warnings from the local "
    "services.",
    CautionCode.ROADS: "Keep off roads and rails; where there is traffic, wear something that "
    "shines.",
    CautionCode.COLD: "Dress for standing still: the coldest hour comes before dawn.",
    CautionCode.BATTERIES: "Cold empties batteries: keep spares, and the phone, close to your "
    "body.",
    CautionCode.ACCESS: "Follow local rules on access, parks, private land and wildlife; ask where "
    "it is unclear.",
    CautionCode.LASERS: "Never point a laser at the sky where aircraft fly, nor at people or "
    "animals.",
    CautionCode.SUN: "Never aim a lens or an optical finder at the sun; cap lenses left out by "
    "day.",
    CautionCode.SKY_ALONE: "This plan knows the sky alone: nothing of the ground, the weather, "
    "other people or the law. Local rules and people who know the place come first.",
}
OF_THE_NIGHT = tuple(w for code, w in CAUTIONS.items() if code is not CautionCode.SKY_ALONE)
KNOWS_NOT = CAUTIONS[CautionCode.SKY_ALONE]
_SHORT = (
    "See the ground by daylight; take company, a headlamp and warm things; tell someone where you "
    "are.",
    "Check the weather and the local warnings; keep off roads and private land.",
    "No laser near aircraft, people or animals; no lens or finder towards the sun.",
    "This plan knows the sky alone; local rules and people who know the place come first.",
)


def short_cautions() -> list[str]:
    """Return the cautions in short, and where the whole list stands."""
    title = "Before you go (the whole list:  nightglass night)"
    return [title, *(f"  - {words}" for words in _SHORT)]


def whole_cautions() -> list[str]:
    """Return every caution, a line each, under its title."""
    return ["Before you go", *(f"  - {words}" for words in CAUTIONS.values())]


def caution_data() -> list[str]:
    """Return the codes of all cautions, for JSON."""
    return [code.value for code in CAUTIONS]
