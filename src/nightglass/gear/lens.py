"""A lens as the bag describes it, and one setting of it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

ProjectionName = Literal["rectilinear", "equidistant", "equisolid", "stereographic"]
MarksToward = Literal["near", "infinity"]
"""Which end higher focus marks run to."""


@dataclass(frozen=True)
class FlatTransmission:
    """Share of the light that a lens passes, as flats of several lenses of one light tell it."""

    share: float
    err: float
    """1-sigma error of the lens's light against the others'."""
    common_err: float
    """Of all lenses together: flats tell only how much one passes against another."""


@dataclass(frozen=True)
class Lens:
    """One copy of a lens; None is "not recorded"."""

    name: str
    focal_mm_min: float
    focal_mm_max: float
    f_number_min_wide: float
    """Marked f-number wide open at the short end."""
    f_number_min_long: float
    """Marked f-number wide open at the long end (the same for a fixed focal length)."""
    serial: str | None = None
    recorded_as: tuple[str, ...] = ()
    """Names under which cameras record this lens in their files."""
    projection: ProjectionName = "rectilinear"
    transmission: float | None = None
    """Measured share of the light that passes, 0 to 1."""
    transmission_err: float | None = None
    """Its 1-sigma error, where it was stated."""
    t_stop: float | None = None
    notes: str = ""
    focus: str = ""
    """How to focus it on the night, in the person's words, for the card."""
    focus_marks_toward: MarksToward | None = None
    """Which end the marks of focus series climb to; it gives a wavefront its signs."""
    zoom_marks_mm: tuple[float, ...] = ()
    """Marks of a zoom ring to test; empty: short end, middle and long end."""
    flat_transmission: FlatTransmission | None = None
    """Never typed: measured on flats, and used where nothing was typed."""

    @property
    def is_zoom(self) -> bool:
        """Whether the focal length can be changed."""
        return self.focal_mm_max > self.focal_mm_min


@dataclass(frozen=True, order=True)
class LensSetting:
    """What is ranked: a body, a lens, a focal length and an f-number."""

    body: str
    lens: str
    focal_mm: float
    f_number: float
    """As marked; light is worked out from the exact power behind the mark."""


def chosen_lenses(
    lenses: Sequence[Lens], names: Sequence[str], said: str = "--lens "
) -> tuple[Lens, ...]:
    """Return the lenses that were asked for, all of them without a name.

    A name is the lens's whole name or a part that no other lens has, capitals ignored. said: what
    stands before the name in an error. Raises ValueError for a name that fits none or several.
    """
    if not names:
        return tuple(lenses)
    chosen: list[Lens] = []
    for name in names:
        wanted = name.casefold().strip()
        exact = [lens for lens in lenses if lens.name.casefold() == wanted]
        found = exact or [lens for lens in lenses if wanted and wanted in lens.name.casefold()]
        if len(found) != 1:
            known = ", ".join(lens.name for lens in (found or lenses))
            fault = "fits several lenses" if found else "is not in the bag"
            raise ValueError(f'{said}"{name}" {fault}; choose one of: {known}')
        chosen += [lens for lens in found if lens not in chosen]
    return tuple(chosen)
