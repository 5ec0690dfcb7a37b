"""Compile the loops before the tests start: else each worker compiles them for itself.

`make test` runs it beside the type checker. In a fresh folder it takes as long as the compiler
does, in any other a few seconds. What is drawn here is only there to be looked at once; a loop
that is left out is compiled by the first test that needs it.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from sensor_frames import Roll, chip, in_memory

from nightglass.frame.record import Frame
from nightglass.scene.sky.starfield import Aberrations, Scene, lens_spots, render
from nightglass.sensor.measure import measure_sensor
from nightglass.sky.astrometry.camera import look_at, plain_camera
from nightglass.sky.astrometry.matching import Fit, Match
from nightglass.sky.astrometry.refine import Solution
from nightglass.sky.photometry.conditions import measure_night
from nightglass.sky.stars.find import find_stars
from nightglass.sky.zones.motion import measure_motion
from nightglass.spot.measure import measure_frame
from nightglass.verdict.view.kept import peaks_kept


def night() -> None:
    """A small frame of the night: its stars, its light, its motion; and the stars of floats."""
    camera = plain_camera(1300, 800, 1800.0)
    spots = lens_spots(camera, 6.0, 1.8, Aberrations(defocus_um=1.6), grid=(1, 1), size_px=31)
    scene = Scene(
        camera, look_at(300.0, 25.0, 30.0), spots, exposure_s=10.0, zero_counts_per_s=3e5,
        faintest_g=7.6, hot_pixels=50, land=0.1, satellites=0,
    )  # fmt: skip
    frame, _ = render(scene)
    nothing = np.empty(0, dtype=np.intp)
    fit = Fit(camera, scene.rotation, np.zeros(5), 0.0, 0.0, 0.0)
    match = Match(nothing, nothing, np.empty(0))
    solution = Solution(camera, scene.rotation, fit, match, 0.1, -100.0, True)
    found = find_stars(frame)
    measure_motion(frame, found, solution, scene.exposure_s)
    measure_night(frame, found, solution, scene.exposure_s)
    find_stars(replace(frame, samples=frame.samples.astype(np.float32)))


def star(samples: type[np.uint16] | type[np.float32]) -> None:
    """The spot of one star."""
    rows, columns = np.indices((200, 260))
    light = 6000 * np.exp(-((columns - 120.4) ** 2 + (rows - 90.7) ** 2) / 8)
    counts = (light + np.random.default_rng(2).normal(1000, 10, light.shape)).round()
    one = np.ones((2, 2))
    pattern = np.array([[0, 1], [1, 2]], dtype=np.uint8)
    measure_frame(Frame(counts.astype(samples), pattern, one * 512, one * 16383, "mosaic"))


def viewed() -> None:
    """A spot as the eye sees it along two trails."""
    spot, ends = np.ones((9, 9)), np.array([1.0, 2.0])
    peaks_kept(spot, 1.0, ends, ends)


def sensor() -> None:
    """A sensor from its frames in the dark and of an even light."""
    roll = Roll(chip()).bias().flats((0.6, 0.3, 0.15, 0.06))
    with pytest.MonkeyPatch.context() as patch:
        measure_sensor(in_memory(patch, roll.frames))


if __name__ == "__main__":
    for kind in (np.uint16, np.float32):
        star(kind)
    sensor()
    viewed()
    night()
