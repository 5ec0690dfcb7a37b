"""The worst place of each finding, reference and picture side by side, as one PNG per picture."""

from __future__ import annotations

import io
from collections.abc import Iterator
from datetime import date
from pathlib import Path, PurePath
from typing import Any

import numpy as np
from PIL import Image
from scipy.ndimage import gaussian_filter

from nightglass.finish.codes import FindingCode
from nightglass.finish.records import Audit, Finding, Finish, View
from nightglass.optics.arrays import Floats32
from nightglass.show.finish.text import TITLES
from nightglass.show.finish.words import FINDINGS, worded
from nightglass.show.typeset import typeset
from nightglass.show.whole_file import write_whole
from nightglass.show.words import file_stem

MADE = date(2000, 1, 1)
VIEW_POINTS = 288
PX_PER_POINT = 2
BLACK_SIGMAS, WHITE_SIGMAS = 6.0, 24.0
"""The stretch: light from 6 sigma of the reference's noise under its sky to 24 over it."""
COARSE_TIMES = 5.0
"""Half the range of a coarse view over the noise of its scale."""
COARSE = (FindingCode.BLOTCHES, FindingCode.LIGHT_PATCHES)
SMOOTHED_SHARE = 0.25
"""Of a blotch's scale: finer grain is taken out of both views, so that blotches show."""
COLOURED = (
    FindingCode.STAR_COLOUR, FindingCode.SATURATION, FindingCode.BACKGROUND_COLOUR,
    FindingCode.WRONG_PROFILE,
)  # fmt: skip
ABOUT = (
    "Left the reference in the tone of the picture, right the picture. Both have the same stretch, "
    "enlarged without smoothing."
)
COARSE_ABOUT = " Only this scale is drawn, without stars and finer grain, contrast raised."


def write_sheets(found: Finish, folder: Path) -> Iterator[Path]:
    """Write a sheet for each picture with findings; yield its path. Raises OSError."""
    taken: set[str] = set()
    for one in found.audits:
        stem = file_stem(PurePath(one.facts.file).stem, taken)
        if one.views:
            folder.mkdir(parents=True, exist_ok=True)
            path = folder / f"{stem}.png"
            write_whole(path, sheet(one))
            yield path


def sheet(one: Audit) -> bytes:
    """Return the PNG of one picture's findings."""
    rows = [_row(f, v) for f, v in zip(one.findings, one.views, strict=True)]
    data = {
        "title": f"What the finishing did: {PurePath(one.facts.file).name}",
        "about": ABOUT,
        "points": VIEW_POINTS,
        "rows": rows,
    }
    return typeset("finish.typ", data, "png", MADE, PX_PER_POINT)[0]


def _row(finding: Finding, view: View) -> dict[str, Any]:
    text = worded(FINDINGS[finding.code], finding.values)
    coarse = finding.code in COARSE
    scale = int(finding.values["scale_px"]) if coarse else 0
    half = COARSE_TIMES * float(finding.values["percent"]) / 100 if coarse else 0.0
    text = f"{text[0].upper()}{text[1:]}.{COARSE_ABOUT if coarse else ''}"
    return {
        "title": f"{TITLES[finding.code]}, at {finding.x_px}, {finding.y_px} px",
        "text": text,
        "views": [_png(_drawn(p, view, scale, half)) for p in (view.reference, view.picture)],
    }


def _drawn(planes: Floats32, view: View, scale_px: int, half: float) -> np.ndarray:
    """Light as bytes: one stretch for both, straight, with the colours of the light."""
    sky = np.array(view.sky, dtype=np.float32)
    level, noise = float(sky.mean()), max(view.noise, 1e-6)
    if scale_px:
        band = _band(planes, view, scale_px)
        light = band @ np.array([0.25, 0.5, 0.25], dtype=np.float32)
        colour = view.code is FindingCode.BLOTCHES
        shown = band - light[..., None] if colour else np.repeat(light[..., None], 3, axis=2)
        values = 0.5 + shown / (2 * half * level)
        return np.asarray(np.rint(255 * np.clip(values, 0, 1)), dtype=np.uint8)
    low = level - BLACK_SIGMAS * noise
    # A sky of one colour hides every other one: it is drawn grey where colour is not the finding.
    neutral = np.ones(3, np.float32) if view.code in COLOURED else level / np.maximum(sky, 1e-9)
    values = (planes * neutral - low) / ((BLACK_SIGMAS + WHITE_SIGMAS) * noise)
    return np.asarray(np.rint(255 * np.clip(values, 0, 1)), dtype=np.uint8)


def _band(planes: Floats32, view: View, scale_px: int) -> Floats32:
    """What the sky holds at about one scale, stars filled in from around them."""
    weight = (~view.stars).astype(np.float32)
    parts = []
    for sigma in (max(SMOOTHED_SHARE * scale_px, 1.0), 2.0 * scale_px):
        wide = gaussian_filter(weight, sigma)[..., None]
        sums = [gaussian_filter(planes[..., k] * weight, sigma) for k in range(3)]
        parts.append((np.stack(sums, axis=-1) / np.maximum(wide, 1e-3), wide))
    (fine, near), (coarse, _) = parts
    return np.asarray((fine - coarse) * np.clip(2 * near, 0, 1), dtype=np.float32)


def _png(pixels: np.ndarray) -> list[int]:
    packed = io.BytesIO()
    Image.fromarray(pixels).save(packed, format="PNG")
    return list(packed.getvalue())
