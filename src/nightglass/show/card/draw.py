"""Cards as pictures and print: PNG for the phone, A6 PDF for paper."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import asdict
from typing import Any

from nightglass.show.card.record import LensCard
from nightglass.show.card.text import CardText, card_text
from nightglass.show.reds import DIGIT_RED, LINE_RED, WORD_RED
from nightglass.show.typeset import typeset
from nightglass.show.words import NOT_RECORDED, NOT_TESTED

PHONE_PX = (1080, 2340)
"""Width and height of a card on a phone."""

LENSES_PER_PICTURE = 12
"""More would make the digits of the bag's picture smaller than 5 mm on a phone."""


def card_data(card: LensCard) -> dict[str, Any]:
    """Return what the templates read of one card: words, places of the frame, reds."""
    body = card.context.body
    return {
        "card": asdict(card_text(card)),
        "zones": [asdict(zone) for zone in card.zones],
        "aspect": body.width_px / body.height_px,
        "worst": card.standing.worth.worst_place if card.standing else "",
        "untested": card.standing is None,
        "not_tested": NOT_TESTED,
        "digit_red": DIGIT_RED,
        "word_red": WORD_RED,
        "line_red": LINE_RED,
    }


def card_png(card: LensCard) -> bytes:
    """Return one lens's card as a PNG of 1080 x 2340 px, dim red on black."""
    return typeset("card_phone.typ", card_data(card), "png", card.context.made)[0]


def bag_pngs(cards: Sequence[LensCard]) -> list[bytes]:
    """Return the whole bag as PNGs of 1080 x 2340 px, up to 12 lenses on each.

    Raises ValueError for no cards.
    """
    _check(cards)
    chunks = [cards[k : k + LENSES_PER_PICTURE] for k in range(0, len(cards), LENSES_PER_PICTURE)]
    return [
        typeset("bag_phone.typ", _bag_data(chunk, k, len(chunks)), "png", cards[0].context.made)[0]
        for k, chunk in enumerate(chunks, start=1)
    ]


def card_pdf(cards: Sequence[LensCard]) -> bytes:
    """Return cards as a PDF of A6 pages, one per lens, dark on white.

    Raises ValueError for no cards.
    """
    _check(cards)
    title = cards[0].lens.name if len(cards) == 1 else f"{len(cards)} lenses"
    data = {"title": f"{title}: settings", "cards": [card_data(card) for card in cards]}
    return typeset("card_print.typ", data, "pdf", cards[0].context.made)[0]


def _bag_data(cards: Sequence[LensCard], part: int, parts: int) -> dict[str, Any]:
    texts = [card_text(card) for card in cards]
    body = cards[0].context.body
    return {
        "title": body.name,
        "part": f"{part} of {parts}" if parts > 1 else "",
        "rows": [_bag_row(text) for text in texts],
        "night": texts[0].night,
        "fallback": texts[0].fallback,
        "fallback_title": texts[0].fallback_title,
        "identity": f"{texts[0].identity[0]} \N{MIDDLE DOT} firmware "
        f"{body.firmware or NOT_RECORDED} \N{MIDDLE DOT} these copies only",
        "digit_red": DIGIT_RED,
        "word_red": WORD_RED,
        "line_red": LINE_RED,
    }


def _bag_row(text: CardText) -> dict[str, Any]:
    return {
        "lens": text.lens,
        "setting": text.setting,
        "standing": text.standing,
        "warning": text.short_warning,
        "big": asdict(text.big),
    }


def _check(cards: Sequence[LensCard]) -> None:
    if not cards:
        raise ValueError("no cards to draw; give at least one")
