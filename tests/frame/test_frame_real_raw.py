"""Three real raw files: levels, margins, empty metadata and a refusal.

Expected figures: README.md beside the files, read from them with tools of general purpose.
"""

from __future__ import annotations

import json

import numpy as np
import pytest
from real_files import real_file

import nightglass.sky.astrometry.solve as solve_module
from nightglass.cli.main import run
from nightglass.frame.errors import FrameError
from nightglass.frame.open import open_frame
from nightglass.frame.window import window
from nightglass.sky.stars.find import find_stars
from nightglass.spot.measure import measure_frame

RGGB = [[0, 1], [1, 2]]


@pytest.fixture(scope="module")
def lossy():
    return open_frame(real_file("real-raw", "bayer-14bit-lossy.arw"))


def test_margins_are_cut_and_the_mosaic_starts_at_the_visible_corner(lossy):
    # Raw area 5216 x 3464.
    assert (lossy.width_px, lossy.height_px) == (5184, 3464)
    assert lossy.kind == "mosaic"
    assert lossy.pattern.tolist() == RGGB
    small = open_frame(real_file("real-raw", "bayer-no-metadata.dng"))
    # Raw area 1888 x 1182.
    assert (small.width_px, small.height_px) == (1734, 1156)
    assert small.pattern.tolist() == RGGB
    assert small.black.tolist() == [[2056.0] * 2] * 2
    assert small.clipping.tolist() == [[15000.0] * 2] * 2


def test_samples_below_black_stay_negative(lossy):
    assert lossy.black.tolist() == [[512.0] * 2] * 2
    assert lossy.samples.min() == 262
    row, column = np.unravel_index(np.argmin(lossy.samples), lossy.samples.shape)
    assert window(lossy, int(row), int(column), 1, 1).item() == 262 - 512
    # Black is the file's, not the darkest sample: nowhere is the sky's level taken as less.
    sky = find_stars(lossy).sky
    assert np.nanmin(sky.level) > -5
    assert np.nanmin(sky.noise) > 5
    assert not any("cut off" in note for note in lossy.notes)


def test_samples_above_white_are_clipped_and_nothing_more(lossy):
    assert lossy.samples.max() == 16628
    # The file's white is 16383; its own limit of linearity lies lower.
    assert lossy.clipping.max() <= 16383
    stars = find_stars(lossy).stars
    # A lamp's reflection: its brightest sample tells only that it is clipped.
    row, column = np.unravel_index(np.argmax(lossy.samples), lossy.samples.shape)
    over = stars.peak_share > 1
    assert np.count_nonzero(over) > 10
    assert stars.clipped[over].all()
    assert stars.peak_share.max() == pytest.approx((16628 - 512) / (lossy.clipping[0, 0] - 512))
    assert np.isfinite(stars.flux_counts).all()
    for spot in measure_frame(lossy, near=(float(column), float(row))).spots:
        assert spot.length_px is None
        assert spot.flags == ("crowded",)


def test_what_the_maker_wrote_is_read(lossy):
    told = lossy.metadata
    # 1/640 s is the mark of 2^(-28/3) s.
    assert told.exposure_marked_s == pytest.approx(1 / 640)
    assert told.exposure_true_s == pytest.approx(2 ** (-28 / 3), rel=1e-3)
    assert (told.f_number, told.iso, told.focal_mm) == (6.3, 3200, 129.0)


def test_fields_of_zero_are_not_recorded():
    """Exposure 0/1000000 s, f 0/10, ISO 0, 0/1000 mm, APEX 0/96, an empty date."""
    told = open_frame(real_file("real-raw", "bayer-no-metadata.dng")).metadata
    assert (told.exposure_marked_s, told.exposure_true_s) == (None, None)
    assert (told.f_number, told.iso, told.focal_mm) == (None, None, None)
    assert (told.taken_at, told.zone_known, told.lens) == (None, False, None)


def test_a_compression_that_the_decoder_lacks_is_one_clear_line():
    path = real_file("real-raw", "undecodable.gpr")
    with pytest.raises(FrameError) as refused:
        open_frame(path)
    text = str(refused.value)
    assert "the compression mode of this raw file can't be decoded" in text
    assert "uncompressed DNG" in text
    assert "\n" not in text


def test_one_refused_file_does_not_stop_the_others(capsys, monkeypatch):
    monkeypatch.setattr(solve_module, "SEARCH_SECONDS", 0.3)
    files = [real_file("real-raw", name) for name in ("undecodable.gpr", "bayer-no-metadata.dng")]
    assert run(["sky", "--json", *(str(file) for file in files)]) == 1
    told = json.loads(capsys.readouterr().out)
    assert [entry["file"] for entry in told["refused"]] == [str(files[0])]
    (frame,) = told["frames"]
    # A colour chart, no sky.
    assert not frame["solved"]
    assert frame["exposure_s"] is None
