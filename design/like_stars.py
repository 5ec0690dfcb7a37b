"""Whether the error of sky over bench from stars drawn alike holds the truth.

Made-up pairs of stars about a place: a ratio that changes evenly over the frame, a scatter from
star to star, more for faint stars, and with or without a tenth of them far off (pairs, lamps).
Printed: share of 95 % intervals that hold the planted ratio, without the method's own error. The
weights of the fit alone, without the pull of stars that lie off, gave 0.88 to 0.93.
Run: python design/like_stars.py   (a few seconds)
"""

from __future__ import annotations

import math

import numpy as np

from nightglass.proof.redraw.redrawn import Pairs
from nightglass.proof.redraw.sizes import METHOD_LOG_ERR, redrawn_size
from nightglass.verdict.certainty.spread import t_quantile

RUNS = 400


def made_up(stars: int, scatter: float, far: float, rng: np.random.Generator) -> Pairs:
    """Return pairs whose true ln(ratio) at the place is 0."""
    x, y = rng.uniform(-0.2, 0.2, (2, stars))
    snr = rng.uniform(25, 200, stars)
    logs = 0.3 * x - 0.2 * y + rng.standard_normal(stars) * np.hypot(scatter, 8 / snr)
    off = rng.random(stars) < far
    logs[off] += (rng.choice([-1, 1], stars) * rng.uniform(0.5, 1.5, stars))[off]
    drawn = np.full(stars, 8.0)
    sky = drawn * np.exp(logs)
    return Pairs(x, y, sky, sky, snr, drawn, drawn)


def main() -> None:
    rng = np.random.default_rng(5)
    for stars in (15, 30, 80):
        for scatter in (0.08, 0.2):
            for far in (0.0, 0.1):
                held = 0
                for _ in range(RUNS):
                    found = redrawn_size("place", made_up(stars, scatter, far, rng))
                    own = math.sqrt(found.log_err**2 - METHOD_LOG_ERR**2)
                    held += abs(found.log_ratio) <= t_quantile(found.freedom) * own
                print(f"{stars} stars, scatter {scatter:g}, {far:.0%} far off: {held / RUNS:.3f}")


if __name__ == "__main__":
    main()
