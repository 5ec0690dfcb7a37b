"""The light of a setting over the cells of the frame."""

import math
from dataclasses import replace

import numpy as np
import pytest
from scipy.integrate import dblquad
from viewed_values import value

import nightglass.verdict.frame_light as frame_light_module
from nightglass.gear.benchfile import SkyChoice
from nightglass.gear.lens import Lens, LensSetting
from nightglass.verdict.frame_light import frame_light, with_darker_corners, with_transmission
from nightglass.verdict.purpose import eye_of
from nightglass.verdict.view.glow import glow_on_sky

SCREEN = eye_of("screen")
# A lens so long that the whole frame is one direction: falloff and solid angle are even.
LONG = Lens("Crane 400 mm f/4", 400, 400, 4.0, 4.0)


def light_of(build, lens, f_number=None, exposure_s=20.0, body=None):
    body = body or build.body
    setting = LensSetting(
        body.name, lens.name, lens.focal_mm_min, f_number or lens.f_number_min_wide
    )
    return frame_light(body, lens, setting, exposure_s, SkyChoice())


def test_glow_of_a_long_lens_by_hand(build):
    body = replace(build.body, mosaic="none", efficiency=0.4, read_noise_e={800: 2.0})
    light = light_of(build, LONG, exposure_s=4.0, body=body)
    zero = 8.8e9 * math.pi / 4 * (400e-3 / 4.0) ** 2 * 0.85 * 0.4 * 4.0
    pixel = (6.05e-3 / 400 * 206264.806) ** 2
    sky, milky_way = (zero * 10 ** (-0.4 * m) * pixel for m in (21.6, 21.8))
    pixels = 3600.0**2 / pixel
    expected = milky_way * pixels / math.sqrt(pixels * (milky_way + sky + 2.0**2))
    assert glow_on_sky(light, body) == pytest.approx(expected, rel=2e-3)
    # Light gathered: pupil area [mm^2] x transmission x time.
    assert light.gathered_mm2_s == pytest.approx(math.pi / 4 * 100**2 * 0.85 * 4)


def test_twice_the_area_and_no_read_noise_is_root_two_in_glow(build):
    # f/2 against f/2.8: exact powers 2 and 2.828, twice the area; photon noise alone.
    body = replace(build.body, read_noise_e={800: 1e-6})
    wide, narrow = (glow_on_sky(light_of(build, build.wren, n, body=body), body) for n in (2, 2.8))
    assert wide / narrow == pytest.approx(math.sqrt(2), rel=1e-6)


def test_other_glass_scales_stars_and_sky_alike(build):
    light = light_of(build, build.wren)
    dimmed = with_transmission(light, 0.5)
    assert dimmed.sky_e == pytest.approx(light.sky_e / 2)
    assert dimmed.glow_e == pytest.approx(light.glow_e / 2)
    assert dimmed.path.transmission == pytest.approx(0.425)
    assert with_transmission(light, 3.0).path.transmission == 1.0


def test_darker_corners_lose_with_the_square_of_the_radius(build):
    light = light_of(build, build.wren)
    darker = with_darker_corners(light)
    assert darker.pupil_falloff / light.pupil_falloff == pytest.approx(
        1 - 0.2 * light.field_radius**2
    )
    assert darker.sky_e / light.sky_e == pytest.approx(1 - 0.2 * light.field_radius**2)


def test_cells_are_fine_enough(build, monkeypatch):
    def both():
        light = light_of(build, build.wren, 2.0, 30.0)
        zones = (build.zone("centre", (4.0,)), build.zone("top left", (12.0,)))
        found = value(light, zones, build.body, SCREEN)
        return found.stars, found.glow

    coarse = both()
    monkeypatch.setattr(frame_light_module, "COLUMNS", 48)
    monkeypatch.setattr(frame_light_module, "ROWS", 32)
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
