"""Pictures (SVG) whose letters every viewer can draw, and their PNG.

Text in Latin letters stays text. A line with letters of other scripts is set by typst, which joins
Arabic, stacks Devanagari and orders Hebrew, and put into the picture as outlines: what draws
SVG does that in many ways, or with empty boxes. The words stay beside for those who listen.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping, Sequence
from datetime import date
from pathlib import Path
from xml.etree import ElementTree

from nightglass.show.typefaces import FONT_FOLDER, of_other_scripts
from nightglass.show.typeset import typeset
from nightglass.show.whole_file import write_whole

SVG = "http://www.w3.org/2000/svg"
PNG_SCALE = 2.0
"""Dots per unit of a picture, for print."""
_FILL = "#010203"
"""Stands for the colour of a line until its own is put in."""
_ANY_DATE = date(2000, 1, 1)
_KEPT = ("transform", "opacity", "stroke", "stroke-width", "stroke-opacity", "stroke-linejoin")
_ANCHORED = {"middle": 0.5, "end": 1.0}
_FONTS_READY: list[bool] = []

ElementTree.register_namespace("", SVG)
ElementTree.register_namespace("xlink", "http://www.w3.org/1999/xlink")


def outlined(svg: str) -> str:
    """Return a picture in which lines with letters of other scripts are outlines."""
    if not of_other_scripts(svg):
        return svg
    root = ElementTree.fromstring(svg)
    places = [
        (parent, k, element)
        for parent in root.iter()
        for k, element in enumerate(parent)
        if element.tag == f"{{{SVG}}}text" and of_other_scripts("".join(element.itertext()))
    ]
    lines = [list(_lines(element)) for _parent, _k, element in places]
    rows = [row for group in lines for row in group]
    if not rows:
        return svg
    drawn = iter(_set(rows))
    for (parent, k, element), group in zip(places, lines, strict=True):
        parent[k] = _group(element, group, [next(drawn) for _row in group])
    return ElementTree.tostring(root, encoding="unicode")


def png_of(svg: str, scale: float = PNG_SCALE) -> bytes:
    """Return a picture as PNG, drawn with the fonts on hand; scale: dots per unit."""
    import vl_convert

    if not _FONTS_READY:
        vl_convert.register_font_directory(str(FONT_FOLDER))
        _FONTS_READY.append(True)
    png: bytes = vl_convert.svg_to_png(svg, scale=scale)
    return png


def write_picture(svg: str, svg_path: Path, png_path: Path) -> tuple[Path, Path]:
    """Write a picture as SVG and PNG beside each other; return both paths. Raises OSError."""
    drawn = outlined(svg)
    svg_path.parent.mkdir(parents=True, exist_ok=True)
    return write_whole(svg_path, drawn.encode()), write_whole(png_path, png_of(drawn))


def _lines(text: ElementTree.Element) -> Iterator[dict[str, str | float]]:
    """Yield each line of a text element: its words, where it begins, its size and weight."""
    look = {
        "size_px": float(re.sub(r"[^0-9.]", "", text.get("font-size", "13"))),
        "weight": "bold" if text.get("font-weight") == "bold" else "regular",
    }
    x, y = float(text.get("x", 0)), float(text.get("y", 0))
    if (text.text or "").strip():
        yield {"words": text.text or "", "x": x, "y": y, **look}
    for span in text:
        x, y = float(span.get("x", x)), float(span.get("y", y)) + float(span.get("dy", 0))
        yield {"words": "".join(span.itertext()), "x": x, "y": y, **look}


def _set(rows: Sequence[Mapping[str, str | float]]) -> list[ElementTree.Element]:
    """Return each line as a picture of its own, as wide as its words."""
    pages = typeset("lines.typ", {"rows": rows, "fill": _FILL}, "svg", _ANY_DATE)
    pictures = []
    for number, page in enumerate(pages):
        # Shapes are named by their look; in one picture every name must be there once.
        own = re.sub(r'(id="|href="#)', rf"\g<1>line{number}-", page.decode())
        pictures.append(ElementTree.fromstring(own))
    return pictures


def _group(
    text: ElementTree.Element,
    lines: Sequence[Mapping[str, str | float]],
    drawn: Sequence[ElementTree.Element],
) -> ElementTree.Element:
    """Return outlines in the place of a text element, with its words for those who listen."""
    kept = {name: value for name in _KEPT if (value := text.get(name)) is not None}
    group = ElementTree.Element(f"{{{SVG}}}g", kept | {"role": "img"})
    group.set("aria-label", " ".join(str(line["words"]) for line in lines))
    group.tail = text.tail
    share = _ANCHORED.get(text.get("text-anchor", "start"), 0.0)
    fill = text.get("fill", "black")
    for line, picture in zip(lines, drawn, strict=True):
        width_px = float(picture.get("viewBox", "0 0 0 0").split()[2])
        left = float(line["x"]) - share * width_px
        top = float(line["y"]) - float(line["size_px"])
        inner = ElementTree.SubElement(group, f"{{{SVG}}}g")
        inner.set("transform", f"translate({left:.2f},{top:.2f})")
        for shape in picture.iter():
            if shape.get("fill") == _FILL:
                shape.set("fill", fill)
        inner.extend(list(picture))
    return group
