"""A lens setting as a person names it: "Wren 12 mm f/2 at f/2.8", "curlew at 24 mm f/4"."""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping, Sequence
from types import MappingProxyType

from nightglass.gear.lens import Lens, LensSetting, chosen_lenses

_AT = re.compile(
    r"^(?P<lens>.+?)\s+at\s+(?:(?P<focal>\d+(?:\.\d+)?)\s*mm\s*)?(?:f/?\s*(?P<f>\d+(?:\.\d+)?))?$",
    re.IGNORECASE,
)
_SAME = 0.02
"""Marks of one setting agree within 2 %: 2.8 and 2.83 are one."""


NOWHERE: Mapping[str, tuple[str, ...]] = MappingProxyType({})


def asked_settings(
    text: str,
    lenses: Sequence[Lens],
    measured: Iterable[LensSetting],
    elsewhere: Mapping[str, tuple[str, ...]] = NOWHERE,
) -> tuple[LensSetting, ...]:
    """Return the measured settings that a person's words fit: a lens alone fits all of its own.

    text: a lens's name or a part of it, then "at", focal length and f-number as far as wanted.
    elsewhere: by lens, the bodies that it was measured on where it was not on this one. Raises
    ValueError for a lens that is not in the bag, and for a setting that was not measured, with
    those that were.
    """
    found = _AT.match(text.strip())
    whole = found is None or (found["focal"] is None and found["f"] is None)
    (lens,) = chosen_lenses(lenses, [text if found is None or whole else found["lens"]], said="")
    its = sorted(setting for setting in measured if setting.lens == lens.name)
    if not its and lens.name in elsewhere:
        bodies = " and ".join(elsewhere[lens.name])
        raise ValueError(f"{lens.name} was measured on {bodies} only; ask with --body")
    if not its:
        raise ValueError(f"{lens.name} was not measured; nightglass measure reads its frames")
    fits = [s for s in its if whole or found is None or _fits(s, found["focal"], found["f"])]
    if not fits:
        known = ", ".join(f"{s.focal_mm:g} mm f/{s.f_number:g}" for s in its)
        raise ValueError(f'"{text}" was not measured; of {lens.name} there is: {known}')
    return tuple(fits)


def _fits(setting: LensSetting, focal: str | None, f_number: str | None) -> bool:
    pairs = ((setting.focal_mm, focal), (setting.f_number, f_number))
    return all(typed is None or abs(float(typed) / own - 1) <= _SAME for own, typed in pairs)
