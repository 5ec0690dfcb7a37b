"""Typesetting with typst: shipped fonts only, no network, the same picture on every machine."""

from __future__ import annotations

import json
from collections.abc import Mapping
from datetime import UTC, date, datetime
from importlib.resources import files
from pathlib import Path
from typing import Any, Literal

import typst

FONT_FOLDER = Path(str(files("nightglass.show") / "fonts"))
TEMPLATE_FOLDER = Path(str(files("nightglass.show") / "templates"))
REPLACEMENT = "\N{WHITE SQUARE}"

# The scripts for which typst's own embedded fonts and the shipped ones have glyphs (tried one by
# one in tests/show/test_show_typeset.py); other characters would be drawn as empty boxes of an
# unknown width, so they become one square each and the Latin text beside them stays.
_COVERED = (
    (0x20, 0x7E),
    (0xA0, 0x17F),
    (0x386, 0x3CE),
    (0x400, 0x45F),
    (0x2010, 0x2022),
    (0x2026, 0x2026),
    (0x2030, 0x203A),
    (0x2070, 0x208E),
    (0x2190, 0x2199),
    (0x2212, 0x2212),
    (0x2248, 0x2248),
    (0x2260, 0x2265),
    (0x25A0, 0x25FF),
    (0x2605, 0x2606),
    (0x263C, 0x263E),
)


def drawable(text: str) -> str:
    """Return the text with every character that no shipped font has replaced by a square.

    Line breaks and tabs become spaces; runs of replaced characters stay as long as they were.
    """
    spaced = " ".join(text.split())
    return "".join(c if _covered(ord(c)) else REPLACEMENT for c in spaced)


def typeset(
    template: str,
    data: Mapping[str, Any],
    kind: Literal["png", "pdf", "svg"],
    made: date,
    px_per_point: int = 1,
) -> list[bytes]:
    """Return a document as bytes: one item per page for PNG and SVG, one item in all for PDF.

    template: a file name in the templates folder; it reads data as JSON under the input "data".
    made is the time stamp inside a PDF, so that the
    same card gives the same bytes. Raises typst.TypstError if the template does not compile.
    """
    compiler = typst.Compiler(
        input=TEMPLATE_FOLDER / template,
        root=TEMPLATE_FOLDER,
        font_paths=[FONT_FOLDER],
        ignore_system_fonts=True,
        sys_inputs={"data": json.dumps(_drawable_tree(data), allow_nan=False)},
    )
    stamp = datetime(made.year, made.month, made.day, tzinfo=UTC)
    pages = compiler.compile(
        format=kind, ppi=72 * px_per_point if kind == "png" else None, timestamp=stamp
    )
    documents = pages if isinstance(pages, list) else [pages]
    return [document for document in documents if document is not None]


def _covered(code: int) -> bool:
    return any(low <= code <= high for low, high in _COVERED)


def _drawable_tree(value: Any) -> Any:
    if isinstance(value, str):
        return drawable(value)
    if isinstance(value, Mapping):
        return {key: _drawable_tree(item) for key, item in value.items()}
    if isinstance(value, list | tuple):
        return [_drawable_tree(item) for item in value]
    return value
