"""Raw filtering in a picture: bright samples of dark frames against their brightest neighbours."""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np

from nightglass.show.crops import stretched
from nightglass.show.sky.panel import wrapped
from nightglass.show.sky.stars import pixels_png
from nightglass.show.sky.style import FILL, INK, LINE, SOFT
from nightglass.show.sky.words.filter import (
    VERDICTS,
    filter_reason_words,
    filtering_advice,
    taken_words,
)
from nightglass.show.svg import Picture
from nightglass.sky.photometry.filtering import (
    ALONE_FILTERED,
    ALONE_UNFILTERED,
    Filtering,
)

WIDTH, MARGIN, HEAD = 1200.0, 40.0, 120.0
PLOT, TILE, GAP = 230.0, 118.0, 14.0
ROW_HEIGHT = 360.0
SHOWN = 500
"""Points per plot: more hide each other."""
ALONE_ABOVE_SIGMA = 5.0
LEAST_SIGMA = 1.0


def filter_svg(verdicts: Sequence[Filtering]) -> str:
    """Return the picture: a row per exposure mode and time, as SVG text.

    Raises ValueError without verdicts.
    """
    if not verdicts:
        raise ValueError("no dark frames were judged: nothing to draw")
    words = wrapped(filtering_advice(verdicts), WIDTH - 2 * MARGIN, 16)
    head = HEAD + 22 * len(words)
    picture = Picture(WIDTH, head + ROW_HEIGHT * len(verdicts) + 20, "Raw filtering")
    title = "Does the body erase small stars in its raw files?"
    picture.text(MARGIN, 42, title, 26, INK, 'font-weight="bold"')
    about = (
        "From dark frames: a hot pixel stands alone; a filter cuts it to its brightest neighbour."
    )
    picture.text(MARGIN, 70, about, 16, SOFT)
    for k, line in enumerate(words):
        picture.text(MARGIN, 102 + 22 * k, line, 16, INK)
    for k, found in enumerate(verdicts):
        _row(picture, found, head + ROW_HEIGHT * k)
    return picture.svg()


def _row(picture: Picture, found: Filtering, y: float) -> None:
    picture.line([(MARGIN, y), (WIDTH - MARGIN, y)], LINE, 1, "")
    title = f"{taken_words(found)}: {VERDICTS[found.verdict]}"
    picture.text(MARGIN, y + 30, title, 18, INK, 'font-weight="bold"')
    _plot(picture, found, (MARGIN + 56, y + 52))
    x = MARGIN + 56 + PLOT + 56
    _share(picture, found, (x, y + 66, 380))
    for k, line in enumerate(wrapped(f"{filter_reason_words(found)}.", 390)[:9]):
        picture.text(x, y + 166 + 21 * k, f"{line[0].upper()}{line[1:]}" if k == 0 else line, 15)
    _crops(picture, found, (WIDTH - MARGIN - 3 * TILE - 2 * GAP, y + 52))


