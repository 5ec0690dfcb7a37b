"""How often the intervals of a factor study hold, over 2,000 simulated studies.

Each study: 3 to 6 rounds that scatter by 3 %, in each an exposure ladder at two ISO steps and two
source sizes, frames that scatter by 3 %, a tenth of the frames lost. The distance changes from
round to round, so that its effect rests on rounds alone. Effects are drawn anew for every study;
a third of them is nothing. Counted: how often the 95 % interval of the effect holds the truth, its
mean error in parts of its own error, how often the interval of the explained share holds.

    .venv/bin/python design/factor_studies.py

Result: intervals of the effects hold in 94.2 % (exposure), 94.5 % (ISO), 95.4 % (source) and
96.8 % (distance, of the 1,484 studies with rounds enough); mean error under 0.02 of its own;
intervals of the shares hold in 93.8 to 97.0 %. Half a minute.
"""

from __future__ import annotations

import numpy as np

from nightglass.bench.factors.model import Columns, fit_model, reach, share_interval

STUDIES = 2000
SEED = 12
ROUND, FRAME = 0.03, 0.03


def study(rng):
    """Return ln sizes, columns, round numbers and the planted effects of one study."""
    count = int(rng.integers(3, 7))
    exposure = np.tile(np.repeat(np.arange(-2.0, 2.0), 2), count)
    iso = np.tile([0.0, 1.0], 4 * count)
    rounds = np.repeat(np.arange(count), 8)
    source = rng.permuted(np.tile([0.0, 0.0, 1.0, 1.0], 2 * count).reshape(count, 8), axis=1)
    distance = rng.permutation(np.linspace(-1, 1, count))[rounds]
    kept = rng.random(rounds.size) > 0.1
    values = {"exposure": exposure, "iso": iso, "source": source.ravel(), "distance": distance}
    truth = {name: float(rng.normal(0, 0.02)) * (rng.random() > 1 / 3) for name in values}
    y = rng.normal(0, ROUND, count)[rounds] + rng.normal(0, FRAME, rounds.size)
    for name, column in values.items():
        y = y + truth[name] * column
    columns = [Columns(name, column[kept][:, None]) for name, column in values.items()]
    return y[kept], columns, np.unique(rounds[kept], return_inverse=True)[1], truth


def main() -> None:
    rng = np.random.default_rng(SEED)
    held, shares, z = {}, {}, {}
    for _ in range(STUDIES):
        y, columns, rounds, truth = study(rng)
        found = fit_model(y, columns, (), rounds)
        true_parts = {c.name: truth[c.name] ** 2 * float(np.var(c.values)) for c in columns}
        everything = sum(true_parts.values()) + ROUND**2 + FRAME**2
        for name, fit in found.fits.items():
            err = float(np.sqrt(fit.covariance[0, 0]))
            away = float(fit.coefficients[0]) - truth[name]
            held.setdefault(name, []).append(abs(away) <= reach(fit.degrees_of_freedom) * err)
            z.setdefault(name, []).append(away / err)
            _, low, high = share_interval(fit, found.total)
            true_share = true_parts[name] / everything
            shares.setdefault(name, []).append(low <= true_share <= high)
    for name in held:
        effect, share = 100 * np.mean(held[name]), 100 * np.mean(shares[name])
        print(
            f"{name:9s} studies {len(held[name]):5d}  effect holds {effect:.1f} %"
            f"  bias {np.mean(z[name]):+.3f} errors  share holds {share:.1f} %"
        )


if __name__ == "__main__":
    main()
