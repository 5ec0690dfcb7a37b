"""Stars and glow of a setting, worked out by hand where one place of the frame decides."""

import math
from dataclasses import replace

import numpy as np
import pytest
from scipy.integrate import dblquad

import nightglass.verdict.worth as worth_module
from nightglass.gear.benchfile import SkyChoice
from nightglass.gear.lens import Lens, LensSetting
from nightglass.light.counts import stars_per_square_degree
from nightglass.verdict.worth import frame_light, glow, star_count

SKY = SkyChoice()


def light_of(build, lens, f_number=None, exposure_s=20.0, sky=SKY, body=None):
    body = body or build.body
    setting = LensSetting(
        body.name, lens.name, lens.focal_mm_min, f_number or lens.f_number_min_wide
    )
    return frame_light(body, lens, setting, exposure_s, sky)


def count_of(build, lens, length_px=6.0, exposure_s=1.0, **light):
    """At 1 s stars of a wide lens on this body do not merge yet: light decides, not the cap."""
    zones = (build.zone("centre", (length_px,)), build.zone("top left", (length_px,)))
    return star_count(
        light_of(build, lens, exposure_s=exposure_s, **light),
        zones,
        build.body,
        lens,
        lens.focal_mm_min,
    )


# A lens so long that the whole frame is one direction: falloff and solid angle are even.
LONG = Lens("Crane 400 mm f/4", 400, 400, 4.0, 4.0)


def test_stars_of_a_long_lens_by_hand(build):
    body = replace(build.body, mosaic="none", efficiency=0.4, read_noise_e={800: 2.0})
    seconds, length = 0.01, 6.0
    light = light_of(build, LONG, exposure_s=seconds, body=body)
    zones = (build.zone("centre", (length,)), build.zone("top left", (length,)))
    found = star_count(light, zones, body, LONG, 400)
    # Electrons of a star of magnitude 0: 8.8e9 per s and m^2 (Bessell 1979) x pupil x efficiency.
    zero = 8.8e9 * math.pi / 4 * (400e-3 / 4.0) ** 2 * 0.4 * seconds
    # Sky 21.6 mag per square arcsecond; one pixel sees (6.05 um / 400 mm) = 3.12 arcseconds.
    pixel = (6.05e-3 / 400 * 206264.806) ** 2
    sky = zero * 10 ** (-0.4 * 21.6) * pixel
    area = 4 * math.pi * (length / 3.289707) ** 2
    # In 0.01 s the trail is 0.05 px: none. SNR 5: F^2 = 25 (F + area (sky + 2^2)).
    noise = area * (sky + 4)
    electrons = 12.5 + math.sqrt(12.5**2 + 25 * noise)
    magnitude = -2.5 * math.log10(electrons / zero) - 0.2
    degrees = math.degrees(3872 * 6.05e-3 / 400) * math.degrees(2592 * 6.05e-3 / 400)
    expected = stars_per_square_degree(magnitude - 0.24) * degrees
    assert found.stars == pytest.approx(float(expected), rel=0.01)
    assert found.lost_to_cap == 0


def test_glow_of_a_long_lens_by_hand(build):
    body = replace(build.body, mosaic="none", efficiency=0.4, read_noise_e={800: 2.0})
    light = light_of(build, LONG, exposure_s=4.0, body=body)
    zero = 8.8e9 * math.pi / 4 * (400e-3 / 4.0) ** 2 * 0.4 * 4.0
    pixel = (6.05e-3 / 400 * 206264.806) ** 2
    sky, milky_way = (zero * 10 ** (-0.4 * m) * pixel for m in (21.6, 21.8))
    pixels = 3600.0**2 / pixel
    expected = milky_way * pixels / math.sqrt(pixels * (milky_way + sky + 2.0**2))
    assert glow(light, body) == pytest.approx(expected, rel=2e-3)


def test_twice_the_area_and_no_read_noise_is_root_two_in_glow(build):
    # f/2 against f/2.8: exact powers 2 and 2.828, twice the area; photon noise alone.
    body = replace(build.body, read_noise_e={800: 1e-6})
    wide, narrow = (glow(light_of(build, build.wren, n, body=body), body) for n in (2.0, 2.8))
    assert wide / narrow == pytest.approx(math.sqrt(2), rel=1e-6)


def test_twice_the_area_at_the_same_blur_shows_more_stars(build):
    body = replace(build.body, read_noise_e={800: 1e-6})
    town = SkyChoice(brightness_mag_per_arcsec2=17.0)
    wide, narrow = (
        count_of(build, build.wren, f_number=n, body=body, sky=town).stars for n in (2.0, 2.8)
    )
    # Limited by the sky, twice the light goes 2.5 log10(root 2) = 0.376 mag deeper, where the
    # counts grow about 2.5 to 3 times per magnitude (Tycho-2 and UCAC4 totals): 1.41 to 1.51.
    assert 1.35 < wide / narrow < 1.7


