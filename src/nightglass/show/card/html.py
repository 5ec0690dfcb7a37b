"""Cards as one self-contained page: no script, no request, black from the first paint."""

from __future__ import annotations

import re
from collections.abc import Sequence
from typing import Any

from nightglass.show.card.record import LensCard
from nightglass.show.card.text import CardText, card_text
from nightglass.show.page import made, render
from nightglass.show.reds import DIGIT_RED, LINE_RED, WORD_RED

_WARN = "\N{BLACK UP-POINTING TRIANGLE} "
_CHOSEN = "\N{BLACK RIGHT-POINTING TRIANGLE} "
_DOT = " \N{MIDDLE DOT} "
NO_BREAK = "\N{NO-BREAK SPACE}"
_FIGURE = re.compile(r"^(f/)?([0-9./]+)( s)?$")


def cards_html(cards: Sequence[LensCard]) -> str:
    """Return a page with a screen per lens; above several lenses stands a list that leads to them.

    Everything that a person typed is escaped. Raises ValueError for no cards.
    """
    if not cards:
        raise ValueError("no cards to draw; give at least one")
    texts = [card_text(card) for card in cards]
    title = f"{len(cards)} lenses: settings" if len(cards) > 1 else f"{texts[0].lens}: settings"
    return render(
        "card.html",
        title=title,
        digit_red=DIGIT_RED,
        word_red=WORD_RED,
        line_red=LINE_RED,
        warn=_WARN,
        chosen=_CHOSEN,
        body_name=cards[0].context.body.name,
        date_line=texts[0].identity[0],
        cards=[_shown(card, text) for card, text in zip(cards, texts, strict=True)],
    )


def _shown(card: LensCard, text: CardText) -> dict[str, Any]:
    return {
        "text": text,
        "name": " ".join((text.lens, text.setting)).strip(),
        "glance": _glance(text),
        "figures": _figures(text),
        "second": [
            ("Blur", text.blur),
            ("Trail", text.trail),
            *text.look,
            *([("Limit", text.limit)] if text.limit else []),
            ("Weak", text.weak),
        ],
        "frame": made(_frame(card)),
        "notes": [_note(position.warning) for position in text.positions],
        "identity": _DOT.join(text.identity + text.notes),
    }


def _glance(text: CardText) -> str:
    if text.big.f_number == text.standing:
        return text.standing
    return _DOT.join((text.big.f_number, text.big.remote, text.big.dial))


def _figures(text: CardText) -> list[dict[str, Any]]:
    """The four large figures, taken apart where they are a number with its sign or unit."""
    mark = f"dial mark, true {text.big.dial_true}" if text.big.dial_true else ""
    rows = (
        (text.big.f_number, "f-number", ""),
        (text.big.remote, "with remote", ""),
        (text.big.dial, "no remote", mark),
        (text.big.iso, "ISO", ""),
    )
    figures = []
    for figure, words, note in rows:
        parts = _FIGURE.match(figure)
        before, number, after = parts.groups() if parts else ("", "", "")
        figures.append(
            {
                "text": figure, "before": before, "number": number, "after": after,
                "words": words, "mark": note,
            }
        )  # fmt: skip
    return figures


def _frame(card: LensCard) -> str:
    """Return the frame with a ring as wide as the blur at each place, a cross in the worst."""
    if not card.zones:
        return ""
    body = card.context.body
    width, height = 250.0, 250.0 * body.height_px / body.width_px
    worst = card.standing.worth.worst_place if card.standing else ""
    shapes = []
    for zone in card.zones:
        if zone.blur_percent is None:
            continue
        x, y = 28 + zone.x_share * (width - 56), 28 + zone.y_share * (height - 56)
        r = min(max(zone.blur_percent * 75, 3.5), 25)
        style = 'fill="currentColor"' if zone.at_limit else 'fill="none" stroke-width="2.6"'
        r = 3.5 if zone.at_limit else r
        shapes.append(f'<circle cx="{x:.1f}" cy="{y:.1f}" r="{r:.1f}" {style}/>')
        if zone.place == worst:
            shapes.append(
                f'<path d="M{x - 8:.1f} {y:.1f}h16M{x:.1f} {y - 8:.1f}v16" stroke-width="2.6"/>'
            )
    return (
        f'<svg viewBox="0 0 {width:.0f} {height:.0f}" stroke="currentColor" role="img" '
        f'aria-label="blur at each place of the frame"><rect x="1" y="1" width="{width - 2:.0f}" '
        f'height="{height - 2:.0f}" fill="none" stroke-width="1"/>{"".join(shapes)}</svg>'
    )


def _note(warning: str) -> str:
    """A wrap only between two warnings, never inside one."""
    if not warning:
        return ""
    return ", ".join((_WARN + part).replace(" ", NO_BREAK) for part in warning.split(", "))
