"""A drawn patch gives back what went into it: stars, light, spots and noise."""

import math
from dataclasses import replace

import numpy as np
import pytest

from nightglass.gear.benchfile import Purpose
from nightglass.light.counts import CATALOGUE_END_G, stars_per_square_degree
from nightglass.light.noise import mosaic_mix
from nightglass.light.photons import star_e_per_s
from nightglass.optics.extent import extent, trailed
from nightglass.patch.look import SHEETS, Wish, blind_pairs, look_at
from nightglass.patch.recorded import FramePlace, nearest_zone, recorded_patch
from nightglass.patch.stars import PatchStars, patch_stars
from nightglass.patch.viewed import BLACK, WHITE, toned, viewed_patch
from nightglass.sky.astrometry.catalogue import load_stars
from nightglass.verdict.judge import judge_settings
from nightglass.verdict.purpose import eye_of
from nightglass.verdict.view.kept import peak_kept

CENTRE = FramePlace("centre", 0.0, 0.0)
V_MINUS_G = 0.24


@pytest.fixture
def found(build, bench):
    results = (
        build.setting(build.heron, 1.8, (9.0, 9.3, 8.8)),
        build.setting(build.heron, 2.8, (5.0, 5.1, 4.9)),
    )
    return judge_settings(results, bench)


@pytest.fixture
def sharp(found):
    return next(c for s, c in found.candidates.items() if s.f_number == 2.8)


def one_star(magnitude_g, x=0.013, y=-0.021, side=3.0):
    return PatchStars(side, np.array([x]), np.array([y]), np.array([magnitude_g]), 1)


def middle_of(image):
    total = image.sum()
    y, x = np.indices(image.shape)
    return float((image * x).sum() / total), float((image * y).sum() / total)


