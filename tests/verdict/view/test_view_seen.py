"""Stars seen in the view and recorded in raw data: derivation, closed formula, properties."""

import math
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from planted_lenses import BODY, FAST_STOPPED, SETTINGS, WIDE_14, Planted
from scipy.ndimage import gaussian_filter
from viewed_values import Value, score, value

import nightglass.verdict.view.seen as seen_module
from nightglass.gear.benchfile import SkyChoice
from nightglass.gear.lens import Lens, LensSetting
from nightglass.light.counts import stars_per_square_degree
from nightglass.light.defaults import TRANSMISSION
from nightglass.optics.projection import pixel_solid_angle_sr
from nightglass.verdict.frame_light import frame_light
from nightglass.verdict.purpose import eye_of
from nightglass.verdict.question import Question
from nightglass.verdict.view.eye import Eye, eye_arcmin, eye_on_sky
from nightglass.verdict.view.seen import stars_in_view, stars_recorded, viewed_spots

SCREEN = eye_of("screen")
ONE_COLOUR = replace(BODY, mosaic="none", read_noise_e={})
LONG = Lens("Crane 400 mm f/4", 400, 400, 4.0, 4.0)


def value_of(planted: Planted, eye: Eye = SCREEN, transmission: float | None = None,
             body=BODY, exposure_s: float | None = None) -> Value:  # fmt: skip
    lens = replace(planted.lens, transmission=transmission)
    time_s = exposure_s or planted.exposure_s
    light = frame_light(body, lens, planted.setting, time_s, SkyChoice())
    return value(light, planted.zones, body, eye)


def test_noise_of_the_filtered_sky_gives_the_formula_without_a_constant():
    """A star on white noise, filtered by scipy: peak over standard deviation is
    F x peak_kept / sqrt(B pi s^2)."""
    rng = np.random.default_rng(11)
    sigma, variance, background, electrons = 2.0, 3.0, 400.0, 900.0
    sky = gaussian_filter(rng.normal(0, math.sqrt(background), (1500, 1500)), sigma, mode="wrap")
    y, x = np.mgrid[-30:31, -30:31]
    star = np.exp(-0.5 * (x**2 + y**2) / variance) * electrons / (2 * math.pi * variance)
    measured = gaussian_filter(star, sigma).max() / sky.std()
    kept = sigma**2 / (sigma**2 + variance)
    formula = electrons * kept / math.sqrt(background * math.pi * sigma**2)
    assert measured == pytest.approx(formula, rel=0.01)


def test_stars_of_a_long_lens_by_hand(build):
    """The whole frame is one direction, a round Gaussian spot, no trail to speak of."""
    body = replace(build.body, mosaic="none", efficiency=0.4, read_noise_e={800: 2.0})
    seconds, length = 0.01, 6.0
    light = frame_light(body, LONG, LensSetting(body.name, LONG.name, 400, 4.0), seconds,
                        SkyChoice())  # fmt: skip
    zones = (build.zone("centre", (length,)), build.zone("top left", (length,)))
    spots = viewed_spots(light, zones, body, Eye("screen", 0.1))
    found = stars_in_view(light, spots, body)
    zero = 8.8e9 * math.pi / 4 * 0.1**2 * 0.85 * 0.4 * seconds
    sky = zero * 10 ** (-0.4 * 21.6) * (6.05e-3 / 400 * 206264.806) ** 2
    s2 = (0.1 / 2.354820 / 100 * 2592) ** 2
    v = (length / 3.289707) ** 2
    faintest = 5 * math.sqrt((sky + 4) * math.pi * s2) * (s2 + v) / s2
    magnitude = -2.5 * math.log10(faintest / zero) - 0.2 - 0.24
    degrees = math.degrees(3872 * 6.05e-3 / 400) * math.degrees(2592 * 6.05e-3 / 400)
    per_degree = float(stars_per_square_degree(magnitude))
    u = per_degree * degrees / (3872 * 2592) * 3.5 * 4 * math.pi * (s2 + v)
    expected = per_degree * degrees * (1 - math.exp(-u)) / u
    assert found.stars == pytest.approx(expected, rel=0.02)
    assert spots.peak_kept == pytest.approx(s2 / (s2 + v), rel=0.01)
    assert found.square_degrees == pytest.approx(degrees, rel=0.01)


# Closed formula: sky-limited, no crowding, N(m) proportional to 10^(0.43 m).
#   N ~ solid angle x F5^(-2.5 x 0.43), F5 / (zero point) ~ sqrt(sky per px) / (peak_kept A t) and
#   sky per px ~ A t x solid angle, so N ~ (A t)^0.5375 solid angle^0.4625 peak_kept^1.075;
#   glow ~ sqrt(A t x solid angle), and score ~ N x glow.
AREA_TIME, SOLID_ANGLE, KEPT = 1.0375, 0.9625, 1.075


