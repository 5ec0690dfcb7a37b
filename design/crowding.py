"""How much area a seen star takes from others: the share found in fields of rising density.

Rendered Bayer crops of three bodies (10, 24 and 60 Mpx on sensors 15.6 mm high: one lens's round
spot on three pitches), stars in random places with 0.43 dex more per magnitude, 1 to 60 noise
areas to each star of SNR 5 or more, and fainter ones below. Noise areas are those of the star as
it is looked for: filtered, twice its own under a filter that matches it. Seen: one found star to
one such star, brightest first. Printed per density: the share seen, and (1 - exp(-u)) / u with the
constant of nightglass.verdict.view.crowd. What noise alone hides of stars about SNR 5 is part of
what is seen.
Run: python design/crowding.py   (about a minute)
"""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import minimize_scalar
from scipy.spatial import cKDTree
from scipy.special import erf

from nightglass.frame.record import Frame
from nightglass.light.noise import limiting_star_e, mosaic_mix
from nightglass.sky.stars.find import find_stars
from nightglass.verdict.view.crowd import MATCHED_WIDENS, SEEN_STAR_AREAS, share_seen

Array = NDArray[np.float64]

SPOT_UM = 6.5
"""Standard deviation of the spot."""
PITCH_UM = {"10 Mpx": 6.05, "24 Mpx": 3.9, "60 Mpx": 2.47}
AREAS_A_STAR = (1.0, 2.0, 4.0, 8.0, 15.0, 30.0, 60.0)
LONELY_AREAS = 200.0
"""Hardly a neighbour: what is missing here is lost to noise about SNR 5."""
LEAST_STARS = 1500
SMALLEST_PX, LARGEST_PX = 500, 2400
SKY_E, READ_E, BLACK, CLIPPING = 300.0, 3.0, 256.0, 60000.0
PER_MAGNITUDE = 0.43
FAINTER_MAGNITUDES = 1.5
COLOURS = np.array([0.5, 1.0, 0.6])
PATTERN = np.array([[0, 1], [1, 2]], dtype=np.uint8)
SEED = 20


def main() -> None:
    found: dict[float, list[float]] = {}
    for body, pitch in PITCH_UM.items():
        sigma = math.hypot(SPOT_UM / pitch, math.sqrt(1 / 12))
        for areas in (*AREAS_A_STAR, LONELY_AREAS):
            seen, stars = share_found(sigma, areas)
            found.setdefault(areas, []).append(seen)
            print(
                f"{body}, spot {sigma:.2f} px, {_against(areas, seen)}, {stars} stars", flush=True
            )
    print("mean of the bodies:")
    for areas, shares in found.items():
        print(_against(areas, float(np.mean(shares))))
    crowded = np.array(AREAS_A_STAR)
    mean = np.array([float(np.mean(found[areas])) for areas in AREAS_A_STAR])

    def largest_miss(taken: float) -> float:
        return float(np.max(np.abs(np.log(share_seen(taken / crowded) / mean))))

    best = minimize_scalar(largest_miss, bounds=(1, 30), method="bounded")
    print(
        f"smallest largest miss of the means: {best.x:.2f} noise areas, "
        f"{100 * math.expm1(best.fun):.0f} %"
    )


def _against(areas: float, seen: float) -> str:
    curve = float(share_seen(SEEN_STAR_AREAS / areas))
    return (
        f"{areas:4.0f} noise areas a star: {seen:.3f} seen, curve {curve:.3f} "
        f"({100 * (curve / seen - 1):+.0f} %)"
    )


def share_found(sigma: float, areas: float) -> tuple[float, int]:
    """Share of the stars of SNR 5 or more that the finder gives back, and their number."""
    rng = np.random.default_rng([SEED, round(10 * areas), round(100 * sigma)])
    noise_area = 4 * math.pi * sigma**2
    room = areas * MATCHED_WIDENS * noise_area
    side = math.sqrt(LEAST_STARS * room)
    side_px = 2 * round(min(max(side, SMALLEST_PX), LARGEST_PX) / 2)
    faintest = float(limiting_star_e(noise_area, SKY_E, READ_E, mosaic_mix("bayer")))
    power = 2.5 * PER_MAGNITUDE
    bright = side_px**2 / room
    below = 10 ** (-0.4 * FAINTER_MAGNITUDES)
    count = rng.poisson(bright * below**-power)
    electrons = faintest * below * rng.uniform(size=count) ** (-1 / power)
    place = rng.uniform(-0.5, side_px - 0.5, size=(count, 2))
    frame = rendered(place, electrons, sigma, side_px, rng)
    stars = find_stars(frame).stars
    real = electrons >= faintest
    found = matched(place[real], electrons[real], np.column_stack([stars.x_px, stars.y_px]), sigma)
    return found / np.count_nonzero(real), int(np.count_nonzero(real))


def rendered(
    place: Array, electrons: Array, sigma: float, side_px: int, rng: np.random.Generator
) -> Frame:
    """A Bayer frame of 1 electron per count with round Gaussian stars."""
    colour = COLOURS[np.tile(PATTERN, (side_px // 2, side_px // 2))]
    light = np.zeros((side_px, side_px))
    reach = math.ceil(5 * sigma)
    around = np.arange(-reach, reach + 1)
    for first in range(0, len(place), 4000):
        x, y = place[first : first + 4000].T
        star = electrons[first : first + 4000]
        near_x, near_y = (np.rint(v).astype(int)[:, None] + around for v in (x, y))
        weight_x, weight_y = (_on_samples(n, v, sigma) for n, v in ((near_x, x), (near_y, y)))
        weight_x *= (near_x >= 0) & (near_x < side_px)
        weight_y *= (near_y >= 0) & (near_y < side_px)
        stamp = star[:, None, None] * weight_y[:, :, None] * weight_x[:, None, :]
        index = (
            np.clip(near_y, 0, side_px - 1)[:, :, None] * side_px
            + np.clip(near_x, 0, side_px - 1)[:, None, :]
        )
        light += np.bincount(index.ravel(), stamp.ravel(), side_px**2).reshape(light.shape)
    light = (light + SKY_E) * colour
    noisy = rng.poisson(light) + rng.normal(BLACK, READ_E, light.shape)
    return Frame(
        samples=np.clip(np.rint(noisy), 0, CLIPPING).astype(np.uint16),
        pattern=PATTERN,
        black=np.full((2, 2), BLACK),
        clipping=np.full((2, 2), CLIPPING),
        kind="mosaic",
    )


def _on_samples(near: NDArray[np.int_], place: Array, sigma: float) -> Array:
    """Share of a Gaussian that falls on samples 1 px wide; sigma holds the sample's own width."""
    narrow = math.sqrt(2 * (sigma**2 - 1 / 12))
    distance = near - place[:, None]
    return np.asarray(erf((distance + 0.5) / narrow) - erf((distance - 0.5) / narrow)) / 2


def matched(place: Array, electrons: Array, found: Array, sigma: float) -> int:
    """How many found stars belong to a star of their own, the brightest near one first."""
    tree = cKDTree(found)
    taken = np.zeros(len(found), dtype=bool)
    for k in np.argsort(-electrons):
        near = tree.query_ball_point(place[k], 1.5 * sigma)
        free = [n for n in near if not taken[n]]
        if free:
            closest = min(free, key=lambda n: float(np.hypot(*(found[n] - place[k]))))
            taken[closest] = True
    return int(np.count_nonzero(taken))


if __name__ == "__main__":
    main()
