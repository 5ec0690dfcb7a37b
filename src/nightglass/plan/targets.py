"""What the person wants to see, by name or by right ascension and declination (ICRS)."""

from __future__ import annotations

import re

from nightglass.almanac.ephemeris import MILKY_WAY_CENTRE, Target

NAMED: dict[str, Target] = {
    "milky way": MILKY_WAY_CENTRE,
    "centre of the milky way": MILKY_WAY_CENTRE,
    "andromeda galaxy": Target("Andromeda galaxy", 10.685, 41.269),
    "large magellanic cloud": Target("Large Magellanic Cloud", 80.89, -69.76),
    "small magellanic cloud": Target("Small Magellanic Cloud", 13.19, -72.83),
    "orion nebula": Target("Orion nebula", 83.82, -5.39),
    "pleiades": Target("Pleiades", 56.75, 24.12),
}
"""But for the Milky Way's centre: the places of OpenNGC (NGC 224, 292 and 1976, ESO 056-115), to
0.01 degree. It has the middle of the Pleiades, 2 degrees across, 0.11 degrees away."""

_FORMS = (
    'write degrees "266.4 -29.0", hours "17h45m40s -29d00m28s" or "17:45:40 -29:00:28", or one of: '
    + ", ".join(NAMED)
)


def target(text: str) -> Target:
    """Return the target that a name or "RA Dec" names.

    Raises ValueError for what is neither, and for directions that no sky has.
    """
    known = NAMED.get(" ".join(text.lower().replace("center", "centre").split()))
    if known is not None:
        return known
    parts = re.split(r"[,\s]+", text.strip().replace("−", "-"))
    if len(parts) == 6:
        parts = [":".join(parts[:3]), ":".join(parts[3:])]
    if len(parts) != 2:
        raise ValueError(f'"{text}" is no direction in the sky; {_FORMS}')
    hours = bool(re.search(r"[h:]", parts[0]))
    ra, dec = (_sexagesimal(part, text) for part in parts)
    return Target(text.strip(), ra * 15 if hours else ra, dec)


def _sexagesimal(part: str, text: str) -> float:
    numbers = [n for n in re.split(r"[hdms°'\":′″]", part) if n]
    if not 1 <= len(numbers) <= 3:
        raise ValueError(f'"{text}" is no direction in the sky; {_FORMS}')
    if not all(re.fullmatch(r"[+-]?\d+(\.\d*)?", n) for n in numbers):
        raise ValueError(f'"{text}" is no direction in the sky; {_FORMS}')
    if any(float(n) >= 60 or n.startswith(("+", "-")) for n in numbers[1:]):
        raise ValueError(f'"{text}": minutes and seconds go from 0 to below 60')
    size = sum(abs(float(n)) / 60**k for k, n in enumerate(numbers))
    return -size if numbers[0].startswith("-") else size
