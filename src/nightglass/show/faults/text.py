"""What is wrong with each lens, in words: the sentence first, then the table."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from nightglass.bench.faults.copies import CopyVerdict
from nightglass.bench.faults.report import LensFaults, SettingFaults
from nightglass.show.columns import table_lines
from nightglass.show.faults.copy_words import copy_words
from nightglass.show.words import f_number, focal


def report_lines(lenses: Sequence[LensFaults], width: int | None) -> Iterator[str]:
    """Yield each lens: its sentence, then its settings. width: of the terminal, None for a file."""
    for one in lenses:
        yield f"{one.lens}: {lens_words(one)}"
        yield ""
        yield from table_lines([_HEAD, *map(_row, one.settings)], width)
        yield ""


def lens_words(one: LensFaults) -> str:
    """Return what a photographer would say of a lens."""
    return f"{_copy_sentence(one)}."


def clearest_copy(one: LensFaults) -> SettingFaults:
    """Return the setting that says most of the copy: uneven first, then the surest."""
    order = list(CopyVerdict)
    return min(
        one.settings,
        key=lambda s: (order.index(s.copy.verdict), s.copy.chance if s.copy.chance else 0.0),
    )


def _copy_sentence(one: LensFaults) -> str:
    told = clearest_copy(one)
    at = "" if len(one.settings) == 1 else f"at {_setting(told, one)} "
    return f"{at}{copy_words(told.copy)}"


_HEAD = ("setting", "worst place", "best place", "ratio", "by chance", "copy")
_SHORT = {
    CopyVerdict.UNEVEN: "uneven",
    CopyVerdict.SLIGHT: "slightly uneven",
    CopyVerdict.NONE_SHOWN: "none shown",
    CopyVerdict.NOT_TESTED: "not tested",
}


def _row(one: SettingFaults) -> tuple[str, ...]:
    copy = one.copy
    return (
        f"{focal(one.result.setting.focal_mm)}, {f_number(one.result.setting.f_number)}",
        copy.worst_place or "",
        copy.best_place or "",
        "" if copy.ratio is None else f"{copy.ratio:.2f}",
        "" if copy.chance is None else f"{100 * copy.chance:.1f} %",
        _SHORT[copy.verdict],
    )


def _setting(told: SettingFaults, one: LensFaults) -> str:
    setting = told.result.setting
    several = len({s.result.setting.focal_mm for s in one.settings}) > 1
    zoom = f"{focal(setting.focal_mm)} " if several else ""
    return f"{zoom}{f_number(setting.f_number)}"
