"""Frames counted together are each counted as alone."""

from dataclasses import replace

import numpy as np
import pytest
from planted_lenses import BODY, SETTINGS

import nightglass.verdict.view.cells as cells_module
from nightglass.gear.benchfile import SkyChoice
from nightglass.gear.lens import Lens, LensSetting
from nightglass.verdict.frame_light import frame_light, with_darker_corners, with_transmission
from nightglass.verdict.purpose import eye_of
from nightglass.verdict.view.cells import BARE, in_a_row, some_at_once
from nightglass.verdict.view.glow import glow_in_view, glow_on_sky, glows_in_view, glows_on_sky
from nightglass.verdict.view.seen import stars_in_view, stars_in_views, viewed_spots

FISHEYE = Lens("Round 4 mm f/2.8", 4, 4, 2.8, 2.8, projection="equisolid")


def frames():
    """Settings of several lenses, each with its glass dimmer and its corners darker; the last one
    shows fewer cells than the frame has, and half of them are untested."""
    found = []
    for planted in SETTINGS:
        light = frame_light(
            BODY, planted.lens, planted.setting, planted.exposure_s, SkyChoice(airmass=1.3)
        )
        spots = viewed_spots(light, planted.zones, BODY, eye_of("phone"))
        lights = (light, with_transmission(light, 0.9), with_darker_corners(light))
        noisy = replace(light, read_noise=replace(light.read_noise, electrons=9.0))
        found += [(one, spots) for one in (*lights, noisy)]
    light = frame_light(BODY, FISHEYE, LensSetting(BODY.name, "any", 4, 2.8), 30.0, SkyChoice())
    spots = viewed_spots(light, SETTINGS[0].zones[:1], BODY, eye_of("screen"))
    return [*found, (light, spots)]


@pytest.mark.parametrize("at_once", [2, 64])
def test_stars_and_glow_of_many_frames_are_those_of_each(monkeypatch, at_once):
    monkeypatch.setattr(cells_module, "FRAMES_AT_ONCE", at_once)
    cases = frames()
    assert cases[-1][0].sky_e.size < cases[0][0].sky_e.size
    lights = [light for light, _ in cases]
    together = stars_in_views(cases, BODY), glows_in_view(lights, BODY), glows_on_sky(lights, BODY)
    for (light, spots), seen, glow, on_sky in zip(cases, *together, strict=True):
        alone = stars_in_view(light, spots, BODY)
        assert seen.stars == pytest.approx(alone.stars, rel=1e-12)
        assert seen.crowded_share == pytest.approx(alone.crowded_share, rel=1e-9)
        assert seen.powers == pytest.approx(alone.powers, rel=1e-9)
        assert seen.square_degrees == alone.square_degrees
        assert (seen.untested_share, seen.beyond_counts) == (
            alone.untested_share, alone.beyond_counts,
        )  # fmt: skip
        assert glow == pytest.approx(glow_in_view(light, BODY), rel=1e-12)
        assert on_sky == pytest.approx(glow_on_sky(light, BODY), rel=1e-12)


def test_a_row_keeps_each_frame_to_itself():
    lights = [light for light, _ in frames()]
    row = in_a_row(lights)
    for light, its in zip(lights, row.frames, strict=True):
        assert np.array_equal(row.sky_e[its], light.sky_e)
        assert set(row.read_noise_e[its]) == {light.read_noise.electrons}
        through = light.path.zero_magnitude_e_per_s * light.pupil_falloff
        bare = BARE.zero_magnitude_e_per_s * row.pupil_falloff[its]
        assert bare == pytest.approx(through, rel=1e-13)
    assert row.frames[-1].stop == row.sky_e.size


def test_nothing_is_cut_into_nothing():
    assert list(some_at_once([])) == []
    assert stars_in_views([], BODY) == []
