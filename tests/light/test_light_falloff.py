"""Falloff of star light over the field: shares, errors, and several frames together."""

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from nightglass.light.falloff import FalloffSource, PupilFalloff, combined_falloff

SKY, FLAT = FalloffSource.SKY, FalloffSource.FLAT


def test_a_magnitude_in_the_corner_is_2_512_times_less_light():
    # Pogson's ratio, 10^0.4 = 2.5119 (any textbook); in stops log2 of it, 1.3288.
    one = PupilFalloff((0.7, 0.3), (0.0, 0.0, 0.0), SKY)
    assert float(one.share(1.0)) == pytest.approx(1 / 2.5119, rel=1e-4)
    assert one.corner_stops == pytest.approx(1.3288, abs=1e-4)
    assert one.share(np.array([0.0, 0.5])) == pytest.approx(
        [1.0, 10 ** (-0.4 * (0.7 / 4 + 0.3 / 16))]
    )


@given(st.floats(0, 1), st.floats(0.001, 0.1), st.floats(0.001, 0.1), st.floats(-0.9, 0.9))
def test_the_error_is_that_of_drawn_terms(radius, first, second, together):
    covariance = (first**2, together * first * second, second**2)
    one = PupilFalloff((0.5, 0.2), covariance, SKY)
    # By other means: the quadratic form of the terms' gradient.
    gradient = np.array([radius**2, radius**4])
    matrix = np.array([[covariance[0], covariance[1]], [covariance[1], covariance[2]]])
    mag = math.sqrt(max(float(gradient @ matrix @ gradient), 0.0))
    assert float(one.log_err(radius)) == pytest.approx(mag * 0.921034, rel=1e-5, abs=1e-12)


def test_frames_count_by_their_errors_and_flats_go_before_the_sky():
    sure = PupilFalloff((0.4, 0.0), (0.0001, 0.0, 0.0), SKY)
    unsure = PupilFalloff((0.8, 0.0), (0.0009, 0.0, 0.0), SKY)
    both = combined_falloff([unsure, sure])
    # Weights 1 and 1/9: 0.4 x 0.9 + 0.8 x 0.1.
    assert both.terms_mag[0] == pytest.approx(0.44)
    assert (both.frames, both.covariance, both.source) == (2, sure.covariance, SKY)
    flat = PupilFalloff((0.5, 0.1), (0.01, 0.0, 0.0), FLAT)
    assert combined_falloff([sure, flat, unsure]) == flat


def test_no_frame_has_no_falloff():
    with pytest.raises(ValueError, match="no falloff was given; measure one frame at least"):
        combined_falloff([])
