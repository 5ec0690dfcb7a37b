"""The words of a card: one text per line, the same for picture, page and print."""

from __future__ import annotations

from dataclasses import dataclass

from nightglass.show.card.plan_words import night_lines, panorama_words, stack_words
from nightglass.show.card.record import LensCard, ZoomPosition
from nightglass.show.faults.copy_words import short_copy_words
from nightglass.show.iso_words import iso_reason_words
from nightglass.show.ranking.look_words import NAMES, one_look_words
from nightglass.show.ranking.note_words import note_words
from nightglass.show.ranking.sentences import uneven_words
from nightglass.show.ranking.text import times_words
from nightglass.show.words import (
    NOT_RECORDED,
    NOT_TESTED,
    f_number,
    focal,
    ordinal,
    percent,
    seconds,
)
from nightglass.verdict.codes import NoteCode
from nightglass.verdict.records import Worth

START_LIST = (
    "Autofocus off",
    "Stabiliser off",
    "Raw files",
    "Filter off",
    "White balance fixed",
    "Dark-subtract off",
    "Focus",
    "Corner check",
    "Dew check",
)
"""In the order of the hands; each at most 8 words."""


_NO_ISO = "\N{EN DASH}"
"""In large letters where no ISO is known; the small ones say what would give it."""


@dataclass(frozen=True)
class BigFour:
    """What is read at first glance, in this order."""

    f_number: str
    remote: str
    dial: str
    iso: str
    dial_true: str
    """The true time behind the mark of the dial; empty where they agree."""


@dataclass(frozen=True)
class PositionText:
    """One row of the zoom table."""

    focal: str
    f_number: str
    remote: str
    dial: str
    blur: str
    warning: str
    """Empty where the map shows no jump and the limit is kept."""
    chosen: bool
    """Whether the big four stand for this position."""


@dataclass(frozen=True)
class CardText:
    """Every line of a card, ready to draw; empty tuples and strings are left out of the card."""

    lens: str
    setting: str
    """The focal length where the lens can zoom."""
    standing: str
    big: BigFour
    warnings: tuple[str, ...]
    short_warning: str
    """One or two words for the bag's row; empty where nothing warns."""
    blur: str
    trail: str
    look: tuple[tuple[str, str], ...]
    """("Phone, screen", how stars look there); those where they look alike share a row."""
    limit: str
    weak: str
    focus: str
    positions: tuple[PositionText, ...]
    night: tuple[str, ...]
    panorama: str
    stack: str
    start_list: tuple[str, ...]
    fallback: tuple[tuple[str, str], ...]
    fallback_title: str
    notes: tuple[str, ...]
    identity: tuple[str, ...]


def card_text(card: LensCard) -> CardText:
    """Return the words of a card."""
    worth = card.standing.worth if card.standing else None
    return CardText(
        lens=card.lens.name,
        setting=f"at {focal(worth.setting.focal_mm)}" if worth and card.lens.is_zoom else "",
        standing=_standing(card),
        big=_big(worth),
        warnings=_warnings(card),
        short_warning=_short_warning(card),
        blur=_blur(worth),
        trail=_trail(worth),
        look=_look(worth),
        limit=_limit(card),
        weak=_weak(worth),
        focus=card.extras.focus_method or NOT_TESTED,
        positions=tuple(_position(p, worth) for p in card.positions),
        night=night_lines(card.context.night),
        panorama=panorama_words(card.extras.panorama, card.extras.too_blurred_percent),
        stack=stack_words(card.extras.stack),
        start_list=START_LIST,
        fallback=tuple((focal(t.focal_mm), seconds(t.dial_marked_s)) for t in card.fallback),
        fallback_title="Any other lens, by focal length (on the dial)",
        notes=_notes(card),
        identity=_identity(card),
    )


def _look(worth: Worth | None) -> tuple[tuple[str, str], ...]:
    if worth is None:
        return (("Stars", NOT_TESTED),)
    rows: dict[str, list[str]] = {}
    for name, look in zip(NAMES, worth.looks, strict=True):
        rows.setdefault(one_look_words(look), []).append(name)
    if len(rows) == 1:
        return (("Stars look", next(iter(rows))),)
    return tuple((", ".join(names).capitalize(), words) for words, names in rows.items())


def _standing(card: LensCard) -> str:
    if card.standing is None:
        return NOT_TESTED
    tie = "shared " if card.standing.tied_with else ""
    return f"{tie}{ordinal(card.standing.place)} of {card.lenses_ranked}"