def _plot(picture: Picture, found: Filtering, at: tuple[float, float]) -> None:
    """Each bright sample against its brightest neighbour, both in deviations of the noise."""
    x, y = at
    top = max(float(found.value_sigma.max(initial=100.0)), 100.0) * 1.3

    def place(neighbour: float, value: float) -> tuple[float, float]:
        wide, high = (
            math.log(max(v, LEAST_SIGMA) / LEAST_SIGMA) / math.log(top / LEAST_SIGMA)
            for v in (neighbour, value)
        )
        return x + wide * PLOT, y + (1 - high) * PLOT

    picture.rect(x, y, PLOT, PLOT, "none", f'stroke="{SOFT}"')
    for sigma in (1, 10, 100, 1000, 10000):
        if sigma < top:
            low, left = place(sigma, LEAST_SIGMA), place(LEAST_SIGMA, sigma)
            picture.text(low[0], low[1] + 17, f"{sigma:g}", 12, SOFT, 'text-anchor="middle"')
            picture.text(left[0] - 6, left[1] + 4, f"{sigma:g}", 12, SOFT, 'text-anchor="end"')
    edge = [place(v - ALONE_ABOVE_SIGMA, v) for v in np.geomspace(6, top, 40)]
    picture.polygon([*edge, place(LEAST_SIGMA, top)], FILL)
    picture.line([place(1, 1), place(top, top)], INK, 1.5, 'stroke-dasharray="6 4"')
    picture.text(x + 0.86 * PLOT, y + 18, "stands alone", 13, SOFT, 'text-anchor="end"')
    picture.text(*place(top / 1.5, 1.6), "cut or touching", 13, SOFT, 'text-anchor="end"')
    step = max(found.value_sigma.size // SHOWN, 1)
    for value, neighbour in zip(
        found.value_sigma[::step], found.neighbour_sigma[::step], strict=True
    ):
        px, py = place(float(neighbour), float(value))
        if value - neighbour > ALONE_ABOVE_SIGMA:
            picture.circle(px, py, 2.6, INK, 'fill-opacity="0.7"')
        else:
            picture.path(f"M{px - 3:.1f},{py - 3:.1f}l6,6m0,-6l-6,6", "none",
                         f'stroke="{INK}" stroke-width="1.2"')  # fmt: skip
    picture.text(x + PLOT / 2, y + PLOT + 36, "brightest neighbour [noise]", 13, SOFT,
                 'text-anchor="middle"')  # fmt: skip
    turn = f'text-anchor="middle" transform="rotate(-90 {x - 40:.1f} {y + PLOT / 2:.1f})"'
    picture.text(x - 40, y + PLOT / 2, "bright sample [noise]", 13, SOFT, turn)


def _share(picture: Picture, found: Filtering, box: tuple[float, float, float]) -> None:
    """Share of bright samples that stand alone, on a scale with what untouched sensors give."""
    x, y, width = box
    picture.text(x, y, "Bright samples that stand alone", 15, INK, 'font-weight="bold"')
    y += 34
    bands = (
        (0.0, ALONE_FILTERED, "#8d95a6", "filtered"),
        (ALONE_UNFILTERED, 1.0, FILL, "untouched sensors"),
    )
    picture.rect(x, y, width, 16, "none", f'stroke="{SOFT}"')
    for low, high, fill, name in bands:
        picture.rect(x + low * width, y, (high - low) * width, 16, fill, f'stroke="{SOFT}"')
        middle = x + (low + high) / 2 * width
        picture.text(middle, y + 34, name, 13, SOFT, 'text-anchor="middle"')
    if found.alone_share is None or found.alone_interval is None:
        picture.text(x, y - 8, f"{found.alone} of {found.bright}: too few to tell a share", 14, INK)
        return
    low, high = (x + share * width for share in found.alone_interval)
    at = x + found.alone_share * width
    picture.line([(low, y + 8), (high, y + 8)], INK, 3, "")
    picture.path(f"M{at:.1f},{y + 2:.1f}l7,-11h-14z", INK)
    anchor = "end" if found.alone_share > 0.8 else "start" if found.alone_share < 0.2 else "middle"
    words = f"{100 * found.alone_share:.0f} % of {found.bright}"
    shift = {"end": -12, "start": 12, "middle": 0}[anchor]
    picture.text(at + shift, y - 8, words, 14, INK, f'text-anchor="{anchor}"')


def _crops(picture: Picture, found: Filtering, at: tuple[float, float]) -> None:
    """Bright samples as recorded, at pixel scale, square root of the light."""
    x, y = at
    for k in range(6):
        left, top = x + (k % 3) * (TILE + GAP), y + (k // 3) * (TILE + GAP)
        if k >= len(found.crops_sigma):
            picture.rect(left, top, TILE, TILE, "none", f'stroke="{LINE}" stroke-dasharray="4 4"')
            continue
        crop = found.crops_sigma[k]
        address = pixels_png(stretched(crop, crop.shape[0] // 2), 22)
        picture.image(left, top, TILE, TILE, address, 'data-part="crop"')
    about = f"{found.frames} frame{'s' if found.frames > 1 else ''}; bright samples, 11 × 11 px"
    picture.text(x, y + 2 * TILE + GAP + 20, about, 13, SOFT)
