"""Frames that have no answer: each says why and what would help, none is solved, none fails."""

from __future__ import annotations

import re

import numpy as np
import pytest
from PIL import Image

import nightglass.sky.astrometry.solve as solve_module
from nightglass.cli.main import run
from nightglass.frame.open import open_frame
from nightglass.frame.record import Frame
from nightglass.show.sky.words.unsolved import frame_note_words
from nightglass.sky.astrometry.codes import Advice
from nightglass.sky.astrometry.solve import Unsolved
from nightglass.sky.developed import DevelopedCode
from nightglass.sky.observe import observe

HEIGHT, WIDTH = 400, 602
Y, X = np.mgrid[:HEIGHT, :WIDTH].astype(np.float64)


def places(count, seed=4):
    rng = np.random.default_rng(seed)
    return zip(rng.uniform(0, WIDTH, count), rng.uniform(0, HEIGHT, count), strict=True)


def clouds():
    return 900 + 300 * np.sin(X / 90) * np.cos(Y / 70)


def moon():
    return np.where(
        np.hypot(X - 300, Y - 180) < 45, 60000.0, 6000 / (1 + np.hypot(X - 300, Y - 180))
    )


def discs():
    return sum(900.0 * (np.hypot(X - x, Y - y) < 14) for x, y in places(25))


def trails():
    light = np.zeros((HEIGHT, WIDTH))
    # An hour about a pole to the upper left: arcs of 15 degrees.
    for x, y in places(30):
        radius, start = np.hypot(x + 50, y + 50), np.arctan2(y + 50, x + 50)
        for angle in start + np.radians(np.linspace(0, 15, 400)):
            row, column = int(radius * np.sin(angle) - 50), int(radius * np.cos(angle) - 50)
            if 0 <= row < HEIGHT and 0 <= column < WIDTH:
                light[row, column] = 800.0
    return light


def frame(light, seed=1):
    rng = np.random.default_rng(seed)
    counts = 512 + rng.poisson(np.maximum(100 + light, 0)) + rng.normal(0, 3, light.shape)
    return Frame(
        samples=np.clip(counts, 0, 15000).astype(np.uint16),
        pattern=np.array([[0, 1], [1, 2]], dtype=np.uint8),
        black=np.full((2, 2), 512.0),
        clipping=np.full((2, 2), 15000.0),
        kind="mosaic",
    )


@pytest.mark.parametrize(
    ("light", "advice", "hint"),
    [
        (clouds, Advice.MORE_LIGHT, "points of light stand out clearly: cloud, haze"),
        (moon, None, "% of the frame is clipped: the moon"),
        (discs, Advice.ANOTHER_FRAME, "discs about 2[6-9] px wide: the lens is far out of focus"),
        (trails, Advice.ANOTHER_FRAME, "most points are lines, 4[0-9] px and longer: star trails"),
    ],
)
def test_a_frame_without_an_answer_says_so(light, advice, hint, monkeypatch):
    monkeypatch.setattr(solve_module, "SEARCH_SECONDS", 0.5)
    seen = observe(frame(light()))
    assert isinstance(seen.solution, Unsolved)
    assert advice is None or seen.solution.advice is advice
    assert (seen.motion, seen.night) == (None, None)
    assert re.search(hint, " / ".join(map(frame_note_words, seen.notes)))


def test_a_jpeg_without_stars_says_so_and_not_that_it_is_a_jpeg(tmp_path, capsys, monkeypatch):
    monkeypatch.setattr(solve_module, "SEARCH_SECONDS", 0.3)
    path = tmp_path / "night é.jpg"
    noise = np.random.default_rng(3).normal(20, 3, (240, 360, 3)).clip(0, 255)
    Image.fromarray(noise.astype(np.uint8)).save(path)
    seen = observe(open_frame(path))
    assert isinstance(seen.solution, Unsolved)
    assert seen.developed == tuple(DevelopedCode)
    assert run(["sky", str(path)]) == 1
    assert "not solved" in capsys.readouterr().out
