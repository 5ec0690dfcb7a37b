"""Typesetting with typst: fonts on hand only, no network, the same picture on every machine."""

from __future__ import annotations

import json
from collections.abc import Mapping
from datetime import UTC, date, datetime
from importlib.resources import files
from pathlib import Path
from typing import Any, Literal

import typst

from nightglass.show.typefaces import drawable, font_folders

TEMPLATE_FOLDER = Path(str(files("nightglass.show") / "templates"))


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
    words = json.dumps(_drawable_tree(data), allow_nan=False, ensure_ascii=False)
    compiler = typst.Compiler(
        input=TEMPLATE_FOLDER / template,
        root=TEMPLATE_FOLDER,
        font_paths=font_folders(words),
        ignore_system_fonts=True,
        sys_inputs={"data": words},
    )
    stamp = datetime(made.year, made.month, made.day, tzinfo=UTC)
    pages = compiler.compile(
        format=kind, ppi=72 * px_per_point if kind == "png" else None, timestamp=stamp
    )
    documents = pages if isinstance(pages, list) else [pages]
    return [document for document in documents if document is not None]


def _drawable_tree(value: Any) -> Any:
    if isinstance(value, str):
        return drawable(value)
    if isinstance(value, Mapping):
        return {key: _drawable_tree(item) for key, item in value.items()}
    if isinstance(value, list | tuple):
        return [_drawable_tree(item) for item in value]
    return value
