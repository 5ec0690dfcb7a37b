"""What was planted is found, and nothing else; nothing in an untouched picture.

Smoothing is by SciPy and scikit-image (general libraries): their filters, not ours, do the harm.
"""

import numpy as np
import pytest
from finished_skies import SIZE, SKY, decoded, encoded, sky_light
from scipy.integrate import trapezoid
from scipy.ndimage import gaussian_filter, median_filter
from scipy.stats import norm
from skimage.filters import unsharp_mask
from skimage.restoration import denoise_bilateral, denoise_wavelet
from skimage.transform import rescale

from nightglass.finish.audit import audit, reference_of
from nightglass.finish.codes import FindingCode as F
from nightglass.finish.codes import NoteCode
from nightglass.finish.findings import SEEN_PERCENT
from nightglass.finish.picture import read_picture

pytestmark = pytest.mark.slow


def codes(found):
    assert found.reason is None
    return {finding.code for finding in found.findings}


def band(found, scale_px):
    return next(b for b in found.noise if b.scale_px == scale_px)


def each(values, change):
    return np.stack([change(values[..., k]) for k in range(3)], axis=-1)


def test_nothing_is_found_in_the_untouched_picture(audited, light):
    found = audited("same", encoded(light))
    assert codes(found) == set()
    assert found.notes == ()
    assert all(row.left == row.stars for row in found.stars)
    for row in found.noise:
        assert row.light_left == pytest.approx(1, abs=0.01)
        assert row.colour_left == pytest.approx(1, abs=0.01)
    assert found.shape.ratio == pytest.approx(1, abs=0.002)


@pytest.mark.parametrize(("gain", "power", "lift"), [(1.3, 1.1, -0.02), (1.6, 0.9, 0.0)])
def test_tone_alone_is_no_finding(audited, light, gain, power, lift):
    found = audited("tone", gain * encoded(light) ** power + lift)
    assert codes(found) <= {F.BACKGROUND_COLOUR, F.STAR_COLOUR}
    assert band(found, 1).light_left == pytest.approx(1, abs=0.05)
    assert sum(row.left for row in found.stars) == sum(row.stars for row in found.stars)


def test_real_colour_is_no_blotch(save_tiff):
    light = sky_light(seed=9, cloud=0.5)
    first = reference_of(read_picture(save_tiff("cloud", encoded(light))))
    values = 1.2 * encoded(light) - 0.02
    assert codes(audit(first, read_picture(save_tiff("cloud-tone", values)))) == set()


def test_bilateral_smoothing_takes_grain_and_faint_stars(audited, light):
    smooth = denoise_bilateral(encoded(light), sigma_color=0.05, sigma_spatial=2, channel_axis=-1)
    found = audited("bilateral", smooth)
    assert codes(found) >= {F.GRAIN_SMOOTHED, F.COLOUR_SMOOTHED, F.STARS_LOST}
    # So few stars are left that their places scatter: coarse light finds the pixels again.
    assert found.placement(np.array([300 + 200j]))[0] == pytest.approx(300 + 200j, abs=1e-6)
    kept = [row.left / row.stars for row in found.stars if row.stars > 5]
    assert kept[0] > 0.9
    assert kept[-1] < 0.3


def test_a_median_filter_takes_grain_and_widens_stars(audited, light):
    found = audited("median", each(encoded(light), lambda plane: median_filter(plane, 3)))
    assert codes(found) == {F.GRAIN_SMOOTHED, F.COLOUR_SMOOTHED, F.STARS_SOFTENED}
    # The median of 9 independent values has 0.4075 of their deviation: the fifth of 9 lies at x
    # with the density 9! / (4! 4!) F^4 (1 - F)^4 f. Between neighbours it is shared, and a band
    # of single pixels keeps less.
    x = np.linspace(-8, 8, 4001)
    density = 630 * (norm.cdf(x) * norm.sf(x)) ** 4 * norm.pdf(x)
    truth = np.sqrt(trapezoid(x**2 * density, x))
    assert truth == pytest.approx(0.4075, abs=1e-4)
    assert 0.2 < band(found, 1).light_left < truth
    assert band(found, 32).light_left == pytest.approx(1, abs=0.25)


def test_wavelet_smoothing_takes_colour_noise(audited, light):
    smooth = denoise_wavelet(
        encoded(light), channel_axis=-1, convert2ycbcr=True, rescale_sigma=True
    )
    found = audited("wavelet", smooth)
    assert codes(found) >= {F.GRAIN_SMOOTHED, F.COLOUR_SMOOTHED}
    assert F.JPEG_BLOCKS not in codes(found)
    assert F.STARS_LOST not in codes(found)
    assert band(found, 1).colour_left < 0.1


