"""Cards as one self-contained page: no script, no request, black from the first paint."""

from __future__ import annotations

import re
from base64 import b64encode
from collections.abc import Sequence
from html import escape
from string import Template

from nightglass.show.card.draw import DIGIT_RED, LINE_RED, WORD_RED
from nightglass.show.card.record import LensCard
from nightglass.show.card.text import CardText, PositionText, card_text
from nightglass.show.typeset import FONT_FOLDER, TEMPLATE_FOLDER

_WARN = "\N{BLACK UP-POINTING TRIANGLE} "
_CHOSEN = "\N{BLACK RIGHT-POINTING TRIANGLE} "
_DOT = " \N{MIDDLE DOT} "
_FIGURE = re.compile(r"^(f/)?([0-9./]+)( s)?$")


def cards_html(cards: Sequence[LensCard]) -> str:
    """Return a page with a screen per lens; above several lenses stands a list that leads to them.

    Everything that a person typed is escaped. Raises ValueError for no cards.
    """
    if not cards:
        raise ValueError("no cards to draw; give at least one")
    texts = [card_text(card) for card in cards]
    back = '<a href="#bag"><b>All lenses</b></a>' if len(cards) > 1 else ""
    sections = [
        _section(card, text, k, back)
        for k, (card, text) in enumerate(zip(cards, texts, strict=True), 1)
    ]
    listing = [_listing(cards[0], texts)] if len(cards) > 1 else []
    title = f"{len(cards)} lenses: settings" if len(cards) > 1 else f"{texts[0].lens}: settings"
    template = Template((TEMPLATE_FOLDER / "card.html").read_text(encoding="utf-8"))
    return template.substitute(
        title=escape(title),
        font_regular=_font("B612-Regular.otf"),
        font_bold=_font("B612-Bold.otf"),
        digit_red=DIGIT_RED,
        word_red=WORD_RED,
        line_red=LINE_RED,
        body="\n".join(listing + sections),
    )


def _font(name: str) -> str:
    return b64encode((FONT_FOLDER / name).read_bytes()).decode("ascii")


def _listing(card: LensCard, texts: Sequence[CardText]) -> str:
    rows = "".join(
        f'<a href="#lens-{k}"><b>{escape(" ".join((text.lens, text.setting)).strip())}</b>'
        f"<span>{escape(_glance(text))}</span></a>"
        for k, text in enumerate(texts, 1)
    )
    return (
        f'<section id="bag"><header><h1>{escape(card.context.body.name)}</h1>'
        f"<p><span>{len(texts)} lenses</span><span>{escape(texts[0].identity[0])}</span></p>"
        f"</header><nav>{rows}</nav></section>"
    )


def _glance(text: CardText) -> str:
    if text.big.f_number == text.standing:
        return text.standing
    return _DOT.join((text.big.f_number, text.big.remote, text.big.dial))


def _section(card: LensCard, text: CardText, number: int, back: str) -> str:
    blocks = [
        "".join(f'<p class="warning">{_WARN}{escape(w)}</p>' for w in text.warnings)
        + f'<div class="second">{_second(text)}{_frame(card)}</div>',
        _pairs((("Focus", text.focus, False),)),
        _zoom(text.positions),
        "".join(f"<p>{escape(line)}</p>" for line in text.night),
        _pairs((("Panorama", text.panorama, False), ("Stack", text.stack, False))),
        '<ul class="start">' + "".join(f"<li>{escape(s)}</li>" for s in text.start_list) + "</ul>",
        _fallback(text),
        escape(_DOT.join(text.identity + text.notes)),
    ]
    names = ("", "", "zoom", "night", "", "", "", "identity")
    body = "".join(
        f'<div class="{" ".join(("block", name)).strip()}">{block}</div>'
        for name, block in zip(names, blocks, strict=True)
        if block
    )
    return (
        f'<section id="lens-{number}"><header><h2>{escape(text.lens)}</h2><p>'
        f"<span>{escape(text.setting)}</span><span>{escape(text.standing)}</span></p></header>"
        f"{_four(text)}{body}{back}</section>"
    )


def _four(text: CardText) -> str:
    mark = (
        f"<small>dial mark, true {escape(text.big.dial_true)}</small>" if text.big.dial_true else ""
    )
    rows = (
        (text.big.f_number, "f-number"),
        (text.big.remote, "with remote"),
        (text.big.dial, f"no remote{mark}"),
        (text.big.iso, "ISO"),
    )
    return (
        '<dl class="four">'
        + "".join(
            f"<div><dt>{words}</dt>{_figure(figure, size)}</div>"
            for size, (figure, words) in enumerate(rows, 1)
        )
        + "</dl>"
    )


def _figure(figure: str, size: int) -> str:
    parts = _FIGURE.match(figure)
    if parts is None:
        return f'<dd class="size-{size} words">{escape(figure)}</dd>'
    before, number, after = parts.groups()
    return (
        f'<dd class="size-{size}">'
        + (f'<span class="before">{before}</span>' if before else "")
        + number
        + ('<span class="after"> s</span>' if after else "")
        + "</dd>"
    )


def _second(text: CardText) -> str:
    return _pairs(
        (
            ("Blur", text.blur, True),
            ("Trail", text.trail, False),
            ("Fits", text.fits, False),
            ("Limit", text.limit, False),
            ("Weak", text.weak, False),
        )
    )


def _pairs(pairs: Sequence[tuple[str, str, bool]]) -> str:
    items = "".join(
        f"<dt>{name}</dt><dd{' class=key' if key else ''}>{escape(value)}</dd>"
        for name, value, key in pairs
    )
    return f'<dl class="pairs">{items}</dl>'


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


def _zoom(positions: Sequence[PositionText]) -> str:
    if not positions:
        return ""
    rows = "".join(
        f"<tr{' class=chosen' if p.chosen else ''}>"
        f"<td>{_CHOSEN if p.chosen else ''}{p.focal}</td>"
        f"<td>{p.f_number}</td><td>{p.remote}</td><td>{p.dial}</td><td>{p.blur}</td>"
        f'<td class="note">{_note(p.warning)}</td></tr>'
        for p in positions
    )
    heads = "".join(f"<th>{h}</th>" for h in ("zoom", "", "remote", "no remote", "blur", ""))
    return f"<table><tr>{heads}</tr>{rows}</table>"


def _note(warning: str) -> str:
    """A wrap only between two warnings, never inside one."""
    parts = (_WARN + part for part in warning.split(", "))
    return ", ".join(escape(part).replace(" ", "&nbsp;") for part in parts) if warning else ""


def _fallback(text: CardText) -> str:
    focals = "".join(f"<th>{escape(mm.removesuffix(' mm'))}</th>" for mm, _ in text.fallback)
    times = "".join(f"<td>{escape(time.removesuffix(' s'))}</td>" for _, time in text.fallback)
    return (
        f'{escape(text.fallback_title)}<table class="fallback"><tr><th>mm</th>{focals}</tr>'
        f"<tr><td>s</td>{times}</tr></table>"
    )
