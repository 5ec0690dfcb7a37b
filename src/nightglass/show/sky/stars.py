"""Actual stars of a frame, one per zone, as recorded: all at one scale and one stretch."""

from __future__ import annotations

import io
from base64 import b64encode
from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray
from PIL import Image

from nightglass.show.crops import BAR_PERCENT, stretched
from nightglass.show.sky.head import HEAD, MARGIN, WIDTH, draw_head
from nightglass.show.sky.style import INK, SOFT
from nightglass.show.sky.words.field import zone_name
from nightglass.show.svg import Picture
from nightglass.sky.zones.field import Field
from nightglass.sky.zones.typical import Crop
from nightglass.sky.zones.zone import ZONE_COLUMNS, ZONE_ROWS

GAP, CAPTION = 20.0, 62.0
SNR_MEANS = "light of the star over its noise"
ABOUT = (
    "Green light on whole raw pixels (the mosaic's gaps filled), unsharpened, one square per "
    "pixel. Brightness: square root of light over each star's own peak."
)


def star_crops_svg(field: Field, crops: Sequence[Crop], title: str, subtitle: str = "") -> str:
    """Return a picture of the crops, each at its zone's place, as SVG text.

    Raises ValueError without crops.
    """
    if not crops:
        raise ValueError("no zone has a single unclipped star to show")
    tile = (WIDTH - 2 * MARGIN - GAP * (ZONE_COLUMNS - 1)) / ZONE_COLUMNS
    side = crops[0].light.shape[0]
    height = HEAD + 26 + ZONE_ROWS * (tile + CAPTION) + 40
    picture = Picture(WIDTH, height, title)
    draw_head(picture, title, subtitle)
    picture.text(MARGIN, HEAD - 10, ABOUT, 15, INK)
    at = {(crop.row, crop.column): crop for crop in crops}
    for row, column in np.ndindex(ZONE_ROWS, ZONE_COLUMNS):
        x = MARGIN + column * (tile + GAP)
        y = HEAD + 16 + row * (tile + CAPTION)
        _tile(picture, field, at.get((row, column)), (row, column), (x, y, tile))
    _scale_bar(picture, field, tile / side, HEAD + 26 + ZONE_ROWS * (tile + CAPTION))
    return picture.svg()


def pixels_png(levels: NDArray[np.uint8], times: int) -> str:
    """Return grey levels as a data address of a PNG, each pixel a square of so many dots.

    The squares are drawn here, so that no reader of the picture smooths them.
    """
    buffer = io.BytesIO()
    large = np.repeat(np.repeat(levels, times, axis=0), times, axis=1)
    Image.fromarray(large).save(buffer, format="PNG", optimize=True)
    return "data:image/png;base64," + b64encode(buffer.getvalue()).decode("ascii")


def _tile(
    picture: Picture,
    field: Field,
    crop: Crop | None,
    at: tuple[int, int],
    box: tuple[float, float, float],
) -> None:
    x, y, tile = box
    zone = next(z for z in field.zones if (z.row, z.column) == at)
    middle, centred = x + tile / 2, 'text-anchor="middle"'
    picture.text(middle, y + tile + 19, zone_name(zone), 14, INK, f'{centred} font-weight="bold"')
    if crop is None:
        dashed = f'stroke="{SOFT}" stroke-dasharray="4 4"'
        picture.rect(x, y, tile, tile, "none", dashed)
        picture.text(middle, y + tile / 2, "no single unclipped star", 14, SOFT, centred)
        return
    half = crop.light.shape[0] // 2
    times = max(round(2 * tile / crop.light.shape[0]), 1)
    picture.image(x, y, tile, tile, pixels_png(stretched(crop.light, half), times),
                  f'data-zone="{crop.row},{crop.column}"')  # fmt: skip
    place = f"at {crop.x_px:.0f}, {crop.y_px:.0f} px; SNR {crop.snr:.0f}"
    picture.text(middle, y + tile + 37, place, 13, SOFT, centred)


def _scale_bar(picture: Picture, field: Field, scale: float, y: float) -> None:
    """A bar of a round share of the picture height, not longer than a tile."""
    unit = scale / field.percent
    share = max((p for p in BAR_PERCENT if p * unit <= 200), default=BAR_PERCENT[0])
    long = share * unit
    picture.line([(MARGIN, y), (MARGIN + long, y)], INK, 2.2, 'data-part="bar"')
    for end in (MARGIN, MARGIN + long):
        picture.line([(end, y - 7), (end, y + 7)], INK, 2.4, "")
    words = f"{share:g} % of picture height = {share / field.percent:.1f} px; SNR: {SNR_MEANS}"
    picture.text(MARGIN + long + 16, y + 5, words, 15, INK)
