"""Frames that are hardly any: too small, blank, without numbers; and a square of floats redrawn."""

from __future__ import annotations

from types import SimpleNamespace

import numpy as np
import pytest
from astropy.io import fits
from PIL import Image

import nightglass.show.sky.frame_report as report_module
from nightglass.cli.main import run
from nightglass.frame.record import Frame
from nightglass.proof.redraw.square import square_under_sky
from nightglass.sky.stars.background import sky_level
from nightglass.sky.stars.find import find_stars

RGGB = ((0, 1), (1, 2))
SIX = ((1, 1, 0, 1, 1, 2), (1, 1, 2, 1, 1, 0), (2, 0, 1, 0, 2, 1),
       (1, 1, 2, 1, 1, 0), (1, 1, 0, 1, 1, 2), (0, 2, 1, 2, 0, 1))  # fmt: skip
GREY = ((1,),)


def frame(samples, pattern=GREY, clipping=65535.0):
    colours = np.array(pattern, dtype=np.uint8)
    black = np.zeros(colours.shape)
    return Frame(samples, colours, black, np.full(colours.shape, clipping), "picture", file="one")


def whole(shape, seed=1):
    return np.random.default_rng(seed).integers(500, 520, shape).astype(np.uint16)


@pytest.mark.parametrize("pattern", [GREY, RGGB, SIX])
@pytest.mark.parametrize("shape", [(1, 1), (2, 3), (10, 12), (63, 500), (3000, 20)])
def test_frames_under_a_tile_are_refused_with_the_least_size(shape, pattern):
    words = (
        rf"^one is {shape[1]} x {shape[0]} px; stars are looked for in frames of at least "
        r"64 x 64 px: a thumbnail\? Give the whole frame$"
    )
    with pytest.raises(ValueError, match=words):
        find_stars(frame(whole(shape), pattern))


@pytest.mark.parametrize("pattern", [GREY, RGGB, SIX])
@pytest.mark.parametrize("shape", [(64, 64), (65, 97), (96, 161)])
def test_the_smallest_frames_have_a_level_in_every_tile(shape, pattern):
    found = find_stars(frame(whole(shape), pattern))
    assert len(found.stars) == 0
    present = sorted(set(np.ravel(pattern)))
    assert found.sky.level[..., present] == pytest.approx(509.5, abs=1.5)


def test_a_blank_part_of_a_frame_of_floats_is_no_division_by_zero():
    rng = np.random.default_rng(3)
    samples = rng.normal(100, 5, (403, 602)).astype(np.float32)
    samples[:200] = 0
    found = find_stars(frame(samples))
    assert found.sky.noise[-1, :, 1] == pytest.approx(5.0, rel=0.1)
    assert np.all(found.sky.noise[..., 1] >= 0.49)
    inside = found.stars.y_px > 210
    assert np.count_nonzero(inside) == 0


def test_empty_frames_and_samples_that_are_no_numbers_are_refused():
    zeros = np.zeros((130, 202), dtype=np.float32)
    with pytest.raises(ValueError, match=r"^one is empty: its samples are all alike; export it"):
        sky_level(frame(zeros))
    zeros[5, 5] = np.nan
    with pytest.raises(ValueError, match=r"^one has samples that are no numbers \(NaN\); write"):
        sky_level(frame(zeros))


def test_one_thumbnail_and_one_blank_border_stop_no_other_frame(tmp_path, capsys):
    rng = np.random.default_rng(3)
    tiny, blank, last = tmp_path / "tiny.png", tmp_path / "border.fits", tmp_path / "last.png"
    Image.fromarray(rng.integers(5, 20, (10, 12)).astype(np.uint8)).save(tiny)
    counts = rng.normal(100, 5, (200, 302)).astype(np.float32)
    counts[:100] = 0
    fits.PrimaryHDU(counts).writeto(blank)
    Image.fromarray(rng.integers(5, 200, (100, 151)).astype(np.uint8)).save(last)
    assert run(["sky", str(tiny), str(blank), str(last)]) == 1
    told = capsys.readouterr()
    assert "12 x 10 px; stars are looked for in frames of at least 64 x 64 px" in told.err
    assert "border.fits" in told.out
    assert "last.png" in told.out


def test_what_nobody_thought_of_is_told_of_its_frame_alone(tmp_path, capsys, monkeypatch):
    def broken(frame, *_args, **_options):
        raise ZeroDivisionError("division by zero") if "a.png" in frame.file else ValueError("b")

    monkeypatch.setattr(report_module, "observe", broken)
    for name in ("a.png", "b.png"):
        Image.fromarray(whole((80, 90)).astype(np.uint8)).save(tmp_path / name)
    assert run(["sky", str(tmp_path / "a.png"), str(tmp_path / "b.png")]) == 1
    told = capsys.readouterr().err
    assert "a.png: its samples can't be worked on (ZeroDivisionError: division by zero)" in told
    assert "b.png: b" in told


def test_a_square_of_a_frame_from_0_to_1_is_redrawn_in_its_own_numbers():
    rng = np.random.default_rng(1)
    own = frame(rng.normal(0.01, 0.001, (200, 302)).astype(np.float32), clipping=1.0)
    sight = SimpleNamespace(frame=own, found=find_stars(own), e_per_count=None)
    square = square_under_sky(sight, np.zeros((80, 90)), (20, 100, 30, 120), rng)
    assert square.samples.dtype == np.float32
    assert float(np.mean(square.samples)) == pytest.approx(0.01, rel=0.02)
    assert float(np.std(square.samples)) == pytest.approx(0.001, rel=0.1)