@pytest.fixture
def power_law(monkeypatch):
    monkeypatch.setattr(seen_module, "stars_per_square_degree",
                        lambda g: 1e-4 * 10 ** (0.43 * np.asarray(g)))  # fmt: skip
    monkeypatch.setattr(seen_module, "share_seen", np.ones_like)
    monkeypatch.setattr(seen_module, "COUNTS_END_G", 99.0)


def test_exponents_are_those_of_the_glossary():
    assert pytest.approx((1.04, 0.96, 1.08), abs=0.0051) == (AREA_TIME, SOLID_ANGLE, KEPT)
    # Of the counts' 0.43 per magnitude: 2.5 x 0.43 = 1.075 in electrons.
    assert pytest.approx(2.5 * 0.43) == KEPT
    assert pytest.approx(KEPT / 2 + 0.5) == AREA_TIME
    assert pytest.approx(1 - KEPT / 2 + 0.5) == SOLID_ANGLE


@pytest.mark.parametrize(
    ("focal", "f_number", "exposure", "lengths"),
    [
        (100, 2.0, 0.5, (5.0, 5.0, 5.0)),
        (100, 4.0, 0.5, (5.0, 5.0, 5.0)),
        (100, 2.0, 0.25, (5.0, 5.0, 5.0)),
        (150, 2.8, 0.5, (5.0, 5.0, 5.0)),
        (100, 2.0, 0.5, (11.0, 11.0, 11.0)),
        (70, 1.4, 0.2, (20.0, 20.0, 20.0)),
    ],
)
def test_closed_formula_within_three_percent(power_law, focal, f_number, exposure, lengths):
    """Narrow frames, so that falloff and trail are even over them; read noise set to 0."""
    body = replace(BODY, mosaic="none", read_noise_e={800: 0.0}, second_gain_iso=800)

    def planted(focal, f_number, lengths):
        return Planted("Crane", focal, f_number, lengths, width_share=1.0)

    def area_time(focal, f_number, seconds):
        exact = 2 ** (round(6 * math.log2(f_number)) / 6)
        return (focal / exact) ** 2 * seconds

    reference, other = planted(120, 2.8, (8.0, 8.0, 8.0)), planted(focal, f_number, lengths)
    first = value_of(reference, body=body, exposure_s=0.5)
    second = value_of(other, body=body, exposure_s=exposure)
    solid = float(pixel_solid_angle_sr(0, 0, 3.9, focal)) / float(
        pixel_solid_angle_sr(0, 0, 3.9, 120)
    )
    expected = (
        100
        * (area_time(focal, f_number, exposure) / area_time(120, 2.8, 0.5)) ** AREA_TIME
        * solid**SOLID_ANGLE
        * (second.spots.peak_kept / first.spots.peak_kept) ** KEPT
    )
    assert score(second, first) == pytest.approx(expected, rel=0.03)


@given(st.sampled_from(SETTINGS), st.floats(0.3, 0.98), st.floats(1.001, 1.5))
@settings(max_examples=20, deadline=None)
def test_score_never_falls_when_only_transmission_rises(planted, share, more):
    low, high = (
        value_of(planted, transmission=share),
        value_of(planted, transmission=min(share * more, 1.0)),
    )
    assert score(high, low) >= 100.0


@given(st.sampled_from(SETTINGS), st.floats(0.5, 0.99))
@settings(max_examples=20, deadline=None)
def test_score_never_falls_when_only_blur_shrinks(planted, shrunk):
    sharper = replace(planted, lengths_px=tuple(shrunk * v for v in planted.lengths_px))
    assert score(value_of(sharper), value_of(planted)) >= 100.0


CHANGES = {
    "blur": lambda p: (replace(p, lengths_px=tuple(1.01 * v for v in p.lengths_px)), {}),
    "focal length": lambda p: (replace(p, focal_mm=1.01 * p.focal_mm), {"same": True}),
    "time": lambda p: (p, {"exposure_s": 1.01 * p.exposure_s}),
    "eye": lambda p: (p, {"eye": Eye("screen", 1.01 * SCREEN.eye_percent)}),
    "transmission": lambda p: (p, {"transmission": 0.99 * TRANSMISSION.value}),
}


@pytest.mark.parametrize("change", CHANGES)
@pytest.mark.parametrize("planted", SETTINGS, ids=lambda p: f"{p.name} at {p.f_number}")
def test_one_percent_of_an_input_moves_the_score_by_less_than_three(planted, change):
    other, named = CHANGES[change](planted)
    if named.pop("same", False):
        named["exposure_s"] = planted.exposure_s
    assert score(value_of(other, **named), value_of(planted)) == pytest.approx(100, abs=3.0)


def test_no_step_where_blur_crosses_any_limit():
    """A sweep of the blur in steps of 1 %: light never jumps."""
    scores = []
    first = value_of(FAST_STOPPED)
    for k in range(60):
        blur = tuple(1.01**k * v for v in FAST_STOPPED.lengths_px)
        scores.append(score(value_of(replace(FAST_STOPPED, lengths_px=blur)), first))
    steps = np.diff(np.log(scores))
    assert np.all(steps < 0)
    assert np.all(steps > -0.03)