def test_a_star_gives_back_its_light_place_and_length(sharp):
    star = one_star(4.0)
    patch = recorded_patch(sharp, star, CENTRE, seed=1)
    light = patch.clean - recorded_patch(sharp, one_star(40.0), CENTRE, seed=1).clean
    cell = int(np.argmin(np.hypot(sharp.light.x_mm, sharp.light.y_mm)))
    ought = float(
        star_e_per_s(
            4.0 + V_MINUS_G, sharp.light.path, float(sharp.light.pupil_falloff[cell]),
            sharp.light.extinction_mag,
        )
    ) * sharp.light.exposure_s * mosaic_mix(sharp.body.mosaic).light  # fmt: skip
    assert light.sum() == pytest.approx(ought, rel=1e-3)
    x, y = middle_of(light)
    half = (light.shape[0] - 1) / 2
    assert x == pytest.approx(half + 0.013 * patch.pixels_per_degree, abs=0.05)
    assert y == pytest.approx(half - 0.021 * patch.pixels_per_degree, abs=0.05)
    # By the measuring's own definition: the length of the spot with its trail.
    size = light.shape[0]
    seen = extent(light, 1.0)
    put_in = extent(np.pad(patch.spot, (size - patch.spot.shape[0]) // 2), 1.0)
    assert seen.length_px == pytest.approx(put_in.length_px, rel=0.02)


def test_the_spot_is_the_measured_one_with_the_trail_of_the_place(sharp):
    patch = recorded_patch(sharp, one_star(4.0), CENTRE, seed=1)
    zone = nearest_zone(sharp, CENTRE)
    cell = int(np.argmin(np.hypot(sharp.light.x_mm, sharp.light.y_mm)))
    ought = trailed(
        zone.stamp, float(sharp.light.trail_px[cell]), float(sharp.light.trail_degrees[cell])
    )
    assert patch.spot.sum() == pytest.approx(1.0)
    assert extent(patch.spot, 1.0).length_px == pytest.approx(
        extent(np.maximum(ought, 0), 1.0).length_px, rel=0.02
    )


def test_noise_is_that_of_sky_and_readout_and_falls_with_the_root_of_the_frames(sharp):
    empty = one_star(40.0, side=6.0)
    patch = recorded_patch(sharp, empty, CENTRE, seed=3)
    top = patch.electrons[: patch.electrons.shape[0] // 4]
    assert top.mean() == pytest.approx(patch.sky_e, rel=0.01)
    ought = math.sqrt(patch.sky_e + patch.read_noise_e**2)
    assert top.std() == pytest.approx(ought, rel=0.02)
    nine = recorded_patch(sharp, empty, CENTRE, seed=3, frames=9).electrons
    assert nine[: nine.shape[0] // 4].std() == pytest.approx(ought / 3, rel=0.02)


def test_a_drawn_star_stands_out_as_the_verdict_says(sharp):
    # View SNR of the glossary, F x peak_kept / sqrt(B pi s^2), against the drawn picture.
    eye = eye_of("screen")
    empty, star = one_star(40.0, side=6.0), one_star(8.0, x=0.0, y=-1.5, side=6.0)
    patch = recorded_patch(sharp, star, CENTRE, seed=5)
    blank = recorded_patch(sharp, empty, CENTRE, seed=5)
    from scipy.ndimage import gaussian_filter

    sigma = eye.sigma_px(sharp.body)
    noise = gaussian_filter(blank.electrons - blank.clean, sigma)[20:-20, 20:-20].std()
    peak = gaussian_filter(patch.clean - blank.clean, sigma, truncate=8).max()
    kept = math.exp(float(peak_kept(patch.spot, sigma).log_peak[0]))
    electrons = float((patch.clean - blank.clean).sum())
    background = blank.clean.mean() + patch.read_noise_e**2
    # Noise filtered by the eye: variance B / (4 pi s^2); the peak is F kept / (2 pi s^2).
    ought = electrons * kept / math.sqrt(background * math.pi * sigma**2)
    assert peak / noise == pytest.approx(ought, rel=0.05)


def test_the_spot_is_turned_with_the_place(build, bench):
    setting = build.setting(build.heron, 2.8, (9.0, 9.3, 8.8))
    one = next(iter(judge_settings([setting], bench).candidates.values()))
    still = replace(one, light=replace(one.light, trail_px=np.zeros_like(one.light.trail_px)))
    outer = max(one.zones, key=lambda zone: zone.field_radius)
    here = FramePlace("own", outer.field_radius, 0.0)
    there = FramePlace("turned", outer.field_radius, 90.0)
    first, second = (
        extent(recorded_patch(still, one_star(4.0), at, 1).spot, 1.0) for at in (here, there)
    )
    if first.length_px / first.width_px > 1.15:
        assert abs((second.angle_degrees - first.angle_degrees) % 180) == pytest.approx(90, abs=3)
    assert second.length_px == pytest.approx(first.length_px, rel=0.03)


def test_catalogue_stars_stand_where_the_sky_has_them():
    stars = load_stars()
    bright = int(np.argmax(stars.magnitude > 3.0))
    ra, dec = float(stars.ra_degrees[bright]), float(stars.dec_degrees[bright])
    patch = patch_stars(ra, dec, 4.0, 9.0)
    at = int(np.argmin(np.hypot(patch.x_degrees, patch.y_degrees)))
    assert patch.magnitude_g[at] == pytest.approx(float(stars.magnitude[bright]))
    # A degree to the north is a degree up; tan(1 degree) on the plane.
    north = patch_stars(ra, dec - 1.0, 4.0, 9.0)
    at = int(np.argmin(np.abs(north.magnitude_g - stars.magnitude[bright])))
    assert north.x_degrees[at] == pytest.approx(0.0, abs=1e-9)
    assert north.y_degrees[at] == pytest.approx(-math.degrees(math.tan(math.radians(1.0))))
    # East is left.
    west = patch_stars(ra - 1.0, dec, 6.0, 9.0)
    at = int(np.argmin(np.abs(west.magnitude_g - stars.magnitude[bright])))
    assert west.x_degrees[at] < 0


def test_faint_stars_stand_in_the_mean_sky_s_number_and_are_the_same_each_time():
    patch = patch_stars(270.0, -24.0, 8.0, 13.0)
    faint = patch.magnitude_g[patch.from_catalogue :]
    ends = stars_per_square_degree(np.array([CATALOGUE_END_G, 13.0]))
    ought = (ends[1] - ends[0]) * 64
    assert len(faint) == pytest.approx(ought, abs=4 * math.sqrt(ought))
    assert faint.min() >= CATALOGUE_END_G
    assert faint.max() <= 13.0
    again = patch_stars(270.0, -24.0, 8.0, 13.0)
    assert np.array_equal(again.x_degrees, patch.x_degrees)


def test_the_tone_curve_is_that_of_the_standard_and_one_for_all():
    # IEC 61966-2-1: 18 % of the light is grey 118 of 255 (46 %).
    light = BLACK + 0.18 * (WHITE - BLACK)
    assert int(toned(np.array([light]))[0]) == 118
    assert list(toned(np.array([0.0, BLACK, WHITE, 99.0]))) == [0, 0, 255, 255]


def test_a_viewed_patch_has_three_samples_per_eye(sharp):
    eye = eye_of("screen")
    patch = recorded_patch(sharp, one_star(40.0), CENTRE, seed=1)
    view = viewed_patch(patch, sharp.body, eye)
    height_percent = 100 * patch.electrons.shape[0] / sharp.body.picture_height_px
    assert view.grey.shape[0] == math.floor(height_percent / (eye.eye_percent / 3))
    sky = view.grey[: view.grey.shape[0] // 4]
    assert abs(float(np.median(sky)) - float(toned(np.array([1.0]))[0])) <= 3


def test_both_settings_show_the_same_stars_and_blind_pairs_hide_which(found, bench):
    one, other = (item.worth.setting for item in found.scored)
    wish = Wish(270.0, -24.0, CENTRE, side_degrees=2.0)
    looked = look_at(found, bench, one, other, wish)
    assert len(looked.views) == 3
    assert looked.recorded[0].electrons.shape == looked.recorded[1].electrons.shape
    eye, rows = blind_pairs(found, replace(bench, purpose=Purpose("phone")), looked)
    assert eye.kind == "phone"
    assert len(rows) == SHEETS
    assert {row.left_is_one for row in rows} == {True, False}
    # Other noise in each pair.
    first, second = (row.left if row.left_is_one else row.right for row in rows[:2])
    assert not np.array_equal(first.grey, second.grey)


def test_what_can_t_be_drawn_says_why(sharp):
    with pytest.raises(ValueError, match="frames is 0; at least 1"):
        recorded_patch(sharp, one_star(4.0), CENTRE, 1, frames=0)
    alone = replace(sharp, zones=sharp.zones[:1])
    with pytest.raises(ValueError, match="was not tested near corner; measured are: centre"):
        recorded_patch(alone, one_star(4.0), FramePlace("corner", 1.0, 30.0), 1)
    with pytest.raises(ValueError, match="side_degrees is 40; a patch is above 0 and at most 30"):
        patch_stars(0.0, 0.0, 40.0, 9.0)
