"""An answer as the page shows it: sentences, lists, tables and facts, without command lines."""

from __future__ import annotations

import re
from collections.abc import Iterable
from dataclasses import dataclass
from itertools import chain
from typing import Literal

from nightglass.show.columns import Facts, Heading, Part, Table

_TYPED = re.compile(r"\bnightglass [a-z]+|(?:^|\s)--[a-z]+")
_MARKS = "-\N{BULLET} "
Kind = Literal["words", "heading", "list", "facts", "table"]


@dataclass(frozen=True)
class Block:
    """What belongs together of an answer."""

    kind: Kind
    lines: tuple[str, ...] = ()
    """Of words and headings one; of a list each of its points."""
    titles: tuple[str, ...] = ()
    rows: tuple[tuple[str, ...], ...] = ()
    """Of a table, below its titles; of facts (label, words)."""
    numbers: tuple[str, ...] = ()
    """Titles of a table's columns of numbers."""


def blocks_of(parts: Iterable[Part]) -> list[Block]:
    """Return an answer as blocks; sentences that tell what to type are left out.

    Indented lines below each other are the points of a list, one alone is a sentence.
    """
    blocks: list[Block] = []
    for part in chain.from_iterable(map(_single, parts)):
        if isinstance(part, Table):
            rows = tuple(tuple(map(without_commands, row)) for row in part.rows)
            blocks.append(Block("table", titles=part.titles, rows=rows, numbers=part.numbers))
        elif isinstance(part, Facts):
            facts = tuple((label, without_commands(words)) for label, words in part.rows)
            blocks.append(Block("facts", rows=facts))
        elif isinstance(part, Heading):
            blocks.append(Block("heading", (part.words.strip(),)))
        elif said := " ".join(without_commands(part).split()):
            _add(blocks, said.lstrip(_MARKS), is_point=part.startswith("  "))
    return [Block("words", one.lines) if _is_alone(one) else one for one in blocks]


def without_commands(line: str) -> str:
    """Return a line without the sentences that tell what to type on a command line."""
    parts = line.split(". ")
    kept = ". ".join(part for part in parts if not _TYPED.search(part))
    cut_off = kept and _TYPED.search(parts[-1]) and kept[-1] not in ".:;"
    return f"{kept}." if cut_off else kept


def _single(part: Part) -> list[Part]:
    return [*part.split("\n")] if isinstance(part, str) else [part]


def _add(blocks: list[Block], said: str, is_point: bool) -> None:
    if is_point and blocks and blocks[-1].kind == "list":
        blocks[-1] = Block("list", (*blocks[-1].lines, said))
    else:
        blocks.append(Block("list" if is_point else "words", (said,)))


def _is_alone(block: Block) -> bool:
    return block.kind == "list" and len(block.lines) == 1
