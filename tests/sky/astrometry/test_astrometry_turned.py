"""Rendered frames as nights make them: turned, southern, half land, hot, full of lights."""

from __future__ import annotations

import math
from dataclasses import replace
from functools import lru_cache

import numpy as np
import pytest

import nightglass.sky.astrometry.solve as solve_module
from nightglass.frame.record import Frame
from nightglass.scene.sky.starfield import Aberrations, LensSpots, Scene, lens_spots, render
from nightglass.show.sky.words.unsolved import ADVICE
from nightglass.sky.astrometry.camera import Camera, look_at
from nightglass.sky.astrometry.refine import Solution
from nightglass.sky.astrometry.solve import Unsolved, solve
from nightglass.sky.stars.find import find_stars

# 24 mm on a sensor 36 mm wide; off the middle, so that turning it shows.
CAMERA = Camera(1500, 1000, 1000.0, 756.0, 493.0, -0.02, 0.0)


@lru_cache
def spots() -> LensSpots:
    return lens_spots(
        CAMERA, 24.0, 2.0, Aberrations(4.0, 0.0, 0.0, 1.0, 0.0), grid=(1, 1), size_px=15
    )


@lru_cache
def frame_of(ra: float, dec: float, **changes: float) -> tuple[Frame, np.ndarray]:
    scene = Scene(CAMERA, look_at(ra, dec, 25.0), spots(), faintest_g=8.0, hot_pixels=300)
    scene = replace(scene, **changes)
    return render(scene)[0], scene.rotation


def solved(frame: Frame):
    return solve(find_stars(frame).stars, frame.width_px, frame.height_px)


def turned(frame: Frame, quarters: int) -> Frame:
    samples = np.ascontiguousarray(np.rot90(frame.samples, quarters))
    return replace(frame, samples=samples, pattern=np.rot90(frame.pattern, quarters).copy())


def aim_off_degrees(answer: Solution, rotation) -> float:
    return math.degrees(math.acos(min(1.0, float(answer.rotation[2] @ rotation[2]))))


@pytest.mark.parametrize(
    ("dec", "changes"),
    [
        (-89.0, {}),
        (88.0, {"land": 0.3}),
        (-30.0, {"land": 0.5, "glow": 1.8}),
        (20.0, {"hot_pixels": 12000}),
        (10.0, {"satellites": 6, "aircraft": 3}),
    ],
    ids=["south pole", "north pole", "half land, tent, glow", "hot pixels", "satellites, aircraft"],
)
def test_nights_as_they_are_are_solved(dec, changes):
    frame, rotation = frame_of(130.0, dec, **changes)
    answer = solved(frame)
    assert isinstance(answer, Solution)
    assert aim_off_degrees(answer, rotation) < 0.3
    assert abs(answer.camera.focal_px - 1000.0) < 4 * answer.fit.errors[0] + 0.5


@pytest.mark.parametrize("quarters", [1, 2, 3], ids=["portrait", "upside down", "other portrait"])
def test_a_turned_frame_has_its_aim_and_a_turned_centre(quarters):
    frame, rotation = frame_of(130.0, 10.0)
    answer = solved(turned(frame, quarters))
    assert isinstance(answer, Solution)
    assert aim_off_degrees(answer, rotation) < 0.3
    # A place (x, y) turned by a quarter to the left stands at (y, width - 1 - x).
    x, y = {1: (493.0, 743.0), 2: (743.0, 506.0), 3: (506.0, 756.0)}[quarters]
    wide = 4 * answer.fit.errors + 1.0
    assert abs(answer.camera.centre_x_px - x) < wide[1]
    assert abs(answer.camera.centre_y_px - y) < wide[2]


def test_a_mirrored_frame_is_never_solved(monkeypatch):
    monkeypatch.setattr(solve_module, "SEARCH_SECONDS", 1.0)
    frame, _ = frame_of(130.0, 10.0)
    mirrored = replace(
        frame,
        samples=np.ascontiguousarray(frame.samples[:, ::-1]),
        pattern=frame.pattern[:, ::-1].copy(),
    )
    answer = solved(mirrored)
    assert isinstance(answer, Unsolved)
    assert "is not mirrored" in ADVICE[answer.advice]


def test_star_trails_of_an_hour_are_not_solved(monkeypatch):
    monkeypatch.setattr(solve_module, "SEARCH_SECONDS", 1.0)
    frame, _ = frame_of(130.0, 60.0, exposure_s=3600.0, zero_counts_per_s=2e4, faintest_g=6.0)
    assert isinstance(solved(frame), Unsolved)
