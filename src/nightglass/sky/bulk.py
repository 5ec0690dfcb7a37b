"""Inner loop that measures thousands of stars: one pass over the samples around each.

The light of a star: what lies in its aperture (radius 1.5 lengths, at least 5 px, found by
growing outward), over the median of the ring 1.2 to 2 radii around it. Colours are brought to one
scale by the star's own colour ratios, fitted with a Gaussian, so that every sample of the mosaic
tells of the shape.
"""

from __future__ import annotations

import math

import numpy as np

from nightglass.optics.compiled import compiled
from nightglass.sky.skylevel import select

COLUMNS = (
    "x_px",
    "y_px",
    "x_px_err",
    "y_px_err",
    "flux_counts",
    "flux_counts_err",
    "snr",
    "length_px",
    "width_px",
    "length_px_err",
    "width_px_err",
    "angle_degrees",
    "spread_xx",
    "spread_xy",
    "spread_yy",
    "aperture_px",
    "peak_share",
    "ring_scatter",
    "edge",
)
"""What comes back per star, in this order; see find.FoundStars."""

BIN_PX = 0.05


@compiled
def measure_all(z, samples, places, noise, setting):  # type: ignore[no-untyped-def]
    """Return one row of COLUMNS per place.

    z: mosaic in units of its noise. places: (n, 2) rows and columns. noise: (n, 3) counts.
    setting: (sigma of the weight [px], largest aperture [px], p, q of the pattern, then the
    pattern, black and clipping by row), float64.
    """
    n = places.shape[0]
    out = np.full((n, 19), np.nan, dtype=np.float64)
    profile = np.zeros(4096, dtype=np.float64)
    ring = np.empty(1024, dtype=np.float32)
    for k in range(n):
        _measure(z, samples, places[k], noise[k], setting, out[k], profile, ring)
    return out


@compiled
def _measure(z, samples, place, noise, setting, out, profile, ring):  # type: ignore[no-untyped-def]
    sigma, largest = setting[0], setting[1]
    p, q = int(setting[2]), int(setting[3])
    pattern = setting[4 : 4 + p * q]
    clipping = setting[4 + 2 * p * q :]
    black = setting[4 + p * q : 4 + 2 * p * q]
    rows, columns = z.shape
    y, x = float(place[0]), float(place[1])
    for _ in range(3):
        moved = _weighted_centre(z, x, y, sigma)
        x, y = moved[0], moved[1]
        if abs(x - place[1]) > 3 * sigma or abs(y - place[0]) > 3 * sigma:
            x, y = float(place[1]), float(place[0])
            break
    # A weighted centre moves half of the way for a spot as wide as the weight; 3 steps settle it.
    amplitude, square = _amplitudes(z, x, y, sigma, noise, pattern, p, q)
    snr = 0.0
    for c in range(3):
        if square[c] > 0 and not math.isnan(noise[c]):
            snr += amplitude[c] / noise[c] * square[c] * amplitude[c] / noise[c]
    snr = math.sqrt(snr)
    green = amplitude[1] if amplitude[1] > 0 else 1e-9
    weight = np.empty(3)
    for c in range(3):
        # Faint colours: the ratio of the sky's noise stands in, which is that of a white star.
        known = square[c] > 0 and amplitude[c] / noise[c] * math.sqrt(square[c]) > 7.0
        ratio = green / amplitude[c] if known and amplitude[c] > 0 else noise[1] / noise[c]
        weight[c] = ratio * noise[c]
    radius = 5.0
    length, width, angle = 0.0, 0.0, 0.0
    background, scatter = _ring(z, x, y, radius, pattern, p, q, weight, ring)
    flux, mx, my, xx, xy, yy, variance, xxv, yyv = _moments(
        z, x, y, radius, pattern, p, q, weight, background
    )
    if snr > 10 and scatter < 4 * noise[1]:
        for turn in range(6):
            if not flux > 0:
                break
            # The central 90 % of a Gaussian; the last turn asks the light itself.
            large = 0.5 * (xx + yy) + math.sqrt(max(0.25 * (xx - yy) ** 2 + xy * xy, 0.0))
            length = 3.29 * math.sqrt(max(large, 0.0))
            angle = 0.5 * math.atan2(2 * xy, xx - yy)
            wanted = min(max(5.0, 1.5 * length), largest)
            # Moments of little light are noise: a wider aperture would only hold more of it.
            sure = flux > 12 * math.sqrt(variance)
            if sure and wanted > radius * 1.05 and turn < 5:
                radius = wanted
                background, scatter = _ring(z, x, y, radius, pattern, p, q, weight, ring)
                flux, mx, my, xx, xy, yy, variance, xxv, yyv = _moments(
                    z, x, y, radius, pattern, p, q, weight, background
                )
                continue
            length = _span(z, x, y, radius, pattern, p, q, weight, background, angle, profile)
            width = _span(
                z, x, y, radius, pattern, p, q, weight, background, angle + math.pi / 2, profile
            )
            if width > length:
                length, width, angle = width, length, angle + math.pi / 2
            break
    out[0], out[1] = x, y
    strength = max(snr, 1e-6)
    out[2] = out[3] = math.hypot(sigma * 1.4142 / strength, 0.03)
    out[4] = amplitude[1] * 2 * math.pi * sigma * sigma
    out[5] = out[4] / strength
    out[6] = snr
    out[15] = radius
    out[16], out[18] = _peak_share(z, samples, (x, y), black, clipping, p, q)
    if (
        x < 2 * radius
        or y < 2 * radius
        or x > columns - 1 - 2 * radius
        or y > rows - 1 - 2 * radius
    ):
        out[18] = 1.0
    if flux > 0 and snr > 0:
        out[0], out[1] = (x + mx, y + my) if flux > 25 * math.sqrt(variance) else (x, y)
        out[4] = flux
        out[5] = math.sqrt(variance)
        out[7], out[8] = (length, width) if length > 0 else (math.nan, math.nan)
        # Error of a second moment, carried over to the central 90 %: d(length)/length = dM/(2 M).
        out[9] = length * math.sqrt(xxv) / (2 * flux * max(xx + yy, 1e-6) / 2)
        out[10] = width * math.sqrt(yyv) / (2 * flux * max(xx + yy, 1e-6) / 2)
        out[11] = math.degrees(angle) % 180.0
        out[12], out[13], out[14] = xx, xy, yy
        out[17] = scatter / noise[1]


