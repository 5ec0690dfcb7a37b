"""The curve of light that stars lose from the centre to the corner, its error as a band."""

from __future__ import annotations

import textwrap

import numpy as np

from nightglass.show.sky.style import FILL, INK, LINE, SOFT
from nightglass.show.sky.words.field import falloff_reason_words
from nightglass.show.svg import LETTER_WIDTH, Picture
from nightglass.sky.zones.field import Falloff, Field

CHART_HEIGHT = 170.0
CURVE_HEIGHT = 250.0
"""With title and names of the places."""
NUMBER_SPACING = 40.0
"""Between the numbers of two places, each with its name under it."""


def draw_falloff(picture: Picture, field: Field, box: tuple[float, float, float]) -> None:
    """Draw the light of stars over the field radius [stops] into a box (x, y, width)."""
    x, y, width = box
    falloff = field.falloff
    title = "Light of stars over the field, in stops"
    picture.text(x, y + 16, title, 17, INK, 'font-weight="bold"')
    if falloff is None:
        words = f"not tested: {falloff_reason_words(field)}"
        for k, line in enumerate(textwrap.wrap(words, int(width / (LETTER_WIDTH * 15)))):
            picture.text(x, y + 48 + 21 * k, line, 15, SOFT)
        return
    radii = np.linspace(0, 1, 41)
    light = np.array([-falloff.stops(r) for r in radii])
    err = np.array([falloff.stops_err(r) for r in radii])
    scale = _Scale((x + 40, y + 46, width - 150), light + err, light - err)
    for stops in scale.ticks():
        picture.line([scale.at(0, stops), scale.at(1, stops)], LINE, 1, "")
        picture.text(
            x + 30, scale.at(0, stops)[1] + 5, signed(stops, 1), 13, SOFT, 'text-anchor="end"'
        )
    band = [scale.at(r, v) for r, v in zip(radii, light + err, strict=True)]
    band += [scale.at(r, v) for r, v in zip(radii[::-1], (light - err)[::-1], strict=True)]
    picture.polygon(band, FILL)
    picture.line([scale.at(r, v) for r, v in zip(radii, light, strict=True)], INK, 2.4, "")
    _places(picture, falloff, scale)


def signed(stops: float, digits: int = 2) -> str:
    """Return stops with a sign, the true minus, and no sign before zero."""
    text = f"{stops:+.{digits}f}"
    return text[1:] if not float(text) else text.replace("-", "\N{MINUS SIGN}")


class _Scale:
    """From field radius and stops to a place in the picture."""

    def __init__(
        self,
        box: tuple[float, float, float],
        high: np.ndarray[tuple[int], np.dtype[np.float64]],
        low: np.ndarray[tuple[int], np.dtype[np.float64]],
    ) -> None:
        self.left, self.top, self.width = box
        self.most, self.least = max(0.0, float(high.max())), min(-1.0, float(low.min()))

    def at(self, radius: float, stops: float) -> tuple[float, float]:
        """Return the place in the picture."""
        share = (self.most - stops) / (self.most - self.least)
        return self.left + radius * self.width, self.top + share * CHART_HEIGHT

    def ticks(self) -> list[float]:
        """Return the stops at which there are lines."""
        step = 1.0 if self.least < -1.6 else 0.5
        count = int(-self.least / step + 0.01) + 1
        return [-k * step for k in range(count)]


def _places(picture: Picture, falloff: Falloff, scale: _Scale) -> None:
    """Name centre, short sides and corners, with the numbers of the two."""
    base = scale.top + CHART_HEIGHT + 24
    picture.text(scale.left, base, "centre", 13, SOFT, 'text-anchor="middle"')
    places = (("short sides", falloff.edge_radius), ("corners", 1.0))
    heights = [scale.at(radius, -falloff.stops(radius))[1] for _, radius in places]
    for (name, radius), y in zip(places, heights, strict=True):
        x = scale.at(radius, 0)[0]
        picture.circle(x, y, 4.5, "#ffffff", f'stroke="{INK}" stroke-width="2"')
        picture.text(x + 9, base, name, 13, SOFT, 'text-anchor="end"')
    order = np.argsort(heights)
    first, second = heights[order[0]], heights[order[1]]
    apart = max(NUMBER_SPACING - (second - first), 0.0) / 2
    written = {int(order[0]): first - apart, int(order[1]): second + apart}
    for k, (name, radius) in enumerate(places):
        words = f"{signed(-falloff.stops(radius))} ± {falloff.stops_err(radius):.2f}"
        x = scale.left + scale.width + 14
        picture.text(x, written[k] + 1, words, 15, INK, 'font-weight="bold"')
        picture.text(x, written[k] + 17, name, 13, SOFT)
