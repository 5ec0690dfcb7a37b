"""What a developed picture or a linear raw does not tell, in words."""

from __future__ import annotations

from nightglass.sky.developed import DevelopedCode

DEVELOPED = {
    DevelopedCode.SIZES_NOT_COMPARABLE: (
        "sizes are not comparable with those of raw frames: the mosaic was already turned into "
        "colours, which sharpens or smooths stars"
    ),
    DevelopedCode.LIGHT_NOT_KNOWN: (
        "light is not known (zero point, sky, light lost toward the corners, noise): it was "
        "developed with the picture; the raw file of this frame tells it"
    ),
}


def developed_notes(codes: tuple[DevelopedCode, ...]) -> list[str]:
    """Return one sentence per code."""
    return [DEVELOPED[code] for code in codes]
