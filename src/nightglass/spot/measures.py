"""The measures of one colour's rebuilt spot, and their errors, as one record."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, fields

from nightglass.optics.extent import Extent


@dataclass(frozen=True)
class Measures(Extent):
    """What `Extent` holds, and how far the light leans; places in raw pixels of the frame.

    The same record holds errors: 1-sigma of each measure, in its own unit.
    """

    lean: float


NAMES = tuple(field.name for field in fields(Measures))


def each(rule: Callable[..., float], *several: Measures) -> Measures:
    """Return a record whose every measure is rule(name, value of each of the given records)."""
    return Measures(
        **{name: rule(name, *(getattr(one, name) for one in several)) for name in NAMES}
    )