@compiled
def _weighted_centre(z, x0, y0, sigma):  # type: ignore[no-untyped-def]
    rows, columns = z.shape
    reach = math.ceil(2.5 * sigma)
    cx, cy = round(x0), round(y0)
    total, sx, sy = 0.0, 0.0, 0.0
    across = np.empty(2 * reach + 1)
    for k in range(2 * reach + 1):
        across[k] = math.exp(-0.5 * ((cx - reach + k - x0) / sigma) ** 2)
    for v in range(max(cy - reach, 0), min(cy + reach + 1, rows)):
        dy = v - y0
        down = math.exp(-0.5 * (dy / sigma) ** 2)
        for u in range(max(cx - reach, 0), min(cx + reach + 1, columns)):
            dx = u - x0
            w = down * across[u - cx + reach] * z[v, u]
            total += w
            sx += w * dx
            sy += w * dy
    if total <= 0:
        return x0, y0
    # Weight and spot of equal width: the centre lies twice as far as the weighted mean.
    return x0 + 1.6 * sx / total, y0 + 1.6 * sy / total


@compiled
def _amplitudes(z, x, y, sigma, noise, pattern, p, q):  # type: ignore[no-untyped-def]
    """Height [counts] of a Gaussian fitted to each colour, and the sum of its squared weights."""
    rows, columns = z.shape
    reach = math.ceil(2.5 * sigma)
    cx, cy = round(x), round(y)
    product = np.zeros(3)
    square = np.zeros(3)
    across = np.empty(2 * reach + 1)
    for k in range(2 * reach + 1):
        across[k] = math.exp(-0.5 * ((cx - reach + k - x) / sigma) ** 2)
    for v in range(max(cy - reach, 0), min(cy + reach + 1, rows)):
        down = math.exp(-0.5 * ((v - y) / sigma) ** 2)
        row, k_row = (v % p) * q, max(cx - reach, 0) % q - 1
        for u in range(max(cx - reach, 0), min(cx + reach + 1, columns)):
            k_row = k_row + 1 if k_row < q - 1 else 0
            c = int(pattern[row + k_row])
            w = down * across[u - cx + reach]
            product[c] += w * z[v, u]
            square[c] += w * w
    for c in range(3):
        product[c] = product[c] / square[c] * noise[c] if square[c] > 0 else 0.0
    return product, square