@pytest.mark.parametrize("sigma_px", [4, 10])
def test_planted_blotches_are_found_at_their_scale(audited, light, sigma_px):
    rng = np.random.default_rng(1)
    blotch = each(rng.normal(0, 1, (*SIZE, 3)), lambda plane: gaussian_filter(plane, sigma_px))
    # No change of light: red, green and blue of the sky by 1, 2 and 1.
    blotch -= (blotch @ (SKY * [1, 2, 1]) / (SKY @ [1, 2, 1]))[..., None]
    found = audited("blotch", encoded(light * (1 + 0.025 * blotch / blotch.std())))
    assert codes(found) == {F.BLOTCHES}
    values = found.findings[0].values
    assert 2 * sigma_px <= values["scale_px"] <= 8 * sigma_px
    assert band(found, 1).colour_left == pytest.approx(1, abs=0.1)


def test_smoothed_colour_leaves_blotches_and_pale_stars(audited, light):
    values = encoded(light)
    grey = values.mean(axis=2, keepdims=True)
    colour = each(values - grey, lambda plane: gaussian_filter(plane, 4))
    found = audited("chroma", grey + colour)
    assert codes(found) == {F.COLOUR_SMOOTHED, F.BLOTCHES, F.SATURATION}
    # White noise under a Gaussian of 4 px keeps 1 / (2 sqrt(pi) 4) of itself, at 1 px far less.
    assert band(found, 1).colour_left < 0.1
    assert band(found, 1).light_left == pytest.approx(1, abs=0.08)


def test_sharpening_narrows_stars_and_rings_them(audited, light):
    # Plane by plane: with channel_axis scikit-image 0.26 gives back memory that it never wrote.
    values = each(encoded(light), lambda plane: unsharp_mask(plane, radius=1, amount=1.5))
    found = audited("sharp", values)
    assert codes(found) == {F.DARK_RINGS, F.GRAIN_RAISED, F.STARS_SHARPENED}
    # What (1 + a) of the picture less a of its Gaussian makes of white noise, with
    # G(0) = 1 / (2 pi s^2) and the sum of G^2 = 1 / (4 pi s^2), s = 1: 2.30 times at all scales.
    truth = np.sqrt(2.5**2 - 2 * 2.5 * 1.5 / (2 * np.pi) + 1.5**2 / (4 * np.pi))
    assert truth == pytest.approx(2.29, abs=0.01)
    assert band(found, 1).light_left == pytest.approx(truth, rel=0.1)
    assert sum(row.left for row in found.stars) == sum(row.stars for row in found.stars)


def test_shadows_clipped_are_counted(audited, light):
    values = encoded(light) - np.percentile(encoded(light)[..., 0], 5)
    found = audited("dark", values)
    truth = 100 * np.mean(np.rint(65535 * np.clip(values, 0, 1)).min(axis=2) == 0)
    finding = next(f for f in found.findings if f.code is F.SHADOWS_CLIPPED)
    assert finding.values["percent"] == pytest.approx(truth, rel=0.01)


def test_a_change_of_colour_is_measured_in_stops(audited, light):
    found = audited("warm", encoded(light * np.array([2**0.2, 1, 2**-0.1])))
    assert codes(found) == {F.STAR_COLOUR, F.BACKGROUND_COLOUR}
    for shift in (found.star_shift, found.background_shift):
        assert shift.red_stops == pytest.approx(0.2, abs=0.02)
        assert shift.blue_stops == pytest.approx(-0.1, abs=0.02)


def test_a_smaller_picture_is_laid_on_and_has_no_findings(audited, light):
    small = rescale(light, 0.6, channel_axis=-1, anti_aliasing=True)
    found = audited("small", encoded(small))
    assert codes(found) == set()
    assert NoteCode.RESCALED in found.notes
    assert 1 / found.placement.similarity.scale == pytest.approx(0.6, abs=0.001)


def test_grey_pictures_are_compared_without_colours(audited, light):
    grey = np.repeat(encoded(light.mean(axis=2))[..., None], 3, axis=2)
    found = audited("grey", grey)
    assert NoteCode.GREY in found.notes
    assert found.star_shift is None
    assert found.background_shift is None
    assert found.saturation is None


def test_curve_of_the_test_sky_is_undone():
    values = np.linspace(0, 1, 50)
    assert decoded(encoded(values)) == pytest.approx(values, abs=1e-9)


def test_what_counts_as_seen_is_just_under_what_an_eye_sees_at_best():
    # DICOM PS3.14, chapter 7 (formula as programs written to it quote it): luminance [cd/m^2] at
    # step j of just noticeable differences of a grating of 4 cycles per degree, 0.05 to 3993.
    top = (-1.3011877, 8.0242636e-2, 1.3646699e-1, -2.5468404e-2, 1.3635334e-3)
    under = (1, -2.5840191e-2, -1.0320229e-1, 2.8745620e-2, -3.1978977e-3, 1.2992634e-4)
    log_j = np.log(np.arange(1, 1024))
    light = 10 ** (np.polyval(top[::-1], log_j) / np.polyval(under[::-1], log_j))
    assert (light[0], light[-1]) == pytest.approx((0.05, 3993), rel=1e-3)
    # A step is bright less dark; the contrast of the grating is half of it over their mean.
    percent = 100 * np.diff(light) / (light[1:] + light[:-1])
    assert 0.9 * percent.min() < SEEN_PERCENT < percent.min() < 0.33
    assert percent[light[1:] > 100].max() < 0.38
