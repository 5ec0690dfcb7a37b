"""A real frame of a camera, developed to 8 bits and shrunk: nothing in it untouched, harm found."""

import numpy as np
import pytest
from real_files import real_file
from scipy.ndimage import median_filter

from nightglass.finish.audit import audit, reference_of
from nightglass.finish.codes import FindingCode as F
from nightglass.finish.picture import read_picture


@pytest.fixture(scope="module")
def real():
    return reference_of(read_picture(str(real_file("real-sky-wide", "developed-25deg.png"))))


@pytest.mark.parametrize("power", [1.0, 1.1])
def test_nothing_is_found_in_the_untouched_frame_or_in_another_tone(real, save_tiff, power):
    values = real.picture.encoded()[50:-20, 30:-60] ** power
    found = audit(real, read_picture(save_tiff("real", values, None)))
    assert found.findings == ()
    assert found.placement(np.array([0j]))[0] == pytest.approx(30 + 50j, abs=0.05)
    assert found.noise[0].light_left == pytest.approx(1, abs=0.03)


def test_a_median_filter_is_found_and_laid_on_the_frames_own_pixels(real, save_tiff):
    planes = [median_filter(real.picture.encoded()[..., k], 3) for k in range(3)]
    found = audit(real, read_picture(save_tiff("real-median", np.stack(planes, -1), None)))
    # Its stars are under two pixels wide, and a median of nine takes most of their light.
    codes = {f.code for f in found.findings}
    assert codes >= {F.STARS_LOST, F.GRAIN_SMOOTHED, F.STARS_SOFTENED}
    assert found.placement(np.array([500 + 300j]))[0] == pytest.approx(500 + 300j, abs=1e-6)
