"""What the night was: rendered frames whose zero point, sky, gain and land are known."""

from __future__ import annotations

import numpy as np
import pytest

from nightglass.scene.sky.starfield import Aberrations, Scene, lens_spots, render
from nightglass.show.sky.words.night import NIGHT_NOTES, night_note_words, noise_words
from nightglass.sky.astrometry.camera import look_at, pixel_area_arcsec2, plain_camera
from nightglass.sky.astrometry.refine import Solution
from nightglass.sky.astrometry.solve import solve
from nightglass.sky.photometry.codes import NightNote
from nightglass.sky.photometry.conditions import measure_night, noise_source
from nightglass.sky.stars.find import find_stars


@pytest.fixture(scope="module")
def seen():
    camera = plain_camera(2400, 1600, 2600.0)
    mild = Aberrations(defocus_um=0.8, coma_um=0.3, astigmatism_um=0.3)
    spots = lens_spots(camera, 6.0, 1.8, mild, grid=(1, 1), size_px=31)
    scene = Scene(
        camera,
        look_at(140.0, 30.0, 20.0),
        spots,
        exposure_s=8.0,
        zero_counts_per_s=1.2e5,
        faintest_g=9.8,
        land=0.3,
        gain_e_per_count=2.0,
        glow=0.8,
    )
    frame, truth = render(scene)
    found = find_stars(frame)
    solution = solve(found.stars, 2400, 1600)
    assert isinstance(solution, Solution)
    return scene, frame, found, solution, truth


def test_zero_point_sky_gain_and_limit_are_those_of_the_scene(seen):
    scene, frame, found, solution, truth = seen
    night = measure_night(frame, found, solution, 8.0)
    assert night.zero_point_mag == pytest.approx(2.5 * np.log10(1.2e5), abs=0.03)
    area = float(pixel_area_arcsec2(scene.camera, 1199.5, 799.5))
    sky = 2.5 * np.log10(1.2e5) - 2.5 * np.log10(120 / 8 / area)
    # Faint stars of the field add to the sky between them.
    assert night.sky_mag_arcsec2 == pytest.approx(sky, abs=0.12)
    assert abs(night.gain_e_per_count - 2.0) < 2.5 * night.gain_e_per_count_err < 0.6
    # Read noise of the scene, and rounding.
    assert abs(night.read_noise_counts - np.hypot(3.0, 0.29)) < 2.5 * night.read_noise_counts_err
    assert night.read_noise_counts_err < 1.0
    assert night.open_sky == pytest.approx(0.7, abs=0.1)
    hit = [np.hypot(found.stars.x_px - x, found.stars.y_px - y).min() < 2.5
           for x, y in zip(truth.x_px, truth.y_px, strict=True)]  # fmt: skip
    near = ~truth.hidden & (np.abs(truth.magnitude - night.limiting_mag) < 0.15)
    assert 0.25 < np.mean(np.array(hit)[near]) < 0.8
    assert night.falloff is None or night.falloff == pytest.approx(1.0, abs=0.06)


def test_without_a_time_there_is_no_zero_point_and_it_says_so(seen):
    _, frame, found, solution, _ = seen
    night = measure_night(frame, found, solution, None)
    assert night.zero_point_mag is None
    assert night.sky_mag_arcsec2 is None
    assert NightNote.NO_EXPOSURE in night.notes
    assert NightNote.AIR_IN_ZERO_POINT not in night.notes
    timed = measure_night(frame, found, solution, 8.0)
    assert NightNote.AIR_IN_ZERO_POINT in timed.notes
    assert NIGHT_NOTES[NightNote.AIR_IN_ZERO_POINT] in night_note_words(timed)
    with pytest.raises(ValueError, match=r"exposure_s is 0; an exposure is longer than 0"):
        measure_night(frame, found, solution, 0.0)


@pytest.mark.parametrize(
    ("read", "words"),
    [
        (None, "not known"),
        (1.0, "the sky's light (the readout makes it 0.5 % larger)"),
        # 10 against the root of 100 - 75: 2.0 times.
        (75**0.5, "the sky's light and the readout (together 2.0 times what the sky's light alone "
         "would give; longer exposures help)"),
        (10.0, "the readout (over 10 times what the sky's light alone would give)"),
        (12.0, "the readout (over 10 times what the sky's light alone would give)"),
    ],
)  # fmt: skip
def test_what_sets_the_noise_in_words(read, words):
    assert noise_words(*noise_source(read, 10.0)) == words
