"""Stars swallowed by brighter neighbours."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from nightglass.verdict.view.crowd import SEEN_STAR_AREAS, share_seen

FOUND = {1: 0.285, 2: 0.462, 4: 0.634, 8: 0.789, 15: 0.850, 30: 0.892, 60: 0.925}
"""Share of stars that the finder gave back in rendered fields, mean of three bodies, by noise
areas a star: output of design/crowding.py."""


@pytest.mark.parametrize(("areas", "seen"), FOUND.items())
def test_curve_is_within_ten_percent_of_what_the_finder_sees(areas, seen):
    assert float(share_seen(SEEN_STAR_AREAS / areas)) == pytest.approx(seen, rel=0.10)


def test_stars_laid_down_by_the_thousand():
    """Seen: in what the ones before, all brighter, have left free; each takes one cell."""
    rng = np.random.default_rng(3)
    cells, stars = 2000, 3000
    seen = [np.unique(rng.integers(0, cells, stars)).size / stars for _ in range(40)]
    assert float(share_seen(stars / cells)) == pytest.approx(float(np.mean(seen)), rel=0.01)


@given(st.floats(0, 1e4), st.floats(0, 10))
def test_more_stars_never_show_fewer(u, more):
    few, many = float(share_seen(u)), float(share_seen(u + more))
    assert 0 < many <= few <= 1
    assert many * (u + more) >= few * u * (1 - 1e-9)


def test_nothing_taken_hides_nothing_and_negative_areas_are_refused():
    assert float(share_seen(0.0)) == 1.0
    with pytest.raises(ValueError, match="taken is -1; an area over another can't be negative"):
        share_seen(-1.0)
