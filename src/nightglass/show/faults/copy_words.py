"""Words for what the places at equal radius say of a copy: for `rank`, the card and `faults`."""

from __future__ import annotations

from collections.abc import Iterable, Iterator

from nightglass.bench.faults.causes import CauseFinding, CopyCause
from nightglass.bench.faults.copies import CopyFinding, CopyReason, CopyVerdict
from nightglass.show.focus.words import SIDES, tilt_words

COPY_VERDICTS: dict[CopyVerdict, str] = {
    CopyVerdict.UNEVEN: "one place is blurred more than another at the same distance from the "
    "centre, by a fifth or more, and more than the repeats explain",
    CopyVerdict.SLIGHT: "a difference beyond the repeats, but under a fifth",
    CopyVerdict.NONE_SHOWN: "no difference beyond the repeats",
    CopyVerdict.NOT_TESTED: "not tested, `reason` says why",
}
COPY_REASONS: dict[CopyReason, str] = {
    CopyReason.TOO_FEW_PLACES: "it takes two places or more at one distance from the centre, such "
    "as opposite corners",
    CopyReason.NO_REPEATS: "one frame a place: it takes two or more, refocused",
    CopyReason.AT_LIMIT: "all places are too sharp to be measured",
}
SURE_ENOUGH = 0.9
COPY_CAUSES: dict[CopyCause, str] = {
    CopyCause.TILT: "tilted",
    CopyCause.DECENTRED: "decentred: the star at the centre is one-sided, where a sound lens has "
    "no coma",
    CopyCause.BOTH: "tilted, and decentred: the star at the centre is one-sided, where a sound "
    "lens has no coma",
    CopyCause.CANT_TELL: "can't tell decentring from tilt",
}


def chance_words(chance: float) -> str:
    """Return how often a sound lens shows as much: "0.3 %", "under 0.1 %"."""
    return "under 0.1 %" if chance < 0.001 else f"{100 * chance:.1f} %"


def copy_words(copy: CopyFinding) -> str:
    """Return what the places at equal radius say, in one sentence without its full stop."""
    if copy.verdict is CopyVerdict.NOT_TESTED:
        return f"copy not tested: {COPY_REASONS[copy.reason or CopyReason.TOO_FEW_PLACES]}"
    if copy.verdict is CopyVerdict.NONE_SHOWN:
        return (
            f"places alike within the repeats ({_compared(copy)}); {power_words(copy)}{_roll(copy)}"
        )
    differ = f"{_compared(copy)}, by chance in {chance_words(copy.chance or 0.0)} of sound lenses"
    if copy.verdict is CopyVerdict.SLIGHT:
        return f"a real but slight difference: {differ}"
    toward = side_words(copy)
    side = f", softer toward the {toward}" if toward else ""
    if copy.roll is not None:
        return (
            f"{differ}{side}, whichever way up the camera was: the fault is the lens's{_roll(copy)}"
        )
    return f"{differ}{side}: this copy may be decentred or tilted"


def cause_words(found: CauseFinding) -> str:
    """Return what is behind an uneven copy, in one sentence without its full stop."""
    words = COPY_CAUSES[found.cause]
    if found.cause in (CopyCause.DECENTRED, CopyCause.BOTH):
        words += f" ({100 * (found.coma_probability or 0.0):.0f} %)"
    if found.tilt is not None:
        return f"{words}; {tilt_words(found.tilt)}"
    if found.cause is CopyCause.CANT_TELL:
        return f"{words} without a focus series at the corners"
    return f"{words}; whether it is tilted too, focus series at the corners would tell"


def copies_not_tested_lines(copies: Iterable[tuple[str, CopyFinding]]) -> Iterator[str]:
    """Yield, reason by reason, of which lenses the copy was not tested, and what it takes.

    copies: lens and finding, those that were tested among them. Without a full stop.
    """
    lenses: dict[str, list[str]] = {}
    for lens, copy in copies:
        if copy.verdict is CopyVerdict.NOT_TESTED:
            reason = COPY_REASONS[copy.reason or CopyReason.TOO_FEW_PLACES]
            lenses.setdefault(reason, []).append(lens)
    for reason, names in lenses.items():
        yield f"Copy not tested for {', '.join(names)}: {reason}"


def short_copy_words(copy: CopyFinding) -> str:
    """Return the same for the small letters of a card."""
    if copy.verdict is CopyVerdict.NOT_TESTED:
        return "Decentring: not tested"
    if copy.verdict is CopyVerdict.NONE_SHOWN:
        found = "no ratio" if copy.found_ratio is None else f"{copy.found_ratio:.1f} times"
        return f"Decentring: none shown ({found} and more would show)"
    return f"Decentring: {_compared(copy)} ({chance_words(copy.chance or 0.0)} by chance)"


def power_words(copy: CopyFinding) -> str:
    """Return what the repeats can find."""
    chance, ratio = copy.power or 0.0, copy.found_ratio
    words = f"a corner 1.5 times as blurred would show in {100 * chance:.0f} % of cases"
    if chance >= SURE_ENOUGH:
        return words
    found = "no ratio" if ratio is None else f"only {ratio:.1f} times and more"
    return f"{words}: with so few repeats {found} would show in 9 of 10"


def side_words(copy: CopyFinding) -> str:
    """Return the side toward which it gets softer, as the frame lies; empty where none is."""
    if copy.softer_toward_degrees is None:
        return ""
    return SIDES[round(copy.softer_toward_degrees / 45) % 8]


def _roll(copy: CopyFinding) -> str:
    """What turning the camera told of the bench, as the end of a sentence."""
    if copy.roll is None or not copy.roll.bench_at_fault:
        return ""
    return (
        f"; turning the camera moved a difference to the other side (by chance in "
        f"{chance_words(copy.roll.bench_chance)}): the bench blurs one side more, it was taken out"
    )


def _compared(copy: CopyFinding) -> str:
    bound = "at least " if copy.at_least else ""
    times = f"{bound}{copy.ratio or 1.0:.2f} times"
    return f"{copy.worst_place} is {times} as blurred as {copy.best_place}"
