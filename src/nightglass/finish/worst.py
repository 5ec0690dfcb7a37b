"""Where a finding shows most: one square of the picture beside the same of the reference."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import Literal

import numpy as np
from scipy.ndimage import uniform_filter

from nightglass.finish.blocks import BLOCK_PX, edge_steps
from nightglass.finish.codes import FindingCode
from nightglass.finish.common import Common
from nightglass.finish.records import Finding, View
from nightglass.finish.sampled import some
from nightglass.finish.smoothing import means, smoothed
from nightglass.finish.starlight import LEFT_SHARE, Followed
from nightglass.optics.arrays import Flags, Floats, Floats32

SIDE_PX = 96
BLOTCH_SIDE_PX = 256
SQUARE_PX = 8
"""Badness is summed in squares of this side before the worst place is looked for."""
COARSE = (FindingCode.BLOTCHES, FindingCode.LIGHT_PATCHES)
Values = Mapping[str, float | int | str]


def worst_places(
    found: Mapping[FindingCode, Values], common: Common, stars: Followed, shares: Floats
) -> tuple[tuple[Finding, ...], tuple[View, ...]]:
    """Return the findings with their worst places, and these as views."""

    def scale_px(code: FindingCode) -> int:
        return int(found[code]["scale_px"])

    maps: dict[FindingCode, Callable[[], Floats32]] = {
        FindingCode.GRAIN_SMOOTHED: lambda: _calm(common, "light"),
        FindingCode.GRAIN_RAISED: lambda: -_calm(common, "light"),
        FindingCode.COLOUR_SMOOTHED: lambda: _calm(common, "colour"),
        FindingCode.BLOTCHES: lambda: _blotched(common, scale_px(FindingCode.BLOTCHES)),
        FindingCode.LIGHT_PATCHES: lambda: _uneven(common, scale_px(FindingCode.LIGHT_PATCHES)),
        FindingCode.SHADOWS_CLIPPED: lambda: (common.picture.min(axis=2) <= 0).astype(np.float32),
        FindingCode.JPEG_BLOCKS: lambda: _edged(common),
        FindingCode.BACKGROUND_COLOUR: lambda: common.sky.astype(np.float32),
    }
    findings, views, quiet = [], [], _sky_of(common)
    for code, values in found.items():
        side = BLOTCH_SIDE_PX if code in COARSE else SIDE_PX
        side = min(side, *common.valid.shape)
        if code in maps:
            own = _step(int(values["scale_px"])) if code in COARSE else 1
            x, y = _peak(maps[code](), own, common, side)
        else:
            x, y = _star(code, common, stars, shares)
        findings.append(Finding(code, dict(values), x, y))
        views.append(_view(code, common, (x, y, side), quiet))
    return tuple(findings), tuple(views)


def _peak(badness: Floats32, own: int, common: Common, side: int) -> tuple[int, int]:
    """Middle of the square with the largest mean, of squares that both pictures fill.

    badness: means over squares of own pixels each way.
    """
    step = max(SQUARE_PX, own)
    bad = means(badness, step // own)
    full = means(common.valid.astype(np.float32), step)[: bad.shape[0], : bad.shape[1]]
    bad = bad[: full.shape[0], : full.shape[1]]
    width = max(side // step, 1)
    mean = uniform_filter(bad, width, mode="constant")
    filled = uniform_filter(full, width, mode="constant") > 0.999
    if not filled.any():
        filled = full > 0
    y, x = np.unravel_index(int(np.argmax(np.where(filled, mean, -np.inf))), mean.shape)
    return int(x) * step + step // 2, int(y) * step + step // 2


def _calm(common: Common, what: Literal["light", "colour"]) -> Floats32:
    """How much finest noise is gone, star-free."""
    planes = (common.expected, common.picture)
    lights = (common.expected_light, common.picture_light)
    should, own = (
        light if what == "light" else plane[..., 0] - plane[..., 1]
        for plane, light in zip(planes, lights, strict=True)
    )
    gone = np.abs(should - uniform_filter(should, 3))
    gone -= np.abs(own - uniform_filter(own, 3))
    return np.asarray(gone * common.sky)


def _blotched(common: Common, scale_px: int) -> Floats32:
    red, blue = (
        _band(common.picture[..., k] - common.picture[..., 1], common.sky, scale_px) for k in (0, 2)
    )
    return np.asarray(red**2 + blue**2)


def _uneven(common: Common, scale_px: int) -> Floats32:
    return _band(common.picture_light - common.expected_light, common.sky, scale_px) ** 2


def _step(scale_px: int) -> int:
    """Side of the squares in which a scale is looked at [px]."""
    return max(scale_px // 4, 1)


def _band(plane: Floats32, sky: Flags, scale_px: int) -> Floats32:
    """What a plane of the sky holds at about one scale, in squares of `_step`."""
    step = _step(scale_px)
    weight = sky.astype(np.float32)
    light, weight = means(plane * weight, step), means(weight, step)
    fine, coarse = (
        smoothed(light, s / step) / np.maximum(smoothed(weight, s / step), 0.05)
        for s in (scale_px / 2, 2.0 * scale_px)
    )
    return np.asarray((fine - coarse) * weight)


def _edged(common: Common) -> Floats32:
    light = common.picture_light
    out = np.zeros_like(light)
    for axis in (0, 1):
        step = edge_steps(light, axis) * common.sky
        at = (np.arange(step.shape[axis]) % BLOCK_PX == BLOCK_PX - 1).astype(np.float32)
        sign = at * (BLOCK_PX / 1.0) - 1.0
        out += step * (sign[:, None] if axis == 0 else sign[None, :])
    return out


def _star(code: FindingCode, common: Common, stars: Followed, shares: Floats) -> tuple[int, int]:
    """The brightest lost star, else the brightest clear one that stands inside."""
    x, y = np.rint(stars.x_px).astype(int), np.rint(stars.y_px).astype(int)
    order = np.argsort(-stars.flux, kind="stable")
    wanted = ~stars.clipped
    if code is FindingCode.STARS_LOST:
        wanted = np.nan_to_num(shares, nan=1.0) < LEFT_SHARE
    rows, columns = common.valid.shape
    half = min(SIDE_PX // 2, rows // 4, columns // 4)
    inside = (x > half) & (x < columns - half) & (y > half) & (y < rows - half)
    for which in (wanted & inside, wanted, inside):
        good = order[which[order]]
        if len(good):
            return int(x[good[0]]), int(y[good[0]])
    return columns // 2, rows // 2


def _sky_of(common: Common) -> tuple[tuple[float, float, float], float]:
    """The expected sky's colours, and the noise of its light."""
    red, green, blue = (
        float(np.median(some(common.expected[..., k], common.sky))) for k in range(3)
    )
    light = some(common.expected_light, common.sky)
    low, high = np.percentile(light, [16, 84])
    return (red, green, blue), float(high - low) / 2


def _view(
    code: FindingCode,
    common: Common,
    where: tuple[int, int, int],
    sky: tuple[tuple[float, float, float], float],
) -> View:
    """The square about a place (x, y) with a side."""
    rows, columns = common.valid.shape
    x, y, side = where
    top = int(np.clip(y - side // 2, 0, rows - side))
    left = int(np.clip(x - side // 2, 0, columns - side))
    part = (slice(top, top + side), slice(left, left + side))
    return View(
        code, common.expected[part].copy(), common.picture[part].copy(), ~common.sky[part], *sky
    )