def test_equal_lenses_tie():
    twin = replace(WIDE_14, name="Wren 14 mm f/2.8, second copy")
    assert score(value_of(twin), value_of(WIDE_14)) == 100.0


def test_powers_follow_the_blur():
    """All zones 2 % longer, noise areas 4.04 % larger: what the powers foretell."""
    longer = replace(FAST_STOPPED, lengths_px=tuple(1.02 * v for v in FAST_STOPPED.lengths_px))
    now, then = value_of(FAST_STOPPED), value_of(longer)
    told = sum(now.seen.powers) * math.log(1.02**2)
    assert math.log(then.stars / now.stars) == pytest.approx(told, rel=0.15)
    assert len(now.seen.powers) == 4


def test_read_noise_and_untested_places_take_stars_away(build):
    light = frame_light(BODY, WIDE_14.lens, WIDE_14.setting, 25.4, SkyChoice())
    whole, centre = (
        viewed_spots(light, zones, BODY, SCREEN) for zones in (WIDE_14.zones, WIDE_14.zones[:1])
    )
    noisy = replace(light, read_noise=replace(light.read_noise, electrons=30.0))
    stars = stars_in_view(light, whole, BODY)
    alone = stars_in_view(light, centre, BODY)
    assert stars.untested_share == 0
    assert alone.untested_share > 0.5
    assert alone.stars < stars.stars
    assert stars_in_view(noisy, whole, BODY).stars < stars.stars
    with pytest.raises(ValueError, match="no zone has a length: measure at least one place"):
        viewed_spots(light, (), BODY, SCREEN)


@pytest.mark.parametrize("planted", SETTINGS, ids=lambda p: f"{p.name} at {p.f_number}")
def test_no_filter_brings_out_more_stars_than_the_matched_one(planted):
    """Before any is lost to crowding; the eye's is not the star's own. In raw data the star's own
    photons count as noise as well, which takes 1 % on the widest lens: hence the 2 %."""
    light = frame_light(BODY, planted.lens, planted.setting, planted.exposure_s, SkyChoice())
    raw = stars_recorded(light, planted.zones, BODY)
    view = value_of(planted).seen
    assert raw.stars / (1 - raw.crowded_share) > 0.98 * view.stars / (1 - view.crowded_share)
    assert 0 < raw.crowded_share < 1
    assert all(power < 0 for power in raw.powers)


def test_limited_by_crowding_above_a_third():
    seen = value_of(WIDE_14).seen
    assert replace(seen, crowded_share=0.34).limited_by_crowding
    assert not replace(seen, crowded_share=0.33).limited_by_crowding


def test_the_patch_question_favours_the_longer_of_two_equal_lenses():
    """Same f-number, same spot, same picture rule for the time: the longer lens has the larger
    pupil for each square degree, the shorter one more sky in the frame."""
    short, long = replace(WIDE_14, focal_mm=14.0), replace(WIDE_14, name="Ruff", focal_mm=28.0)
    arcmin = eye_arcmin(SCREEN, BODY, 14.0)

    def patch(planted):
        eye = eye_on_sky(SCREEN, arcmin, BODY, planted.focal_mm)
        light = frame_light(BODY, planted.lens, planted.setting, planted.exposure_s, SkyChoice())
        return value(light, planted.zones, BODY, eye, Question.SKY)

    assert score(patch(long), patch(short)) > 100 > score(value_of(long), value_of(short))
    assert patch(short).question is Question.SKY
    assert patch(short).stars == pytest.approx(
        1000 * value_of(short).stars / value_of(short).seen.square_degrees, rel=1e-6
    )


def test_weights_of_the_score():
    first, second = value_of(FAST_STOPPED), value_of(WIDE_14)
    stars, glow = second.stars / first.stars, second.glow / first.glow
    assert score(second, first) == pytest.approx(100 * stars * glow)
    assert score(second, first, 1.0) == pytest.approx(100 * stars**2)
    assert score(second, first, 0.25) == pytest.approx(100 * stars**0.5 * glow**1.5)
    with pytest.raises(ValueError, match=r"a is 1\.2 and b is -0\.2; the weights of"):
        score(second, first, 1.2)


def test_glow_in_a_patch_of_one_percent_by_hand():
    """One colour, on the axis of a long lens: signal over noise of so many electrons."""
    body = replace(BODY, mosaic="none")
    planted = Planted("Crane", 400, 4.0, (5.0, 5.0, 5.0), 1.0)
    light = frame_light(body, planted.lens, planted.setting, 2.0, SkyChoice())
    pixels, glow, sky = 40.0**2, float(light.glow_e[0]), float(light.sky_e[0])
    expected = pixels * glow / math.sqrt(pixels * (glow + sky + 3.0**2))
    found = value_of(planted, body=body, exposure_s=2.0).glow
    assert found == pytest.approx(expected, rel=0.01)
