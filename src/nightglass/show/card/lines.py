"""Cards as a terminal or a program reads them: lines of text, plain data."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import asdict
from typing import Any

from nightglass.show.card.files import CardFiles
from nightglass.show.card.record import LensCard
from nightglass.show.card.text import card_text


def card_lines(cards: Sequence[LensCard], written: Sequence[CardFiles]) -> list[str]:
    """Return what the terminal shows of cards and their files, line by line."""
    lines = []
    for made in cards:
        text = card_text(made)
        where = f" {text.setting}" if text.setting else ""
        figures = (
            f"{text.big.f_number}, {text.big.remote} with remote, {text.big.dial} without, "
            f"ISO {text.big.iso}"
            if made.standing
            else f"not tested ({made.reason_not_ranked})"
        )
        lines.append(f"{text.lens}{where}: {figures}")
        lines += [f"  warning: {warning}" for warning in text.warnings if made.standing]
    lines.append("")
    for files in written:
        paths = (*files.pictures, files.page, files.print)
        lines.append(f"{files.name}: {paths[0].parent}/")
        lines.append("  " + "  ".join(path.name for path in paths))
    lines.append("")
    lines.append(
        f"Next: copy {written[-1].page.name} and {written[-1].pictures[0].name} to your phone, and "
        f"print {written[-1].print.name} for the day its battery dies."
    )
    return lines


def card_document(cards: Sequence[LensCard], written: Sequence[CardFiles]) -> dict[str, Any]:
    """Return cards and their files as plain data."""

    def files(item: CardFiles) -> dict[str, Any]:
        return {
            "pictures": [str(path) for path in item.pictures],
            "page": str(item.page),
            "print": str(item.print),
        }

    return {
        "cards": [
            {**asdict(card_text(made)), "files": files(item)}
            for made, item in zip(cards, written, strict=False)
        ],
        "bag": files(written[-1]) if len(written) > len(cards) else None,
    }