def test_more_blur_shows_fewer_stars_but_the_same_glow(build):
    sharp, soft = (count_of(build, build.wren, length_px=v).stars for v in (4.0, 12.0))
    assert soft < 0.8 * sharp


def test_brighter_sky_shows_fewer_stars(build):
    dark = count_of(build, build.wren).stars
    town = count_of(build, build.wren, sky=SkyChoice(brightness_mag_per_arcsec2=19.0)).stars
    assert town < 0.7 * dark


def test_thicker_air_and_a_darker_glass_show_fewer_stars(build):
    clear = count_of(build, build.wren).stars
    assert count_of(build, build.wren, sky=SkyChoice(extinction_mag=0.5)).stars < clear
    assert count_of(build, replace(build.wren, transmission=0.7)).stars < clear


def test_stars_that_merge_are_cut_off_and_counted(build):
    # A soft wide lens at a long exposure: 30 noise areas of a 40 px spot are 55,700 px, so a
    # frame of 10 Mpx holds at most 180 of them.
    found = count_of(build, build.wren, length_px=40.0, exposure_s=120.0)
    area = 4 * math.pi * (40 / 3.289707) ** 2
    assert found.stars <= 3872 * 2592 / (30 * area)
    assert found.lost_to_cap > found.stars


def test_powers_of_the_zones_predict_a_recount(build):
    zones = tuple(build.zone(p, (6.0,)) for p in ("centre", "top left", "bottom right"))
    light = light_of(build, build.wren)
    before = star_count(light, zones, build.body, build.wren, 12)
    wider = tuple(
        replace(z, noise_area_px=replace(z.noise_area_px, value=1.05 * z.noise_area_px.value))
        for z in zones
    )
    # The stamps are widened as the areas are: 5 % in area is 2.5 % in length.
    wider = tuple(replace(w, stamp=build.stamp(6.0 * 1.05**0.5, 6.0 * 1.05**0.5, 0)) for w in wider)
    after = star_count(light, wider, build.body, build.wren, 12)
    predicted = sum(before.powers) * math.log(1.05)
    assert math.log(after.stars / before.stars) == pytest.approx(predicted, rel=0.15)
    assert all(power < 0 for power in before.powers)


def test_untested_parts_of_the_frame_hold_no_stars(build):
    light = light_of(build, build.wren)
    whole = star_count(
        light, (build.zone("centre"), build.zone("top left")), build.body, build.wren, 12
    )
    centre = star_count(light, (build.zone("centre"),), build.body, build.wren, 12)
    assert whole.untested_share == 0
    assert centre.untested_share > 0.8
    assert centre.stars < 0.3 * whole.stars


def test_cells_are_fine_enough(build, monkeypatch):
    def both():
        light = light_of(build, build.wren, 2.0, 30.0)
        zones = (build.zone("centre", (4.0,)), build.zone("top left", (12.0,)))
        return star_count(light, zones, build.body, build.wren, 12).stars, glow(light, build.body)

    coarse = both()
    monkeypatch.setattr(worth_module, "COLUMNS", 48)
    monkeypatch.setattr(worth_module, "ROWS", 32)
    fine = both()
    assert coarse == pytest.approx(fine, rel=0.01)


def test_cells_hold_the_frames_solid_angle(build):
    light = light_of(build, build.wren)
    found = float(light.pixel_solid_angle_sr.sum()) * light.pixels
    # By integration of 1 / (1 + (r / f)^2)^(3/2) / f^2, independent of the closed form.
    half_w, half_h = build.body.width_mm / 2, build.body.height_mm / 2
    exact = 4 * dblquad(lambda y, x: 12 / (x * x + y * y + 144) ** 1.5, 0, half_w, 0, half_h)[0]
    assert found == pytest.approx(exact, rel=5e-3)


def test_a_fisheye_sees_the_whole_frame(build):
    lens = Lens("Owl 12 mm f/3.5", 12, 12, 3.5, 3.5, projection="equisolid")
    light = light_of(build, lens)
    # Equal-area projection: exactly area / f^2.
    exact = build.body.width_mm * build.body.height_mm / 144
    assert float(light.pixel_solid_angle_sr.sum()) * light.pixels == pytest.approx(exact, rel=1e-9)
    assert np.all(np.isfinite(light.sky_e))


def test_a_time_of_zero_is_refused(build):
    with pytest.raises(ValueError, match="an exposure is longer than 0 seconds"):
        light_of(build, build.wren, exposure_s=0.0)


def test_no_zones_says_what_to_do(build):
    with pytest.raises(ValueError, match="measure at least one place of the frame"):
        star_count(light_of(build, build.wren), (), build.body, build.wren, 12)