@compiled
def _ring(z, x, y, radius, pattern, p, q, weight, ring):  # type: ignore[no-untyped-def]
    rows, columns = z.shape
    inner, outer = 1.2 * radius, 2.0 * radius
    # Every so many samples of a large ring: all of it, evenly, in the room there is.
    stride = int(math.pi * (outer * outer - inner * inner) / (0.9 * ring.size)) + 1
    count, met = 0, 0
    for v in range(max(int(y - outer), 0), min(int(y + outer) + 2, rows)):
        row, k_row = (v % p) * q, max(int(x - outer), 0) % q - 1
        for u in range(max(int(x - outer), 0), min(int(x + outer) + 2, columns)):
            k_row = k_row + 1 if k_row < q - 1 else 0
            d = (u - x) * (u - x) + (v - y) * (v - y)
            if inner * inner <= d <= outer * outer:
                met += 1
                if met % stride != 0 or count >= ring.size:
                    continue
                ring[count] = z[v, u] * weight[int(pattern[row + k_row])]
                count += 1
    if count < 12:
        return 0.0, 1.0
    held = ring[:count]
    upper = select(held, count - 1 - count // 4)
    lower = select(held, count // 4)
    scatter = (upper - lower) / 1.349
    # Mean of the middle half: as steady as the median against neighbours, with less noise.
    total, kept = 0.0, 0
    for k in range(count):
        if lower <= held[k] <= upper:
            total += held[k]
            kept += 1
    return total / kept, scatter


@compiled
def _moments(z, x, y, radius, pattern, p, q, weight, background):  # type: ignore[no-untyped-def]
    rows, columns = z.shape
    flux, sx, sy, sxx, sxy, syy = 0.0, 0.0, 0.0, 0.0, 0.0, 0.0
    variance, vxx, vyy = 0.0, 0.0, 0.0
    for v in range(max(int(y - radius), 0), min(int(y + radius) + 2, rows)):
        dy = v - y
        row, k_row = (v % p) * q, max(int(x - radius), 0) % q - 1
        for u in range(max(int(x - radius), 0), min(int(x + radius) + 2, columns)):
            k_row = k_row + 1 if k_row < q - 1 else 0
            dx = u - x
            cover = min(radius - math.hypot(dx, dy) + 0.5, 1.0)
            if cover <= 0:
                continue
            w = weight[int(pattern[row + k_row])]
            s = (z[v, u] * w - background) * cover
            flux += s
            sx += s * dx
            sy += s * dy
            sxx += s * dx * dx
            sxy += s * dx * dy
            syy += s * dy * dy
            # A star's own photons: its variance over the sky's is as its light over the sky's
            # unknown gain; the background part alone is kept here.
            e = w * w * cover * cover
            variance += e
            vxx += e * dx**4
            vyy += e * dy**4
    if flux <= 0:
        return flux, 0.0, 0.0, 0.0, 0.0, 0.0, variance, vxx, vyy
    mx, my = sx / flux, sy / flux
    return (
        flux,
        mx,
        my,
        sxx / flux - mx * mx,
        sxy / flux - mx * my,
        syy / flux - my * my,
        variance,
        vxx,
        vyy,
    )


@compiled
def _span(z, x, y, radius, pattern, p, q, weight, background, angle, profile):  # type: ignore[no-untyped-def]
    """Distance along a direction between the 5 % and 95 % shares of the light in the circle."""
    rows, columns = z.shape
    cosine, sine = math.cos(angle), math.sin(angle)
    half = 0.5 * max(abs(cosine), abs(sine))
    start = -radius - 1.0
    bins = min(int(2 * (radius + 1.0) / BIN_PX) + 2, profile.size)
    for b in range(bins):
        profile[b] = 0.0
    # Differences of the profile: each sample spreads evenly over its own projected width.
    for v in range(max(int(y - radius), 0), min(int(y + radius) + 2, rows)):
        dy = v - y
        row, k_row = (v % p) * q, max(int(x - radius), 0) % q - 1
        for u in range(max(int(x - radius), 0), min(int(x + radius) + 2, columns)):
            k_row = k_row + 1 if k_row < q - 1 else 0
            dx = u - x
            cover = min(radius - math.hypot(dx, dy) + 0.5, 1.0)
            if cover <= 0:
                continue
            s = (z[v, u] * weight[int(pattern[row + k_row])] - background) * cover
            at = dx * cosine + dy * sine - start
            first = int((at - half) / BIN_PX)
            last = int((at + half) / BIN_PX) + 1
            first = min(max(first, 0), bins - 2)
            last = min(max(last, first + 1), bins - 1)
            share = s / (last - first)
            profile[first] += share
            profile[last] -= share
    total = 0.0
    density = 0.0
    for b in range(bins):
        density += profile[b]
        total += density
    if total <= 0:
        return 0.0
    low, high = -1.0, -1.0
    density, running = 0.0, 0.0
    for b in range(bins):
        density += profile[b]
        before = running
        running += density
        if low < 0 and running >= 0.05 * total:
            low = b + (0.05 * total - before) / max(running - before, 1e-12)
        if high < 0 and running >= 0.95 * total:
            high = b + (0.95 * total - before) / max(running - before, 1e-12)
            break
    return (high - low) * BIN_PX


@compiled
def _peak_share(z, samples, place, black, clipping, p, q):  # type: ignore[no-untyped-def]
    rows, columns = samples.shape
    cx, cy = round(place[0]), round(place[1])
    share, edge = 0.0, 0.0
    for v in range(cy - 2, cy + 3):
        for u in range(cx - 2, cx + 3):
            if 0 <= u < columns and 0 <= v < rows:
                if z[v, u] == 0.0:  # a dropped hot pixel
                    continue
                k = (v % p) * q + u % q
                share = max(share, (float(samples[v, u]) - black[k]) / (clipping[k] - black[k]))
            else:
                edge = 1.0
    return share, edge