def _big(worth: Worth | None) -> BigFour:
    if worth is None:
        return BigFour(NOT_TESTED, NOT_TESTED, NOT_TESTED, NOT_TESTED, "")
    return BigFour(
        f_number=f_number(worth.setting.f_number),
        remote=seconds(worth.times.chosen.remote_s),
        dial=seconds(worth.times.chosen.dial_marked_s),
        iso=_NO_ISO if worth.iso.iso is None else str(worth.iso.iso),
        dial_true=_dial_true(worth),
    )


def _warnings(card: LensCard) -> tuple[str, ...]:
    if card.standing is None:
        return (f"Not ranked: {card.reason_not_ranked}",)
    words = []
    if card.standing.over_limit:
        over = percent(card.standing.worth.over_limit_percent or 0.0)
        words.append(f"Over your limit by {over} of height")
    if card.standing.worth.at_limit:
        words.append("At limit: blur is an upper bound")
    return tuple(words)


def _short_warning(card: LensCard) -> str:
    if card.standing is None:
        return ""
    if card.standing.over_limit:
        return "over limit"
    if any(p.jump for p in card.positions):
        return "zoom jump"
    return "at limit" if card.standing.worth.at_limit else ""


def _notes(card: LensCard) -> tuple[str, ...]:
    words = []
    if card.sessions == 1:
        words.append("Single session")
    if card.standing:
        # The warning above the figures says it already.
        notes = card.standing.worth.notes
        words += [note_words(note) for note in notes if note.code != NoteCode.AT_LIMIT]
        words.append(f"Time: {times_words(card.standing.worth)}")
        words.append(f"ISO: {iso_reason_words([card.standing.worth.iso])}")
        if card.standing.uneven:
            words.append(uneven_words(card.standing.uneven, card.standing.worth).capitalize())
        elif card.standing.copy:
            words.append(short_copy_words(card.standing.copy))
    if card.lens.notes:
        words.append(f"Your note: {card.lens.notes}")
    return tuple(words)


def _dial_true(worth: Worth) -> str:
    times = worth.times.chosen
    true = seconds(times.dial_true_s)
    return "" if true == seconds(times.dial_marked_s) else true


def _limit(card: LensCard) -> str:
    if card.limit is None:
        return ""
    place = "worst place" if card.limit.at == "worst" else "mean"
    return f"{percent(card.limit.percent)} ({place}, {card.limit.on})"


def _blur(worth: Worth | None) -> str:
    if worth is None:
        return NOT_TESTED
    if worth.at_limit:
        return f"at most {percent(worth.lens_tightness_percent)} of height"
    return f"{percent(worth.lens_tightness_percent)} of height"


def _trail(worth: Worth | None) -> str:
    if worth is None:
        return NOT_TESTED
    shutter_s = worth.times.chosen.shown_s(worth.release)
    return f"{percent(worth.trail_percent)} of height at {seconds(shutter_s)}"


def _weak(worth: Worth | None) -> str:
    if worth is None:
        return NOT_TESTED
    count = len(worth.places_measured)
    if count == 1:
        return f"only {worth.places_measured[0]} tested"
    return f"{worth.worst_place} (of {count} places)"


def _position(position: ZoomPosition, main: Worth | None) -> PositionText:
    worth = position.worth
    warnings = []
    if position.jump:
        warnings.append(f"jump \N{MULTIPLICATION SIGN} {position.jump.ratio:.1f}")
    if not worth.eligible:
        warnings.append("over limit")
    sign = "\N{LESS-THAN OR EQUAL TO} " if worth.at_limit else ""
    return PositionText(
        focal=focal(worth.setting.focal_mm),
        f_number=f_number(worth.setting.f_number),
        remote=seconds(worth.times.chosen.remote_s),
        dial=seconds(worth.times.chosen.dial_marked_s),
        blur=sign + percent(worth.lens_tightness_percent),
        warning=", ".join(warnings),
        chosen=main is not None and worth.setting == main.setting,
    )


def _identity(card: LensCard) -> tuple[str, ...]:
    body = card.context.body
    return (
        f"Made {card.context.made.isoformat()}",
        f"{body.name}, firmware {body.firmware or NOT_RECORDED}",
        f"This copy: serial {card.lens.serial or NOT_RECORDED}",
    )
