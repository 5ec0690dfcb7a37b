"""How far off the peak and the area of a viewed star are that the verdict reads from few samples.

Spots that are no Gaussians (rings, comets, halos) under trails are drawn as the verdict draws
them, and again with a period that holds the whole stamp, on samples eight times as close. Printed
for each eye: errors of ln(peak), median, 95 % and largest, with the parabola believed wherever it
bends down, and as it is now; and the largest error of ln(area). The parabola alone was off by up
to a factor of e on the flat top of a ring; half a step is as far as a peak can lie.
Run: python design/viewed_peaks.py   (about a minute)
"""

from __future__ import annotations

import math

import numpy as np
from scipy.fft import irfft2

from nightglass.optics.arrays import Floats
from nightglass.verdict.blur import inside_aperture
from nightglass.verdict.view import kept

FINER = 8
LENGTHS_PX = (3.2, 5.0, 8.0, 14.0, 22.0)
EYES_PX = (0.8, 1.02, 1.6, 2.5)
TRAILS_PX = (1.5, 9.0, 30.0)


def spots(length_px: float, rng: np.random.Generator) -> dict[str, Floats]:
    """Return spots of about that length, off the middle of a pixel."""
    half = math.ceil(1.5 * length_px) + 3
    y, x = np.mgrid[-half : half + 1, -half : half + 1].astype(float)
    dx, dy = rng.uniform(-0.5, 0.5, 2)
    x, y = x - dx, y - dy
    r = np.hypot(x, y)
    ring = np.exp(-0.5 * ((r - 0.42 * length_px) / (0.06 * length_px + 0.5)) ** 2)
    along = np.where(x > 0, np.exp(-x / (0.35 * length_px)), np.exp(x / (0.06 * length_px)))
    across = 0.08 * length_px + 0.1 * np.maximum(x, 0) + 0.5
    halo = np.exp(-0.5 * (r / (0.1 * length_px + 0.6)) ** 2)
    drawn = {
        "ring": ring,
        "comet": along * np.exp(-0.5 * (y / across) ** 2),
        "halo": halo + 0.05 / (1 + (r / (0.2 * length_px)) ** 2),
    }
    return {name: inside_aperture(spot, length_px) for name, spot in drawn.items()}


def fine_logs(spot: Floats, sigma: float, trail: float, angle: float) -> tuple[float, float]:
    """ln of peak_kept and of the noise area, drawn with room and in small steps."""
    step = 1 / FINER
    samples = 2 * FINER * math.ceil((max(spot.shape) + trail + 8 * sigma) / 2)
    k = np.fft.fftfreq(samples, step)
    light = np.zeros((samples // FINER,) * 2)
    light[: spot.shape[0], : spot.shape[1]] = spot / spot.sum()
    periodic = np.tile(np.fft.fft2(light), (FINER, FINER))
    fy, fx = k[:, None], k[None, : samples // 2 + 1]
    # The stamp says nothing beyond half a cycle per pixel.
    inside = (np.abs(fy) < 0.5) & (np.abs(fx) < 0.5)
    line = np.sinc(trail * (fx * math.cos(angle) + fy * math.sin(angle)))
    eye = np.exp(-2 * (math.pi * sigma) ** 2 * (fx**2 + fy**2))
    image = irfft2(periodic[:, : samples // 2 + 1] * inside * line * eye, (samples,) * 2)
    image *= FINER**2
    peak = math.log(image.max() * 2 * math.pi * sigma**2)
    return min(peak, 0.0), -math.log((image**2).sum() * step**2)


def parabola_alone(tops: Floats) -> Floats:
    """ln of peaks where the parabola is believed wherever it bends down, up to a factor of e."""
    z = np.log(np.maximum(tops, 1e-30))
    gy, gx = (z[:, 2, 1] - z[:, 0, 1]) / 2, (z[:, 1, 2] - z[:, 1, 0]) / 2
    yy = z[:, 2, 1] + z[:, 0, 1] - 2 * z[:, 1, 1]
    xx = z[:, 1, 2] + z[:, 1, 0] - 2 * z[:, 1, 1]
    xy = (z[:, 2, 2] - z[:, 2, 0] - z[:, 0, 2] + z[:, 0, 0]) / 4
    bend = xx * yy - xy**2
    with np.errstate(divide="ignore", invalid="ignore"):
        rise = -(gx**2 * yy + gy**2 * xx - 2 * gx * gy * xy) / (2 * bend)
    return np.asarray(z[:, 1, 1] + np.where(bend > 0, np.clip(rise, 0.0, 1.0), 0.0))


def errors(sigma: float, rng: np.random.Generator) -> tuple[list[float], list[float]]:
    """Errors of ln(peak) and of ln(area) over spots and trails."""
    peaks, areas = [], []
    for length in LENGTHS_PX:
        for spot in spots(length, rng).values():
            for longest in TRAILS_PX:
                trail, angle = rng.uniform(longest / 2, longest), rng.uniform(0, 180)
                peak, area = fine_logs(spot, sigma, trail, math.radians(angle))
                found = kept.peak_kept(spot, sigma, trail, angle)
                peaks.append(abs(found.log_peak[0] - peak))
                areas.append(abs(found.log_area[0] - area))
    return peaks, areas


def main() -> None:
    now = kept.log_peaks
    for way, log_peak in (("parabola alone", parabola_alone), ("now", now)):
        kept.log_peaks = log_peak
        print(f"{way}:  eye px   ln(peak) median    95 %   largest   ln(area) largest")
        for sigma in EYES_PX:
            rng = np.random.default_rng(5)
            both = [errors(sigma, rng) for _ in range(4)]
            peaks = np.concatenate([p for p, _ in both])
            areas = np.concatenate([a for _, a in both])
            middle, most = np.quantile(peaks, (0.5, 0.95))
            print(
                f"{sigma:>{len(way) + 9}.2f} {middle:>17.4f} {most:>7.4f} {peaks.max():>9.4f}"
                f" {areas.max():>18.5f}"
            )


if __name__ == "__main__":
    main()
