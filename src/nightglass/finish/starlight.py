"""Stars that are left, and how their shape changed."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.spatial import cKDTree

from nightglass.finish.common import Common
from nightglass.finish.records import StarBin, StarShape
from nightglass.finish.tone import star_light
from nightglass.optics.arrays import Flags, Floats, Floats32

LEFT_SHARE = 0.5
LEAST_SNR = 7.0
"""Of reference stars that are followed: at 7 sigma a star stands out of 24 million samples."""
CLEAR_SNR = 20.0
LOST_HALF_PX = 2
"""Half side of the square for the light of faint stars."""
PROFILE_HALF_PX = 14
MOST_PROFILES = 300
GROUPS = 8
RING_FROM_WIDTHS, RING_TO_WIDTHS = 1.0, 3.5
"""Where dark rings lie, in full widths at half maximum from the centre."""
ISOLATED_PX, BLEND_PX = 18.0, 12.0


@dataclass(frozen=True)
class Followed:
    """Reference stars at their places in the picture: (n,) each, strongest first."""

    x_px: Floats
    y_px: Floats
    flux: Floats
    snr: Floats
    clipped: Flags

    @property
    def is_clear(self) -> Flags:
        """Which stars are bright enough, and not clipped, to read colour and tone from."""
        return np.asarray((self.snr > CLEAR_SNR) & ~self.clipped)

    @property
    def clear(self) -> tuple[Floats, Floats]:
        """Places of the clear stars."""
        return self.x_px[self.is_clear], self.y_px[self.is_clear]


def light_shares(common: Common, stars: Followed) -> Floats:
    """Return each star's light over what the tone alone gives it; nan where it can't be told."""
    own, should = (
        star_light(light, common.sky, stars.x_px, stars.y_px, LOST_HALF_PX)
        for light in (common.picture_light, common.expected_light)
    )
    known = (should > 0) & (stars.snr >= LEAST_SNR) & ~_blended(stars)
    with np.errstate(invalid="ignore", divide="ignore"):
        return np.where(known, own / should, np.nan)


def _blended(stars: Followed) -> Flags:
    """Stars with a brighter one so near that its wings are part of their light."""
    places = np.column_stack((stars.x_px, stars.y_px))
    out = np.zeros(len(places), dtype=bool)
    if len(places) > 1:
        i, j = cKDTree(places).query_pairs(BLEND_PX, output_type="ndarray").T
        out[np.where(stars.flux[i] < stars.flux[j], i, j)] = True
    return out


def star_bins(stars: Followed, shares: Floats) -> tuple[StarBin, ...]:
    """Return the stars by whole magnitudes under the brightest one, those of the reference."""
    known = np.isfinite(shares) & (stars.flux > 0)
    if not known.any():
        return ()
    fainter = -2.5 * np.log10(stars.flux[known] / stars.flux[known].max())
    share = shares[known]
    bins = []
    for magnitude in range(int(fainter.max()) + 1):
        inside = (fainter >= magnitude) & (fainter < magnitude + 1)
        if inside.any():
            left = int(np.sum(share[inside] >= LEFT_SHARE))
            bins.append(
                StarBin(magnitude, int(inside.sum()), left, float(np.median(share[inside])))
            )
    return tuple(bins)


def star_shape(common: Common, stars: Followed, shares: Floats) -> StarShape | None:
    """Return the mean star of both; None with fewer than 8 clear stars that stand alone.

    Stars that are lost have no shape (light_shares).
    """
    chosen = _alone(common, stars, shares)
    if len(chosen[0]) < GROUPS:
        return None
    stacks = [
        _stacks(light, common.sky, chosen)
        for light in (common.picture_light, common.expected_light)
    ]
    whole = [_profile(part.sum(axis=0)) for part in stacks]
    widths = [_width(profile) for profile in whole]
    if not all(np.isfinite(widths)) or min(widths) <= 0:
        return None
    ring = _ring(whole[0], whole[1], widths[1])
    ratios, rings = [], []
    for k in range(GROUPS):
        profiles = [_profile(np.delete(part, k, axis=0).sum(axis=0)) for part in stacks]
        ratios.append(_width(profiles[0]) / _width(profiles[1]))
        rings.append(_ring(profiles[0], profiles[1], widths[1]))
    jackknife = (GROUPS - 1) / GROUPS**0.5
    return StarShape(
        widths[0], widths[1], widths[0] / widths[1], jackknife * float(np.std(ratios)),
        ring, jackknife * float(np.std(rings)), len(chosen[0]),
    )  # fmt: skip


def _alone(common: Common, stars: Followed, shares: Floats) -> tuple[Floats, Floats]:
    """The first clear stars that are left, with no clear neighbour near and room around them."""
    left = np.nan_to_num(shares[stars.is_clear], nan=0.0) >= LEFT_SHARE
    x, y = (places[left] for places in stars.clear)
    rows, columns = common.sky.shape
    room = PROFILE_HALF_PX + 1
    inside = (x > room) & (x < columns - 1 - room) & (y > room) & (y < rows - 1 - room)
    strong = stars.snr > CLEAR_SNR
    places = np.column_stack((stars.x_px[strong], stars.y_px[strong]))
    if len(places) == 0:
        return x[inside], y[inside]
    tree = cKDTree(places)
    good: list[int] = []
    for k in np.flatnonzero(inside):
        near = tree.query_ball_point((x[k], y[k]), ISOLATED_PX)
        apart = np.hypot(*(places[near] - (x[k], y[k])).T)
        if not ((apart > 2) & (apart < ISOLATED_PX)).any():
            good.append(int(k))
        if len(good) == MOST_PROFILES:
            break
    return x[good], y[good]


def _stacks(plane: Floats32, sky: Flags, places: tuple[Floats, Floats]) -> Floats:
    """Sums of (light, radius-binned) stamps by group: (GROUPS, bins, 2), each star's peak 1."""
    half = PROFILE_HALF_PX
    bins = 4 * half
    out = np.zeros((GROUPS, bins, 2))
    y0, x0 = np.mgrid[-half : half + 1, -half : half + 1]
    for k, (x, y) in enumerate(zip(*places, strict=True)):
        i, j = round(y), round(x)
        stamp = plane[i - half : i + half + 1, j - half : j + half + 1].astype(np.float64)
        around = sky[i - half : i + half + 1, j - half : j + half + 1]
        if around.sum() < 40:
            continue
        stamp -= stamp[around].mean()
        peak = stamp[half - 1 : half + 2, half - 1 : half + 2].max()
        if peak <= 0:
            continue
        radius = np.hypot(x0 - (x - j), y0 - (y - i))
        which = np.minimum((radius * 4).astype(int), bins - 1).ravel()
        # Each pixel counts in quarters of a pixel of its distance: no star is moved or resampled.
        out[k % GROUPS, :, 0] += np.bincount(which, (stamp / peak).ravel(), bins)
        out[k % GROUPS, :, 1] += np.bincount(which, minlength=bins)
    return out


