"""Where a finding shows most: one square of the picture beside the same of the reference."""

from __future__ import annotations

from collections.abc import Callable, Mapping

import numpy as np
from scipy.ndimage import gaussian_filter, uniform_filter

from nightglass.finish.blocks import BLOCK_PX, edge_steps
from nightglass.finish.codes import FindingCode
from nightglass.finish.common import Common, light_of
from nightglass.finish.records import Finding, View
from nightglass.finish.starlight import LEFT_SHARE, Followed
from nightglass.optics.arrays import Flags, Floats, Floats32

SIDE_PX = 96
BLOTCH_SIDE_PX = 256
COARSE = (FindingCode.BLOTCHES, FindingCode.LIGHT_PATCHES)
Values = Mapping[str, float | int | str]


def worst_places(
    found: Mapping[FindingCode, Values], common: Common, stars: Followed, shares: Floats
) -> tuple[tuple[Finding, ...], tuple[View, ...]]:
    """Return the findings with their worst places, and these as views."""

    def scale_px(code: FindingCode) -> int:
        return int(found[code]["scale_px"])

    maps: dict[FindingCode, Callable[[], Floats32]] = {
        FindingCode.GRAIN_SMOOTHED: lambda: _calm(common, lambda p: light_of(p)),
        FindingCode.GRAIN_RAISED: lambda: -_calm(common, lambda p: light_of(p)),
        FindingCode.COLOUR_SMOOTHED: lambda: _calm(common, lambda p: p[..., 0] - p[..., 1]),
        FindingCode.BLOTCHES: lambda: _blotched(common, scale_px(FindingCode.BLOTCHES)),
        FindingCode.LIGHT_PATCHES: lambda: _uneven(common, scale_px(FindingCode.LIGHT_PATCHES)),
        FindingCode.SHADOWS_CLIPPED: lambda: (common.picture.min(axis=2) <= 0).astype(np.float32),
        FindingCode.JPEG_BLOCKS: lambda: _edged(common),
        FindingCode.BACKGROUND_COLOUR: lambda: common.sky.astype(np.float32),
    }
    findings, views = [], []
    for code, values in found.items():
        side = BLOTCH_SIDE_PX if code in COARSE else SIDE_PX
        side = min(side, *common.valid.shape)
        if code in maps:
            x, y = _peak(maps[code](), common, side)
        else:
            x, y = _star(code, common, stars, shares)
        findings.append(Finding(code, dict(values), x, y))
        views.append(_view(code, common, x, y, side))
    return tuple(findings), tuple(views)


def _peak(badness: Floats32, common: Common, side: int) -> tuple[int, int]:
    """Middle of the square with the largest mean, of squares that both pictures fill."""
    mean = uniform_filter(badness, side, mode="constant")
    full = uniform_filter(common.valid.astype(np.float32), side, mode="constant") > 0.999
    if not full.any():
        full = common.valid
    y, x = np.unravel_index(int(np.argmax(np.where(full, mean, -np.inf))), mean.shape)
    return int(x), int(y)


def _calm(common: Common, take: Callable[[Floats32], Floats32]) -> Floats32:
    """How much finest noise is gone, star-free."""
    own, should = (
        np.abs(take(p) - uniform_filter(take(p), 3)) * common.sky
        for p in (common.picture, common.expected)
    )
    return np.asarray(should - own)


def _blotched(common: Common, scale_px: int) -> Floats32:
    out = np.zeros(common.sky.shape, dtype=np.float32)
    for k in (0, 2):
        colour = common.picture[..., k] - common.picture[..., 1]
        out += _band(colour, common.sky, scale_px) ** 2
    return out


def _uneven(common: Common, scale_px: int) -> Floats32:
    return _band(light_of(common.picture - common.expected), common.sky, scale_px) ** 2


def _band(plane: Floats32, sky: Flags, scale_px: int) -> Floats32:
    """What a plane of the sky holds at about one scale."""
    weight = sky.astype(np.float32)
    fine, coarse = (
        gaussian_filter(plane * weight, s) / np.maximum(gaussian_filter(weight, s), 0.05)
        for s in (scale_px / 2, 2.0 * scale_px)
    )
    return np.asarray((fine - coarse) * weight)


def _edged(common: Common) -> Floats32:
    light = light_of(common.picture)
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


def _view(code: FindingCode, common: Common, x: int, y: int, side: int) -> View:
    rows, columns = common.valid.shape
    top = int(np.clip(y - side // 2, 0, rows - side))
    left = int(np.clip(x - side // 2, 0, columns - side))
    part = (slice(top, top + side), slice(left, left + side))
    sky = [float(np.median(common.expected[..., k][common.sky])) for k in range(3)]
    light = light_of(common.expected)[common.sky]
    low, high = np.percentile(light - np.median(light), [16, 84])
    return View(
        code, common.expected[part].copy(), common.picture[part].copy(), ~common.sky[part],
        (sky[0], sky[1], sky[2]), float(high - low) / 2,
    )  # fmt: skip
