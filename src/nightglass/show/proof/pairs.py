"""Stars of the sky beside the bench's spot drawn as the same stars: one scale, one stretch."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import numpy as np
from numpy.typing import NDArray

from nightglass.proof.records import PlaceProof, RedrawnSize, SettingProof, SkyFrame
from nightglass.show.crops import BAR_PERCENT, stretched
from nightglass.show.proof.text import size_words
from nightglass.show.sky.stars import pixels_png

SKY, BENCH = "sky", "bench, drawn as this star"
DOTS = 330
"""About this many dots of a tile; a whole number per raw pixel."""
LONGEST_BAR = 0.7
ABOUT_PAIRS = (
    "Stars: on the left a star as the camera recorded it, on the right the bench's spot drawn in "
    "its place, with the same light, trail, neighbours, sky and noise. Green light on whole raw "
    "pixels (the mosaic's gaps filled), unsharpened, one square per pixel. All tiles of the page "
    "have one scale; brightness is the square root of light over the brighter peak of the two. Of "
    "the brightest single stars about the place, the one nearest to the middle size of all on both "
    "sides is shown; the ratio beside it is that of all"
)


def star_pairs(
    one: SettingProof, frames: Sequence[SkyFrame], picture_height_px: float, half_px: int
) -> list[dict[str, Any]]:
    """Return the stars of a setting's places, from the frame with most stars about each; none
    where no star was drawn. half_px: half side of every tile."""
    found = [(place, _best(place.place, frames)) for place in one.places]
    if half_px < 1:
        return []
    return [
        _pair(best[1], _words(place, best[0].file), picture_height_px, half_px)
        for place, best in found
        if best is not None
    ]


def _words(place: PlaceProof, file: str) -> str:
    """What the comparison says of all stars about the place, and the frame of the one shown."""
    span = place.as_measured_ratio
    ratio = "" if span is None else f"size, sky over bench {size_words(span.value, span)}, "
    return f"{ratio}{place.as_measured_stars} stars; shown from {file}"


def _best(place: str, frames: Sequence[SkyFrame]) -> tuple[SkyFrame, RedrawnSize] | None:
    found = [
        (frame, redrawn)
        for frame in frames
        for redrawn in frame.redrawn_sizes
        if redrawn.place == place and redrawn.picture is not None
    ]
    return max(found, key=lambda pair: pair[1].stars, default=None)


def _pair(redrawn: RedrawnSize, words: str, height_px: float, half_px: int) -> dict[str, Any]:
    picture = redrawn.picture
    if picture is None:
        raise ValueError(f"no star was drawn about {redrawn.place}")
    sky, drawn = _middle(picture.sky, half_px), _middle(picture.drawn, half_px)
    white = max(float(sky.max()), float(drawn.max()))
    share, bar = _bar(height_px, 2 * half_px + 1)
    return {
        "place": redrawn.place,
        "tiles": [
            ("sky", SKY, _png(sky, half_px, white)),
            ("drawn", BENCH, _png(drawn, half_px, white)),
        ],
        "at": f"{picture.x_px:.0f}, {picture.y_px:.0f} px",
        "bar_width": f"{50 * share:.2f}",
        "bar": bar,
        "words": words,
        "snr": f"{picture.snr:.0f}",
    }


def _middle(crop: NDArray[np.floating[Any]], half_px: int) -> NDArray[np.floating[Any]]:
    centre, keep = crop.shape[0] // 2, min(half_px, crop.shape[0] // 2)
    return crop[centre - keep : centre + keep + 1, centre - keep : centre + keep + 1]


def _png(crop: NDArray[np.floating[Any]], half_px: int, white: float) -> str:
    return pixels_png(stretched(crop, half_px, white), max(round(DOTS / (2 * half_px + 1)), 1))


def _bar(height_px: float, side_px: int) -> tuple[float, str]:
    """Length of the scale bar over that of a tile, and its words."""
    side = 100 * side_px / height_px
    bar = max((p for p in BAR_PERCENT if p <= LONGEST_BAR * side), default=BAR_PERCENT[0])
    return bar / side, f"{bar:g} % of height = {bar * height_px / 100:.1f} px"
