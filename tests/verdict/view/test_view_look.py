"""Points, drawn out, streaks."""

import math

import numpy as np
import pytest
from planted_lenses import BODY, FAST_OPEN, FAST_STOPPED, WIDE_14

from nightglass.gear.benchfile import SkyChoice
from nightglass.verdict.frame_light import frame_light
from nightglass.verdict.purpose import PURPOSES, eye_of
from nightglass.verdict.view.look import Shape, looks, shape_of, viewed_widths

EYES = [eye_of(words) for words in PURPOSES]


def looks_of(planted, exposure_s=None):
    light = frame_light(
        BODY, planted.lens, planted.setting, exposure_s or planted.exposure_s, SkyChoice()
    )
    return looks(light, planted.zones, BODY, planted.lens, planted.focal_mm, EYES)


@pytest.mark.parametrize(
    ("widths", "shape"),
    [(1.0, "points"), (1.5, "points"), (1.51, "drawn out"), (3.0, "drawn out"), (3.01, "streaks")],
)
def test_words_change_at_one_and_a_half_and_three_widths(widths, shape):
    assert shape_of(widths) == shape


def test_gaussian_spots_widen_the_eye_by_the_sum_of_variances(build):
    round_spot = build.zone(lengths_px=(6.0,))
    v = (6.0 / 3.289707) ** 2
    found = float(viewed_widths(round_spot, 1.58, 0.0, 0.0))
    assert found == pytest.approx(math.sqrt(1 + v / 1.58**2))
    along = float(viewed_widths(round_spot, 1.58, 10.0, 77.0))
    assert along == pytest.approx(math.sqrt(1 + (v + 100 / 12) / 1.58**2))


def test_a_trail_along_the_spot_is_longer_than_one_across(build):
    oval = build.zone(lengths_px=(9.0,), width_share=0.4, angle_degrees=30.0)
    along, across = viewed_widths(oval, 1.58, np.array([8.0, 8.0]), np.array([30.0, 120.0]))
    assert along > across


def test_at_limit_counts_with_its_bound(build):
    bound = float(viewed_widths(build.zone(at_most_px=3.0), 1.58, 0.0, 0.0))
    assert bound == pytest.approx(math.sqrt(1 + (3.0 / 3.289707) ** 2 / 1.58**2))


def test_phone_hides_more_than_screen_and_screen_more_than_print():
    phone, screen, printed = looks_of(FAST_STOPPED)
    assert [look.purpose for look in looks_of(FAST_STOPPED)] == list(PURPOSES)
    assert phone.typical_widths < screen.typical_widths < printed.typical_widths
    assert all(look.worst_widths >= look.typical_widths for look in (phone, screen, printed))
    assert printed.worst_place in ("top left", "bottom right")


def test_a_sharp_lens_at_a_short_time_shows_points_and_a_soft_one_streaks():
    assert looks_of(WIDE_14, exposure_s=2.0)[0].typical is Shape.POINTS
    assert looks_of(FAST_OPEN)[1].worst is Shape.STREAKS


def test_without_zones_it_says_what_to_do():
    light = frame_light(BODY, WIDE_14.lens, WIDE_14.setting, 20.0, SkyChoice())
    with pytest.raises(ValueError, match="no zone has a length: measure at least one place"):
        looks(light, (), BODY, WIDE_14.lens, 14, EYES)
