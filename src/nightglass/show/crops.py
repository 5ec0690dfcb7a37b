"""The contact sheet: what was measured, as it was recorded, all spots at one scale."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from datetime import date
from io import BytesIO
from pathlib import Path
from typing import Any, Literal

import numpy as np
from numpy.typing import NDArray
from PIL import Image

from nightglass.bench.records import SettingResult, ZoneResult
from nightglass.gear.body import Body
from nightglass.show.typeset import typeset
from nightglass.show.whole_file import write_whole
from nightglass.show.words import NOT_TESTED, f_number, file_stem, focal, percent

BAR_PERCENT = (0.02, 0.05, 0.1, 0.2, 0.5, 1.0, 2.0, 5.0)
"""Lengths of the scale bar, % of picture height."""
_FADED = 1 / 400
"""What is darker than this share of the peak has under a tenth of the range after the root."""
_MARGIN_PX = 3
_ROWS, _COLUMNS = ("top", "middle", "bottom"), ("left", "middle", "right")
_TILE_POINTS = 132
"""About this large; a whole number of points per pixel, so that all squares are alike."""
_STRETCH = (
    "Unsharpened, one square per pixel. Brightness: square root of light over each spot's own peak."
)


def contact_sheet(
    results: Sequence[SettingResult], body: Body, title: str, kind: Literal["png", "svg"] = "png"
) -> bytes:
    """Return a sheet of the measured spots as PNG or SVG: a row per setting, a column per place.

    All spots have one scale, enlarged without smoothing; the scale bar is in % of picture
    height, and the stretch is stated. A place without a spot says "not tested". Raises
    ValueError if no setting has a spot.
    """
    half = _half_px([zone for result in results for zone in result.zones])
    places = list(dict.fromkeys(zone.place for result in results for zone in result.zones))
    lenses = {result.setting.lens for result in results}
    rows = [_row(result, places, half, body, len(lenses) > 1) for result in results]
    return _sheet(title, places, rows, half, body, kind)


def frame_sheet(
    result: SettingResult,
    body: Body,
    title: str,
    words: Mapping[str, str],
    kind: Literal["png", "svg"] = "png",
) -> bytes:
    """Return a sheet of one setting's spots as they lie in the frame, at one scale, PNG or SVG.

    words: what stands under the spot of a place beside its size. Of several places in one ninth of
    the frame the longest spot is shown. Raises ValueError if no place has a spot.
    """
    half = _half_px(result.zones)
    cells: dict[tuple[int, int], ZoneResult] = {}
    for zone in sorted(result.zones, key=lambda z: z.length_px.bound or 0.0):
        row = min(int(3 * zone.y_px / body.height_px), 2)
        cells[row, min(int(3 * zone.x_px / body.width_px), 2)] = zone
    columns = sorted({column for _, column in cells})
    rows = []
    for row in sorted({row for row, _ in cells}):
        zones = [cells.get((row, column)) for column in columns]
        said = [_cell(zone, half, body) for zone in zones]
        for cell, shown in zip(said, zones, strict=True):
            if shown is not None and cell["pixels"] is not None and words.get(shown.place):
                cell["text"] += f"\n{words[shown.place]}"
        rows.append({"label": [_ROWS[row]], "cells": said})
    return _sheet(title, [_COLUMNS[column] for column in columns], rows, half, body, kind)


def _half_px(zones: Sequence[ZoneResult]) -> int:
    stamps = [zone.stamp for zone in zones if zone.stamp is not None]
    if not stamps:
        raise ValueError("no setting has a measured spot to show; run nightglass measure first")
    return half_for(stamps)


def _sheet(
    title: str,
    places: Sequence[str],
    rows: Sequence[Mapping[str, Any]],
    half: int,
    body: Body,
    kind: Literal["png", "svg"],
) -> bytes:
    side_percent = 100 * (2 * half + 1) / body.picture_height_px
    bar = max((p for p in BAR_PERCENT if p <= 0.7 * side_percent), default=BAR_PERCENT[0])
    data = {
        "title": title,
        "about": _STRETCH,
        "places": list(places),
        "side": 2 * half + 1,
        "tile": max(round(_TILE_POINTS / (2 * half + 1)), 2) * (2 * half + 1),
        "bar_share": bar / side_percent,
        "bar_text": f"{bar:g} % of picture height",
        "not_tested": NOT_TESTED,
        "rows": list(rows),
    }
    return typeset("crops.typ", data, kind, date(2000, 1, 1), px_per_point=2)[0]


def write_sheets(results: Sequence[SettingResult], body: Body, folder: Path) -> Iterator[Path]:
    """Write a contact sheet per lens as PNG into an existing folder; yield each file.

    A lens without a measured spot gets none. Raises OSError where the folder can't be written.
    """
    taken: set[str] = set()
    for lens in sorted({result.setting.lens for result in results}):
        mine = sorted(
            (result for result in results if result.setting.lens == lens), key=lambda r: r.setting
        )
        if any(zone.stamp is not None for result in mine for zone in result.zones):
            path = folder / f"spots_{file_stem(lens, taken)}.png"
            yield write_whole(path, contact_sheet(mine, body, lens))


def stretched(
    stamp: NDArray[np.floating[Any]], half_px: int, peak: float | None = None
) -> NDArray[np.uint8]:
    """Return a stamp as grey levels 0 to 255, shape (2 half + 1, 2 half + 1): the square root of
    its share of the peak; the centre stays the centre, what is missing is 0.

    peak: what becomes white, the stamp's own brightest sample unless given: one for all that
    are to be compared.

    Raises ValueError for a stamp that is not square with odd sides or has no light.
    """
    rows, columns = stamp.shape
    if rows != columns or rows % 2 == 0:
        raise ValueError(f"a stamp must be square with odd sides, not {rows} x {columns}")
    values = np.nan_to_num(stamp.astype(float), nan=0.0)
    if not values.max() > 0:
        raise ValueError("a stamp without light can't be shown")
    side = 2 * half_px + 1
    out = np.zeros((side, side))
    keep = min(half_px, rows // 2)
    centre = rows // 2
    cut = values[centre - keep : centre + keep + 1, centre - keep : centre + keep + 1]
    out[half_px - keep : half_px + keep + 1, half_px - keep : half_px + keep + 1] = cut
    white = values.max() if peak is None else peak
    return np.rint(255 * np.sqrt(np.clip(out / white, 0, 1))).astype(np.uint8)


def half_for(stamps: Sequence[NDArray[np.floating[Any]]]) -> int:
    """Return half the side [px] of a square that shows every stamp whole, at one scale."""
    return max(map(_reach, stamps), default=1) + _MARGIN_PX


def spot_png(stamp: NDArray[np.floating[Any]], half_px: int) -> bytes:
    """Return a stamp as PNG of 2 half + 1 pixels, stretched as the sheets are."""
    return _png(stretched(stamp, half_px))


def crop_png(light: NDArray[np.floating[Any]]) -> bytes:
    """Return the rebuilt spot of a single frame as PNG, a pixel for a pixel; stretched alike.

    A spot without light gives a black square.
    """
    values = np.nan_to_num(light.astype(float), nan=0.0)
    top = values.max()
    shown = np.sqrt(np.clip(values / top, 0, 1)) if top > 0 else np.zeros_like(values)
    return _png(np.rint(255 * shown).astype(np.uint8))


def _png(grey: NDArray[np.uint8]) -> bytes:
    with BytesIO() as out:
        Image.fromarray(grey).save(out, "PNG")
        return out.getvalue()


def _reach(stamp: NDArray[np.floating[Any]]) -> int:
    """How far from the centre [px] a stamp still has light worth a grey level."""
    values = np.nan_to_num(stamp.astype(float), nan=0.0)
    rows, columns = np.nonzero(values > _FADED * values.max())
    if rows.size == 0:
        return 1
    centre = stamp.shape[0] // 2
    return int(max(np.abs(rows - centre).max(), np.abs(columns - centre).max(), 1))


def _row(
    result: SettingResult, places: Sequence[str], half: int, body: Body, with_lens: bool
) -> dict[str, Any]:
    setting = result.setting
    zones = {zone.place: zone for zone in result.zones}
    label = [f"{focal(setting.focal_mm)}, {f_number(setting.f_number)}"]
    return {
        "label": [setting.lens, *label] if with_lens else label,
        "cells": [_cell(zones.get(place), half, body) for place in places],
    }


def _cell(zone: ZoneResult | None, half: int, body: Body) -> dict[str, Any]:
    if zone is None or zone.stamp is None:
        return {"pixels": None, "text": ""}
    length = zone.length_px
    scale = 100 / body.picture_height_px
    if length.value is not None:
        text = percent(scale * length.value)
    elif length.at_most is not None:
        text = f"at most {percent(scale * length.at_most)}"
    else:
        text = NOT_TESTED
    return {"pixels": stretched(zone.stamp, half).ravel().tolist(), "text": text}
