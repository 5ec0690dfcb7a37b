"""Measures of a noiseless spot: the definitions that the measuring code and its truth share.

An image is (rows, columns), its samples `step_px` apart, the pixel's own blur already in it.
Lengths come back in raw pixels, places in raw pixels from the centre of the top-left sample.
Definitions: docs/glossary.md, "One star spot".
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from nightglass.optics.arrays import Floats
from nightglass.optics.compiled import compiled

APERTURE_LENGTHS = 1.5
"""Aperture radius over length_px."""
GAUSSIAN_LENGTH = 3.289707
"""length_px of a Gaussian over its standard deviation: 5 to 95 % of the light, 2 x 1.644854."""
APERTURE_LEAST_PX = 5.0
RING_INNER, RING_OUTER = 1.2, 2.0
"""Background ring, in aperture radii."""
FLAT_GROWTH = 1.5
"""Growth of an aperture that lies inside a flat disc."""
TAIL_SHARE = 0.05
"""Light left out on either side of a length."""
GAUSSIAN_LENGTH = 3.289707
"""length_px of a Gaussian over its standard deviation (5 to 95 % of the light)."""
ROUND_RATIO = 1.15
"""Length over width under which a spot counts as round."""
LONG_RATIO = 1.3
"""Length over width from which each is compared by itself; below it, the root of their product."""
MAD_TO_SIGMA = 1.482602
"""Standard deviation over median absolute deviation of a Gaussian."""
BINS_PER_STEP = 12
"""Bins per sample of the one-dimensional profiles from which shares of the light are read."""


class NoLightError(ValueError):
    """The light inside the aperture sums to zero or less above its background."""


class WeakLightError(NoLightError):
    """The light inside a circle is so weak that its centre comes to lie elsewhere."""


class ImageTooSmallError(ValueError):
    """The aperture has outgrown the image."""


@dataclass(frozen=True)
class Extent:
    """Measures of one spot [px of the raw frame]; angles from +x toward +y, 0 to 180."""

    x_px: float
    y_px: float
    length_px: float
    width_px: float
    angle_degrees: float
    ee50_px: float
    ee80_px: float
    noise_area_px: float
    aperture_px: float
    flux: float


def extent(image: ArrayLike, step_px: float = 1.0) -> Extent:
    """Return the measures of one bright spot on a flat or sloped background.

    image: (rows, columns), samples step_px apart. The aperture grows outward from 5 px at the
    brightest sample until it is 1.5 lengths; the plane through the ring around it is taken off
    each time. Raises ValueError when the image is not two-dimensional, holds no light, or when
    the aperture outgrows the image.
    """
    light = np.ascontiguousarray(image, dtype=np.float64)
    if light.ndim != 2:
        raise ValueError(f"image has {light.ndim} axes; a spot needs two: (rows, columns)")
    if step_px <= 0:
        raise ValueError(f"step_px is {step_px}; it must be above 0")
    y, x = (float(v) * step_px for v in np.unravel_index(np.argmax(light), light.shape))
    radius = APERTURE_LEAST_PX
    for _ in range(200):
        net = light - _ring_plane(light, step_px, x, y, radius)
        try:
            found = within(net, step_px, x, y, radius)
        except NoLightError:
            # Aperture and ring lie inside one flat disc, which the plane takes for background.
            radius *= FLAT_GROWTH
            _check_room(radius, light.shape, step_px)
            continue
        wanted = max(APERTURE_LEAST_PX, APERTURE_LENGTHS * found.length_px)
        moved = math.hypot(found.x_px - x, found.y_px - y)
        x, y = found.x_px, found.y_px
        if abs(wanted - radius) < 1e-3 * radius and moved < 1e-3 * radius:
            return found
        radius = wanted
        _check_room(radius, light.shape, step_px)
    return within(net, step_px, x, y, radius)


def _check_room(radius: float, shape: tuple[int, ...], step_px: float) -> None:
    if radius > max(shape) * step_px:
        raise ImageTooSmallError(
            f"the aperture has outgrown the image of {shape} samples; "
            "give a larger image around the spot"
        )


def within(net: Floats, step_px: float, x_px: float, y_px: float, radius_px: float) -> Extent:
    """Return the measures of the light inside a given circle, background already taken off.

    Raises NoLightError when the light inside sums to zero or less, or holds no centre.
    """
    flux, x, y, xx, xy, yy, square = _moments(net, step_px, x_px, y_px, radius_px)
    if not flux > 0:
        raise NoLightError(
            "no light inside the aperture: the sum above the background is not above 0"
        )
    angle = 0.5 * math.atan2(2 * xy, xx - yy)
    along = span(net, step_px, (x_px, y_px), radius_px, angle)
    across = span(net, step_px, (x_px, y_px), radius_px, angle + math.pi / 2)
    if across > along:
        along, across, angle = across, along, angle + math.pi / 2
    shares = encircled(net, step_px, (x, y), radius_px, (0.5, 0.8))
    return Extent(
        x_px=x,
        y_px=y,
        length_px=along,
        width_px=across,
        angle_degrees=math.degrees(angle) % 180.0,
        ee50_px=shares[0],
        ee80_px=shares[1],
        noise_area_px=flux * flux / square if square > 0 else math.inf,
        aperture_px=radius_px,
        flux=flux,
    )


def span(
    net: Floats,
    step_px: float,
    centre_px: tuple[float, float],
    radius_px: float,
    angle_rad: float,
    shares: tuple[float, float] = (TAIL_SHARE, 1 - TAIL_SHARE),
) -> float:
    """Return the distance [px] along a direction between two shares of the light in a circle."""
    low, high = quantiles(net, step_px, centre_px, radius_px, angle_rad, shares)
    return high - low


def quantiles(
    net: Floats,
    step_px: float,
    centre_px: tuple[float, float],
    radius_px: float,
    angle_rad: float,
    shares: tuple[float, ...],
) -> tuple[float, ...]:
    """Return where along a direction [px from centre_px] the light reaches the given shares."""
    profile = _profile(
        net, step_px, *centre_px, radius_px, math.cos(angle_rad), math.sin(angle_rad)
    )
    return tuple(_crossings(profile, shares, -radius_px - 1.0, step_px / BINS_PER_STEP))


def encircled(
    net: Floats,
    step_px: float,
    centre_px: tuple[float, float],
    radius_px: float,
    shares: tuple[float, ...],
) -> tuple[float, ...]:
    """Return the diameters [px] of circles about centre_px that hold the given shares."""
    profile = _radial_profile(net, step_px, *centre_px, radius_px)
    return tuple(2 * r for r in _crossings(profile, shares, 0.0, step_px / BINS_PER_STEP))


def trailed(image: ArrayLike, trail_px: float, angle_degrees: float) -> Floats:
    """Return the spot drawn evenly along a straight trail; samples 1 px apart, sum unchanged.

    image: (rows, columns). The answer is larger by the trail and centred on the same light, so
    that nothing is cut off. Raises ValueError for a negative trail.
    """
    spot = np.ascontiguousarray(image, dtype=np.float64)
    if trail_px < 0:
        raise ValueError(f"trail_px is {trail_px}; a trail is 0 or longer")
    pad = math.ceil(trail_px / 2) + 1
    padded = np.pad(spot, pad)
    fx = np.fft.fftfreq(padded.shape[1])
    fy = np.fft.rfftfreq(padded.shape[0])
    angle = math.radians(angle_degrees)
    along = fx[:, None] * math.cos(angle) + fy[None, :] * math.sin(angle)
    # A line of length L has the transform sinc(L u); np.sinc carries the pi.
    spectrum = np.fft.rfft2(padded.T) * np.sinc(trail_px * along)
    drawn: Floats = np.fft.irfft2(spectrum, s=padded.T.shape).T
    return drawn


def _ring_plane(light: Floats, step_px: float, x: float, y: float, radius: float) -> Floats:
    """Return the plane through the ring, outliers cut, over the whole image; 0 without a ring."""
    dx = np.arange(light.shape[1])[None, :] * step_px - x
    dy = np.arange(light.shape[0])[:, None] * step_px - y
    distance = np.hypot(dx, dy)
    row, column = np.nonzero((distance >= RING_INNER * radius) & (distance <= RING_OUTER * radius))
    if row.size < 12:
        return np.zeros(light.shape)
    plane = fit_plane(dx[0, column], dy[row, 0], light[row, column])
    whole: Floats = plane[0] + plane[1] * dx + plane[2] * dy
    return whole


def fit_plane(dx: Floats, dy: Floats, values: Floats) -> tuple[float, float, float]:
    """Return level and slopes of the plane through values, those beyond 3 sigma cut in 5 rounds."""
    keep = np.ones(values.shape, dtype=bool)
    coefficients = np.array([np.median(values), 0.0, 0.0])
    design = np.stack([np.ones_like(dx), dx, dy])
    for _ in range(5):
        a = design[:, keep]
        # Normal equations: three unknowns about the centre of the ring are well apart.
        coefficients = np.linalg.solve(a @ a.T, a @ values[keep])
        residual = values - coefficients @ design
        scale = MAD_TO_SIGMA * float(np.median(np.abs(residual[keep])))
        keep_next = np.abs(residual) <= 3 * scale if scale > 0 else np.ones_like(keep)
        if np.count_nonzero(keep_next) < 12 or np.array_equal(keep_next, keep):
            break
        keep = keep_next
    return float(coefficients[0]), float(coefficients[1]), float(coefficients[2])


def _crossings(
    profile: Floats, shares: tuple[float, ...], start_px: float, bin_px: float
) -> list[float]:
    total = np.cumsum(profile)
    if not total[-1] > 0:
        raise WeakLightError(
            "the light inside the aperture is too weak: noise puts its centre outside"
        )
    total /= total[-1]
    edges = start_px + bin_px * (1 + np.arange(total.size))
    # Noise can make the sum dip; the first crossing outward from the dense middle is meant.
    grown = np.maximum.accumulate(total)
    return [float(np.interp(share, grown, edges)) for share in shares]


@compiled
def _moments(net, step, x0, y0, radius):  # type: ignore[no-untyped-def]
    flux = sx = sy = sxx = sxy = syy = square = 0.0
    for i in range(net.shape[0]):
        dy = i * step - y0
        if abs(dy) > radius + step:
            continue
        for j in range(net.shape[1]):
            dx = j * step - x0
            cover = (radius - math.hypot(dx, dy)) / step + 0.5
            if cover <= 0.0:
                continue
            v = net[i, j] * min(cover, 1.0)
            flux += v
            sx += v * dx
            sy += v * dy
            sxx += v * dx * dx
            sxy += v * dx * dy
            syy += v * dy * dy
            square += net[i, j] * v
    if flux <= 0.0:
        return flux, x0, y0, 0.0, 0.0, 0.0, square
    mx, my = sx / flux, sy / flux
    area = step * step
    return (
        flux * area,
        x0 + mx,
        y0 + my,
        sxx / flux - mx * mx,
        sxy / flux - mx * my,
        syy / flux - my * my,
        square * area,
    )


@compiled
def _profile(net, step, x0, y0, radius, cosine, sine):  # type: ignore[no-untyped-def]
    """Light per bin along a direction; each sample spread evenly over its own projected width."""
    width = step / BINS_PER_STEP
    bins = math.ceil(2 * (radius + 1.0) / width) + 1
    profile = np.zeros(bins)
    half = 0.5 * step * max(abs(cosine), abs(sine))
    for i in range(net.shape[0]):
        dy = i * step - y0
        if abs(dy) > radius + step:
            continue
        for j in range(net.shape[1]):
            dx = j * step - x0
            cover = (radius - math.hypot(dx, dy)) / step + 0.5
            if cover <= 0.0:
                continue
            v = net[i, j] * min(cover, 1.0)
            u = (dx * cosine + dy * sine + radius + 1.0) / width
            _spread(profile, u - half / width, u + half / width, v)
    return profile


@compiled
def _radial_profile(net, step, x0, y0, radius):  # type: ignore[no-untyped-def]
    width = step / BINS_PER_STEP
    bins = math.ceil((radius + step) / width) + 1
    profile = np.zeros(bins)
    half = 0.5 * step
    for i in range(net.shape[0]):
        dy = i * step - y0
        for j in range(net.shape[1]):
            dx = j * step - x0
            distance = math.hypot(dx, dy)
            cover = (radius - distance) / step + 0.5
            if cover <= 0.0:
                continue
            low = max(0.0, distance - half)
            high = distance + half
            _spread(profile, low / width, high / width, net[i, j] * min(cover, 1.0))
    return profile


@compiled
def _spread(profile, low, high, value):  # type: ignore[no-untyped-def]
    first = max(0, math.floor(low))
    last = min(profile.size - 1, math.floor(high))
    density = value / (high - low)
    for k in range(first, last + 1):
        profile[k] += density * (min(high, k + 1.0) - max(low, float(k)))
