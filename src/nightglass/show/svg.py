"""Small SVG writer for the planner's pictures: shapes, text with a halo, one colour table."""

from __future__ import annotations

import textwrap
from collections.abc import Iterable, Sequence
from html import escape
from pathlib import Path

import numpy as np

from nightglass.optics.arrays import Floats
from nightglass.show.whole_file import write_whole

FONT = "Liberation Sans, DejaVu Sans, Arial, sans-serif"
INK, PAPER, FAINT = "#1c1c1c", "#ffffff", "#5b5b5b"
SKY, BAND, BAND_EDGE = "#111a35", "#36467a", "#9fb2e6"
LAND, LAND_EDGE, OUTSIDE = "#3b3328", "#d8cbb3", "#4a4a4a"
STAR, TRAIL, MARK = "#ffffff", "#f0a92b", "#ffffff"
PNG_SCALE = 2.0
LETTER_WIDTH = 0.53
"""Mean width of a letter over the font's size; a little more than these fonts have."""


class Picture:
    """An SVG in the making: shapes are added in the order in which they lie on each other."""

    def __init__(self, width_px: float, height_px: float, title: str) -> None:
        self.width_px, self.height_px = width_px, height_px
        self._parts: list[str] = [f"<title>{escape(title)}</title>"]
        self.rect(0, 0, width_px, height_px, PAPER)

    def rect(
        self, x: float, y: float, width: float, height: float, fill: str, more: str = ""
    ) -> None:
        """Add a filled rectangle."""
        self._parts.append(
            f'<rect x="{x:.1f}" y="{y:.1f}" width="{width:.1f}" height="{height:.1f}" '
            f'fill="{fill}" {more}/>'
        )

    def circle(self, x: float, y: float, radius: float, fill: str, more: str = "") -> None:
        """Add a circle."""
        self._parts.append(
            f'<circle cx="{x:.1f}" cy="{y:.1f}" r="{radius:.2f}" fill="{fill}" {more}/>'
        )

    def line(self, points: Iterable[Sequence[float]], stroke: str, width: float, more: str) -> None:
        """Add a line through points (x, y)."""
        path = " ".join(f"{p[0]:.1f},{p[1]:.1f}" for p in points)
        self._parts.append(
            f'<polyline points="{path}" fill="none" stroke="{stroke}" stroke-width="{width:g}" '
            f"{more}/>"
        )

    def polygon(self, points: Iterable[Sequence[float]], fill: str, more: str = "") -> None:
        """Add a filled outline."""
        path = " ".join(f"{p[0]:.1f},{p[1]:.1f}" for p in points)
        self._parts.append(f'<polygon points="{path}" fill="{fill}" {more}/>')

    def path(self, data: str, fill: str, more: str = "") -> None:
        """Add a filled path."""
        self._parts.append(f'<path d="{data}" fill="{fill}" {more}/>')

    def image(
        self, x: float, y: float, width: float, height: float, address: str, more: str = ""
    ) -> None:
        """Add a picture of squares by its (data) address; its pixels are not smoothed."""
        self._parts.append(
            f'<image x="{x:.1f}" y="{y:.1f}" width="{width:.1f}" height="{height:.1f}" '
            f'image-rendering="optimizeSpeed" href="{address}" {more}/>'
        )

    def text(
        self, x: float, y: float, words: str, size: float = 13, fill: str = INK, more: str = ""
    ) -> None:
        """Add a line of text, its left end at (x, y) unless `more` says otherwise."""
        self._parts.append(
            f'<text x="{x:.1f}" y="{y:.1f}" font-family="{FONT}" font-size="{size:g}" '
            f'fill="{fill}" {more}>{escape(words)}</text>'
        )

    def paragraph(
        self, x: float, y: float, words: str, size: float = 13, fill: str = INK, more: str = ""
    ) -> float:
        """Add text that breaks before the right margin; return where the next line begins."""
        letters = int((self.width_px - 2 * x) / (LETTER_WIDTH * size))
        for line in textwrap.wrap(words, letters):
            self.text(x, y, line, size, fill, more)
            y += 1.45 * size
        return y

    def label(
        self, x: float, y: float, words: str, size: float = 13, anchor: str = "middle"
    ) -> None:
        """Add white text that stays readable on any ground."""
        halo = f'text-anchor="{anchor}" stroke="#000000" stroke-width="3.5" stroke-opacity="0.75"'
        self.text(x, y, words, size, "#000000", halo + ' stroke-linejoin="round"')
        self.text(x, y, words, size, "#ffffff", f'text-anchor="{anchor}"')

    def open_clip(self, name: str, x: float, y: float, width: float, height: float) -> None:
        """Begin a group of which only a rectangle shows."""
        self._parts.append(
            f'<clipPath id="{name}"><rect x="{x:.1f}" y="{y:.1f}" width="{width:.1f}" '
            f'height="{height:.1f}"/></clipPath><g clip-path="url(#{name})">'
        )

    def close(self) -> None:
        """End a group."""
        self._parts.append("</g>")

    def svg(self) -> str:
        """Return the SVG text."""
        size = f"{self.width_px:.0f} {self.height_px:.0f}"
        width, height = size.split()
        head = (
            f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {size}" width="{width}" '
            f'height="{height}">'
        )
        return "\n".join([head, *self._parts, "</svg>\n"])


def columns_path(x_px: Floats, y_px: Floats, above_zero: Floats) -> str:
    """Return path data that covers where values on a grid (rows, columns) are above 0.

    x_px: (columns,), y_px: (rows,). Edges lie between samples where the values cross 0; nan is
    not covered. Column by column, so that shapes of any kind come out right.
    """
    half = (x_px[1] - x_px[0]) / 2 + 0.15
    pieces = []
    for k, x in enumerate(x_px):
        values = np.where(np.isnan(above_zero[:, k]), -1.0, above_zero[:, k])
        up = np.concatenate([[False], values > 0, [False]])
        edges = np.flatnonzero(up[1:] != up[:-1])
        for start, end in zip(edges[::2], edges[1::2], strict=True):
            top = _edge(y_px, values, start - 1, start)
            bottom = _edge(y_px, values, end, end - 1)
            pieces.append(f"M{x - half:.1f},{top:.1f}H{x + half:.1f}V{bottom:.1f}H{x - half:.1f}Z")
    return "".join(pieces)


def write_svg_png(svg: str, svg_path: Path, png_path: Path) -> list[Path]:
    """Write an SVG and its PNG (twice the size, for print); return both paths."""
    import vl_convert

    svg_path.parent.mkdir(parents=True, exist_ok=True)
    return [
        write_whole(svg_path, svg.encode()),
        write_whole(png_path, vl_convert.svg_to_png(svg, scale=PNG_SCALE)),
    ]


def _edge(y_px: Floats, values: Floats, outside: int, inside: int) -> float:
    if not 0 <= outside < y_px.size:
        return float(y_px[inside])
    share = values[inside] / (values[inside] - values[outside])
    return float(y_px[inside] + share * (y_px[outside] - y_px[inside]))
