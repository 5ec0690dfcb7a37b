"""What is wrong with the lenses of a bench: lens by lens, setting by setting."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass

from nightglass.bench.faults.copies import CopyFinding, CopyReason, CopyVerdict, copies_of
from nightglass.bench.records import SettingResult
from nightglass.gear.body import Body

ALL_CODES = (CopyVerdict, CopyReason)
"""Every code of a report."""


@dataclass(frozen=True)
class SettingFaults:
    """One setting of a lens."""

    result: SettingResult
    copy: CopyFinding


@dataclass(frozen=True)
class LensFaults:
    """One lens, its settings by focal length and f-number."""

    lens: str
    settings: tuple[SettingFaults, ...]


def find_faults(results: Sequence[SettingResult], body: Body) -> tuple[LensFaults, ...]:
    """Return what the results on record say of each lens, by name."""
    copies = copies_of(results, body)
    by_lens: dict[str, list[SettingResult]] = defaultdict(list)
    for result in sorted(results, key=lambda r: r.setting):
        by_lens[result.setting.lens].append(result)
    return tuple(
        LensFaults(lens, tuple(SettingFaults(r, copies[r.setting]) for r in several))
        for lens, several in sorted(by_lens.items())
    )
