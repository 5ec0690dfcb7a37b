"""What the bench can do to people, and what spoils the frames."""

from __future__ import annotations

LOCAL_RULES = (
    "Local rules come first: of the house, the land, the road and the law. This plan advises on "
    "photographs, not on safety."
)
CAUTIONS = (
    "Use a small LED of the exempt group of IEC 62471, dimmed, behind a pinhole. Do not stare at "
    "the bare LED, and never look into it through a lens or a finder.",
    "Prefer an LED to a laser. If it must be a laser: Class 1 of IEC 60825-1 only, never into the "
    "beam, never through a lens towards an eye, never outdoors towards people, roads or aircraft.",
    "Never aim a lens or an optical finder at the sun. Cap the lenses that lie outside by day.",
    "Night work outside: not alone; mind terrain, water and tides, weather, traffic and cold; tell "
    "someone where you are; ask who owns the land. Indoors: no cables or tripod legs in the dark "
    "way.",
)
SHORT_CAUTIONS = (
    "A dim LED of the exempt group, behind a pinhole; never look into it through a lens. No sun in "
    "any lens. Indoors: no cables or tripod legs in the dark way. Outside: not alone. Local rules "
    "come first."
)
REMINDERS = (
    "Let body and lenses settle in the room for half an hour; tape a zoom ring that creeps.",
    "Refocus before every round, at the f-number of the round, with the star at the first place; "
    "do not refocus in the corners: that hides what the sky will show.",
    "Nudge the camera a little between rounds, so that the star falls on other pixels.",
    "Off the axis stand back as the list says: a camera that only turns sees the star out of "
    "focus.",
    "Raw, no long-exposure noise reduction, no lens corrections, no front filter, stabiliser off, "
    "remote or delayed release.",
)