def _profile(sums: Floats) -> Floats:
    """Mean light (m, 2) by radius: radius [px], light, innermost 1."""
    known = sums[:, 1] > 0
    radius = (np.arange(len(sums)) + 0.5)[known] / 4
    light = sums[known, 0] / sums[known, 1]
    return np.column_stack((radius, light / light[:2].max()))


def _width(profile: Floats) -> float:
    """Full width at half maximum, straight between the bins."""
    under = np.flatnonzero(profile[:, 1] < 0.5)
    if len(under) == 0 or under[0] == 0:
        return float("nan")
    (r0, v0), (r1, v1) = profile[under[0] - 1], profile[under[0]]
    return float(2 * (r0 + (v0 - 0.5) / (v0 - v1) * (r1 - r0)))


def _ring(own: Floats, expected: Floats, width: float) -> float:
    """Darkest stretch of half a width: picture less reference, share of the peak, as a depth."""
    rest = own[:, 1] - np.interp(own[:, 0], expected[:, 0], expected[:, 1])
    rest = np.minimum(rest, own[:, 1])
    inside = (own[:, 0] > RING_FROM_WIDTHS * width) & (own[:, 0] < RING_TO_WIDTHS * width)
    if inside.sum() < 4:
        return 0.0
    even = np.convolve(rest[inside], np.full(4, 0.25), mode="valid")
    return float(max(-even.min(), 0.0))
