"""The two lines over a picture of a frame, and the picture's usual width."""

from __future__ import annotations

from nightglass.show.sky.style import INK, SOFT
from nightglass.show.svg import LETTER_WIDTH, Picture

WIDTH, MARGIN, HEAD = 1200.0, 40.0, 114.0


def cut(words: str, size: float, width: float) -> str:
    """Return words that fit into a width at a font size; a cut one ends in an ellipsis."""
    most = max(int(width / (LETTER_WIDTH * size)), 4)
    return words if len(words) <= most else words[: most - 1].rstrip() + "…"


def draw_head(picture: Picture, title: str, subtitle: str) -> None:
    """Draw the two lines over a picture; what does not fit is cut."""
    width = picture.width_px - 2 * MARGIN
    picture.text(MARGIN, 42, cut(title, 27, width), 26, INK, 'font-weight="bold"')
    picture.text(MARGIN, 70, cut(subtitle, 16, width), 16, SOFT)
