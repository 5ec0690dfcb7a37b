"""Cards on disk: a picture, a page and a print for each lens and for the whole bag."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

from nightglass.show.card.draw import bag_pngs, card_pdf, card_png
from nightglass.show.card.html import cards_html
from nightglass.show.card.record import LensCard
from nightglass.show.whole_file import write_whole
from nightglass.show.words import file_stem


@dataclass(frozen=True)
class CardFiles:
    """Where the files of one card lie; the bag may have several pictures."""

    name: str
    pictures: tuple[Path, ...]
    page: Path
    print: Path


def write_cards(cards: Sequence[LensCard], folder: Path) -> tuple[CardFiles, ...]:
    """Write every card into a folder and return what was written: each lens, then the bag.

    A bag file is written for several lenses only. Files of the same name are replaced once the
    new one is complete: an old card is never left half overwritten. Raises OSError where the
    folder can't be written, ValueError for no cards.
    """
    if not cards:
        raise ValueError("no cards to write; give at least one")
    folder.mkdir(parents=True, exist_ok=True)
    bag = bag_pngs(cards) if len(cards) > 1 else []
    bag_stems = ["bag", *(f"bag-{k}" for k in range(2, len(bag) + 1))]
    taken = set(bag_stems)
    written = [_write_lens(card, folder, file_stem(card.lens.name, taken)) for card in cards]
    if bag:
        pictures = tuple(
            write_whole(folder / f"{stem}.png", picture)
            for stem, picture in zip(bag_stems, bag, strict=True)
        )
        page = write_whole(folder / "bag.html", cards_html(cards).encode())
        written.append(
            CardFiles(
                "the whole bag", pictures, page, write_whole(folder / "bag.pdf", card_pdf(cards))
            )
        )
    return tuple(written)


def _write_lens(card: LensCard, folder: Path, stem: str) -> CardFiles:
    return CardFiles(
        card.lens.name,
        (write_whole(folder / f"{stem}.png", card_png(card)),),
        write_whole(folder / f"{stem}.html", cards_html([card]).encode()),
        write_whole(folder / f"{stem}.pdf", card_pdf([card])),
    )
