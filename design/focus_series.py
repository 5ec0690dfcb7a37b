"""How near to the truth best focus comes, and how two extents make a length.

Lenses drawn at random (spherical, coma, astigmatism, cat's eye; centre, edge, corner; f/1.8 to
f/4), their light at 540 nm through pixels of 6.05 um. Truth: the focus at which length_px of the
noiseless spot is least, and the depth in which it stays under 1.2 times that. Series: 6 to 11
frames over 1.5 to 3.5 depths on either side, not centred, sizes with 2 % and 0.08 px of scatter.
Printed: the share of series whose best focus is within 10 % of the depth; the scatter over the
stated errors; the skew of the slopes; the same for other powers that join the two extents.
Run: python design/focus_series.py [lenses]   (about 10 s a lens; 30 lenses unless said)
"""

from __future__ import annotations

import math
import sys
from collections import defaultdict

import numpy as np
from scipy.interpolate import CubicSpline

from nightglass.bench.focus import best as joined
from nightglass.bench.focus.best import best_of, position_of
from nightglass.bench.focus.curve import SKEW, Sizes, fit_curve, numbers_of
from nightglass.optics.arrays import Floats
from nightglass.optics.extent import extent, span
from nightglass.optics.wavefront import Pupil, blurred, defocus_um, samples_needed, seidel, spot

PITCH_UM, WAVELENGTH_UM = 6.05, 0.54
SERIES_A_LENS = 4
POWERS = (4.0, 8.0, 16.0, 32.0)


def lens(seed: int) -> tuple[Pupil, float]:
    """Return the opening of a lens drawn at random, at its best rms focus, and its direction."""
    rng = np.random.default_rng([seed, 12])
    n = float(rng.choice([1.8, 2.0, 2.8, 4.0]))
    h = float(rng.choice([0.02, 0.6, 0.9]))
    azimuth = rng.uniform(0, 360)
    terms = seidel(
        w040_um=rng.uniform(-24, 24) / (8 * n),
        w131_um=rng.uniform(0, 50) * h / (6 * n),
        w222_um=rng.uniform(-50, 50) * h * h / (4 * n),
        azimuth_degrees=azimuth,
    )
    terms[2] = terms[3] = terms[4] = 0.0
    shift, turn = rng.uniform(0, 0.4) * h, math.radians(azimuth)
    return Pupil(n, terms, (shift * math.cos(turn), shift * math.sin(turn)), 1.05), azimuth


def truth(seed: int) -> tuple[Floats, Floats]:
    """Return positions [units of 1.8 f-number x pitch] and (length, radial, tangential) [px]."""
    pupil, azimuth = lens(seed)
    unit = 1.8 * PITCH_UM * pupil.f_number
    positions = np.concatenate(
        [np.arange(-12, -5, 1.75), np.arange(-5, 5.01, 0.77), np.arange(6.5, 12.1, 1.75)]
    )
    steps = math.ceil(PITCH_UM / (0.5 * WAVELENGTH_UM * pupil.f_number))
    rows = []
    for position in positions:
        terms = dict(pupil.zernikes_um)
        terms[4] += defocus_um(float(position) * unit, pupil.f_number)
        there = Pupil(pupil.f_number, terms, pupil.cut_shift, pupil.cut_radius)
        step_um = PITCH_UM / steps
        samples = samples_needed(there, step_um, 11 * PITCH_UM)
        sharp = spot(there, WAVELENGTH_UM, step_um, samples)
        seen = np.ascontiguousarray(blurred(sharp, step_um, PITCH_UM), dtype=np.float64)
        found = extent(seen, 1 / steps)
        centre, a = (found.x_px, found.y_px), math.radians(azimuth)
        along = span(seen, 1 / steps, centre, found.aperture_px, a)
        across = span(seen, 1 / steps, centre, found.aperture_px, a + math.pi / 2)
        rows.append((found.length_px, along, across))
    return positions, np.array(rows)


def best_and_depth(positions: Floats, lengths: Floats) -> tuple[float, float, float]:
    """Return the true best focus, the depth around it and the length there."""
    fine = np.linspace(-11, 11, 4001)
    curve = CubicSpline(positions, lengths)(fine)
    k = int(np.argmin(curve))
    low = high = k
    while low > 0 and curve[low] < 1.2 * curve[k]:
        low -= 1
    while high < fine.size - 1 and curve[high] < 1.2 * curve[k]:
        high += 1
    return float(fine[k]), float(fine[high] - fine[low]), float(curve[k])


def main() -> None:
    chosen = joined.SHARPNESS
    lenses = int(sys.argv[1]) if len(sys.argv) > 1 else 30
    away: dict[float, list[float]] = defaultdict(list)
    over_err, skews, lengths = [], [], []
    rng = np.random.default_rng(1)
    for seed in range(100, 100 + lenses):
        positions, sizes = truth(seed)
        best, depth, length = best_and_depth(positions, sizes[:, 0])
        lengths.append(length)
        for _ in range(SERIES_A_LENS):
            reach = rng.uniform(1.5, 3.5) * depth
            marks = best + rng.uniform(-0.25, 0.25) * reach
            marks = marks + np.linspace(-reach, reach, int(rng.integers(6, 12)))
            marks = marks[np.abs(marks) < 11.9]
            curves = []
            for k in (1, 2):
                seen = CubicSpline(positions, sizes[:, k])(marks)
                seen = seen * (1 + 0.02 * rng.standard_normal(seen.size))
                seen += 0.08 * rng.standard_normal(seen.size)
                errs = np.hypot(0.02 * seen, 0.08)
                curves.append(fit_curve(Sizes(marks, seen, errs, np.zeros(seen.size, bool))))
            for power in POWERS:
                joined.SHARPNESS = power
                away[power].append(abs(position_of(curves) - best) / depth)
            joined.SHARPNESS = chosen
            found = best_of(curves)
            over_err.append((found.position.value - best) / found.position.err)
            skews += [float(numbers_of(curve)[SKEW]) for curve in curves]
    low, mid, high = np.quantile(lengths, [0.1, 0.5, 0.9])
    print(f"{lenses} lenses, best lengths {low:.1f}, {mid:.1f}, {high:.1f} px (10, 50, 90 %)")
    for power, several in away.items():
        near = np.array(several)
        print(f"power {power:g}: within 10 % of the depth {np.mean(near < 0.1):.1%}, within 20 % "
              f"{np.mean(near < 0.2):.1%}; median {np.median(near):.3f}, 95 % under "
              f"{np.quantile(near, 0.95):.2f}")  # fmt: skip
    pull = np.array(over_err)
    within, beyond = np.mean(abs(pull) < 1), np.mean(abs(pull) > 2)
    print(f"(found - true) / err: median {np.median(pull):+.2f}, within 1 {within:.0%}, "
          f"beyond 2 {beyond:.0%}")  # fmt: skip
    print(f"skew: {np.std(skews):.3f} (1 sigma)")


if __name__ == "__main__":
    main()
