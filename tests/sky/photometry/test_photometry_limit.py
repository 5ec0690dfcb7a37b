"""The limiting magnitude: found or not found by a known law, and the half-way point comes back."""

from __future__ import annotations

import math

import numpy as np
import pytest
from scipy.special import expit, ndtr

from nightglass.light.counts import stars_per_square_degree
from nightglass.sky.photometry.codes import LimitSource
from nightglass.sky.photometry.limit import limiting_magnitude
from nightglass.sky.photometry.open_sky import Hits, _snr_line

EDGES = np.arange(3.0, 10.0, 0.05)
OPEN = np.ones((5, 8), dtype=bool)


def hits(law, square_degrees, seed, line=(None, math.inf)):
    """Make stars by the table of counts, found with the law's chance."""
    rng = np.random.default_rng(seed)
    count = rng.poisson(np.diff(stars_per_square_degree(EDGES)) * square_degrees)
    g = np.repeat(EDGES[:-1], count) + rng.uniform(0, 0.05, count.sum())
    found = rng.uniform(size=g.size) < law(g)
    x, y = rng.uniform(0, 3100, g.size), rng.uniform(0, 1990, g.size)
    return Hits(x, y, g, np.where(found, 1, -1), *line)


def logistic(share, middle, width):
    return lambda g: share * expit((middle - g) / width)


def error_function(share, middle, width):
    return lambda g: share * ndtr((middle - g) / (1.7 * width))


def half_of(law):
    g = np.linspace(3, 10, 70_001)
    return g[np.argmin(np.abs(law(g) - 0.5))]


@pytest.mark.parametrize("kind", [logistic, error_function])
@pytest.mark.parametrize("share", [1.0, 0.9, 0.7])
def test_the_error_holds_whatever_share_of_the_bright_stars_shows(kind, share):
    pulls, misses = [], []
    for seed in range(40):
        middle, width = (8.0, 0.15) if seed % 2 else (7.1, 0.3)
        law = kind(share, middle, width)
        value, err, source = limiting_magnitude(hits(law, (150.0, 700.0)[seed % 3 > 0], seed), OPEN)
        if value is None:
            continue
        assert source is LimitSource.HALF_FOUND
        pulls.append((value - half_of(law)) / err)
        misses.append(value - half_of(law))
    assert len(pulls) >= 36
    # Of 40 draws 27 lie within one error: 19 or fewer have a chance of 1 in 100.
    assert np.count_nonzero(np.abs(pulls) < 1) >= 0.5 * len(pulls)
    assert np.count_nonzero(np.abs(pulls) > 2) <= 0.15 * len(pulls)
    assert np.max(np.abs(misses)) < 0.6


def test_the_first_crossing_from_the_bright_side_does_not_win():
    # 70 % of the bright stars: some half magnitude above the limit holds less than half by chance.
    law = logistic(0.7, 8.0, 0.15)
    values = [limiting_magnitude(hits(law, 1500.0, seed), OPEN)[0] for seed in range(30)]
    assert np.max(np.abs(np.array(values) - half_of(law))) < 0.1


def test_without_half_of_the_stars_the_line_says_it_or_nobody():
    few = logistic(0.5, 8.0, 0.15)
    assert limiting_magnitude(hits(few, 300.0, 1), OPEN) == (None, None, LimitSource.TOO_FEW_STARS)
    line = (8.05, 0.06)
    assert limiting_magnitude(hits(few, 300.0, 1, line), OPEN) == (*line, LimitSource.SNR_LINE)
    deep = logistic(1.0, 11.0, 0.2)
    line = (10.9, 0.06)
    assert limiting_magnitude(hits(deep, 300.0, 1, line), OPEN) == (
        *line,
        LimitSource.SNR_LINE_BEYOND_CATALOGUE,
    )
    assert limiting_magnitude(hits(deep, 0.5, 1), ~OPEN) == (None, None, LimitSource.TOO_FEW_STARS)


def test_stars_behind_land_do_not_count():
    law = logistic(1.0, 8.0, 0.15)
    stars = hits(law, 700.0, 2)
    hidden = stars.y > 1200
    blind = Hits(stars.x, stars.y, stars.magnitude, np.where(hidden, -1, stars.star), *(None, 1.0))
    cells = OPEN.copy()
    cells[3:] = False
    value, err, _ = limiting_magnitude(blind, cells)
    assert abs(value - 8.0) < 3 * err < 0.15


def test_the_line_is_not_drawn_deeper_by_stars_that_noise_lifts():
    # SNR of 5 at G 9.0 (0.4 dex a magnitude), scatter of a third, down to where few reach SNR 10.
    rng = np.random.default_rng(6)
    magnitude = np.concatenate([rng.uniform(5.0, 8.0, 200), rng.uniform(8.0, 10.0, 2000)])
    snr = 5 * 10 ** (0.4 * (9.0 - magnitude)) * np.exp(rng.normal(0, 0.35, magnitude.size))
    limit, err = _snr_line(magnitude, np.where(snr < 5, 0.0, snr))
    assert abs(limit - 9.0) < 2 * err < 0.2
    assert _snr_line(magnitude[:8], snr[:8]) == (None, math.inf)
