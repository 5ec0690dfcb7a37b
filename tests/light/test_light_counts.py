"""Star counts: joined at the catalogue's end, and against counts from elsewhere."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from nightglass.light.counts import (
    CATALOGUE_TOTALS,
    CONTINUATION_TOTALS,
    CONTINUED_BY,
    COUNTS_END_G,
    magnitude_g_at_count,
    stars_per_square_degree,
)
from nightglass.light.defaults import V_MINUS_G
from nightglass.light.photons import SQUARE_DEGREES_OF_SKY
from nightglass.sky.astrometry.catalogue import load_stars


def test_the_table_is_the_catalogue_counted():
    magnitudes = load_stars().magnitude
    for g, total in CATALOGUE_TOTALS.items():
        assert int(np.searchsorted(magnitudes, g)) == total
        assert stars_per_square_degree(g) * SQUARE_DEGREES_OF_SKY == pytest.approx(total)


def test_both_parts_meet():
    assert pytest.approx(1.274, abs=1e-3) == CONTINUED_BY
    below, above = stars_per_square_degree([9.5 - 1e-6, 9.5 + 1e-6])
    assert above / below == pytest.approx(1.0, abs=1e-5)


def test_one_shift_between_g_and_v_serves_all_magnitudes():
    # Whole-sky totals of Tycho-2 with UCAC4 down to magnitude 5 ... 10, in V-like magnitudes
    # (published table, read): the catalogue reaches them at G = V - 0.24 within 5 %.
    totals = {5: 1744, 6: 5326, 7: 16503, 8: 48559, 9: 139375, 10: 382925}
    for v, total in totals.items():
        found = stars_per_square_degree(v - V_MINUS_G.value) * SQUARE_DEGREES_OF_SKY
        assert found == pytest.approx(total, rel=0.05)


def test_counts_in_v_against_hipparcos():
    # Brighter than V 4 ... 7 in the Hipparcos main catalogue: 511, 1600, 4968, 15328 (OEIS
    # A053406). Complete to 7.3 only; other counts of 4850 to 5326 at V 6 scatter by 10 %.
    for v, total in ((4, 511), (5, 1600), (6, 4968), (7, 15328)):
        found = stars_per_square_degree(v - V_MINUS_G.value) * SQUARE_DEGREES_OF_SKY
        assert found == pytest.approx(total, rel=0.10)


def test_counts_in_g_are_not_counts_in_v():
    # 37 to 53 % above the counts in V of Hipparcos (recomputed).
    for m, v_total, above in ((6, 4995, 0.37), (7, 15404, 0.39), (8, 41074, 0.53)):
        in_g = float(stars_per_square_degree(m)) * SQUARE_DEGREES_OF_SKY
        assert in_g / v_total - 1 == pytest.approx(above, abs=0.01)


def test_the_continuation_keeps_its_own_slope():
    for m in (11.0, 13.0, 16.0):
        total = stars_per_square_degree(m) * SQUARE_DEGREES_OF_SKY
        assert total / CONTINUATION_TOTALS[m] == pytest.approx(CONTINUED_BY)


@given(st.floats(-3, COUNTS_END_G), st.floats(1e-3, 1.0))
def test_fainter_means_more_and_back(g, step):
    n = stars_per_square_degree(g)
    assert stars_per_square_degree(g - step) < n
    assert float(magnitude_g_at_count(n)) == pytest.approx(g, abs=1e-6)


def test_bad_input():
    with pytest.raises(ValueError, match="magnitude_g is 17; the star counts end at G 16"):
        stars_per_square_degree([9.0, 17.0])
    with pytest.raises(ValueError, match="per_square_degree is 0; a count of stars is above 0"):
        magnitude_g_at_count(0.0)
    with pytest.raises(ValueError, match="the star counts end at 2745 per square degree"):
        magnitude_g_at_count(1e5)
