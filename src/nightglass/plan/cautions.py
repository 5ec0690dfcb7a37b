"""What every night plan says about safety. The planner knows only the sky."""

from __future__ import annotations

CAUTIONS: tuple[str, ...] = (
    "A moonless place is a dark place: see the ground by daylight first, and carry a headlamp "
    "and a spare.",
    "Do not go alone if you can help it; tell someone where you are and when you will be back.",
    "Check weather, wind, tides, avalanche and fire warnings from the local services.",
    "Keep off roads and rails; where there is traffic, wear something that shines.",
    "Dress for standing still: the coldest hour comes before dawn.",
    "Cold empties batteries: keep spares, and the phone, close to your body.",
    "Follow local rules on access, parks, private land and wildlife; ask where it is unclear.",
    "Never point a laser at the sky where aircraft fly, nor at people or animals.",
    "Never aim a lens or an optical finder at the sun; cap lenses left out by day.",
)
KNOWS_NOT = (
    "This plan knows the sky alone: nothing of the ground, the weather, other people or the law. "
    "Local rules and people who know the place come first."
)
