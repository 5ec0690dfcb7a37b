"""The club's evening: the plan, honest metadata, and nothing of the truth where measuring reads."""

from __future__ import annotations

import dataclasses
from collections import Counter
from pathlib import Path

import numpy as np
import pytest
import tifffile

from nightglass.gear.bag import parse_bench
from nightglass.scene.club import BLACK, BODY, CLIPPING, CLUB, HERON, WREN
from nightglass.scene.clubfile import bench_toml
from nightglass.scene.plan import REPEATS, plan
from nightglass.scene.shoot import render, star
from nightglass.scene.stage import is_whole, write_frame
from nightglass.scene.star import fine_spot
from nightglass.scene.truth import truth

CENTRE_PX = ((BODY.width_px - 1) / 2, (BODY.height_px - 1) / 2)
LIMIT_PX = 0.25 / 100 * BODY.picture_height_px


def true_length_px(lens: object, focal_mm: float, f_number: float, place: str) -> float:
    shot = next(
        s
        for s in plan()
        if (s.club, s.focal_mm, s.f_number, s.place) == (lens, focal_mm, f_number, place)
    )
    focused = dataclasses.replace(shot, focus_error_um=0.0)
    return truth(fine_spot(star(focused), BODY.pitch_um, (1,)), 1, CENTRE_PX).length_px


def test_the_plan_keeps_to_what_was_stated() -> None:
    shots = plan()
    assert len(shots) <= 90
    assert len({shot.file_name for shot in shots}) == len(shots)
    cells = Counter((s.club.lens.name, s.focal_mm, s.f_number, s.place) for s in shots)
    assert set(cells.values()) == {REPEATS}
    for shot in shots:
        lens = shot.club.lens
        assert lens.focal_mm_min <= shot.focal_mm <= lens.focal_mm_max
        assert shot.f_number >= shot.club.f_number_wide_open(shot.focal_mm)
    assert {c.lens.name for c in CLUB} == {s.club.lens.name for s in shots}


def test_repeats_differ_in_focus_and_in_place() -> None:
    shots = plan()
    assert len({shot.focus_error_um for shot in shots}) == len(shots)
    fractions = np.array([shot.x_px % 1 for shot in shots])
    assert fractions.std() == pytest.approx(1 / np.sqrt(12), abs=0.05)


def test_one_lens_is_over_the_limit_wide_open_and_not_stopped_down() -> None:
    corner = "corner bottom right"
    assert true_length_px(WREN, 12, 2.0, corner) > 2 * LIMIT_PX
    assert true_length_px(WREN, 12, 2.8, corner) > LIMIT_PX
    assert 4.5 < true_length_px(WREN, 12, 4.0, corner) < LIMIT_PX


def test_one_copy_is_decentred() -> None:
    worse = true_length_px(HERON, 20, 2.5, "corner bottom right")
    assert worse > 2 * true_length_px(HERON, 20, 2.5, "corner top left")


@pytest.mark.parametrize("number", [1, 20, 35, 57])
def test_frames_are_exposed_as_a_careful_person_would(number: int) -> None:
    shot = plan()[number - 1]
    counts, step = render(shot)
    assert counts.shape == (2592, 3872)
    x, y = round(shot.x_px), round(shot.y_px)
    peak = counts[y - 12 : y + 13, x - 12 : x + 13].max()
    assert 0.38 <= (int(peak) - BLACK) / (CLIPPING - BLACK) <= 0.72
    assert step.true_s >= 1 / 100
    # Black level of the dark and read noise of 14 e at 9.6 e per count.
    dark = counts[600:700, 2000:2100].astype(float)
    assert np.median(dark) == pytest.approx(BLACK, abs=1.5)
    assert 1.3 < 1.4826 * np.median(np.abs(dark - np.median(dark))) < 1.6


def test_bench_toml_reads_back_and_tells_nothing_of_the_truth() -> None:
    text = bench_toml()
    bench = parse_bench(text)
    assert bench.body.pitch_um == BODY.pitch_um
    assert [lens.name for lens in bench.lenses] == [c.lens.name for c in CLUB]
    assert {place.name for place in bench.places} == {shot.place for shot in plan()}
    for word in ("coma", "um_", "decent", "truth", "blur_px", "over the limit", "bad"):
        assert word not in text.lower()


def test_a_frame_is_written_whole_with_what_a_camera_records(tmp_path: Path) -> None:
    frames = tmp_path / "frames"
    shot = plan()[40]
    assert not is_whole(frames / shot.file_name)
    write_frame(shot, tmp_path)
    path = frames / shot.file_name
    assert [p.name for p in frames.iterdir()] == [shot.file_name]
    assert sorted(p.name for p in tmp_path.iterdir()) == ["frames"]
    assert is_whole(path)
    assert 2e6 < path.stat().st_size < 600e6 / 90
    with tifffile.TiffFile(path) as tiff:
        exif = tiff.pages.first.tags["ExifTag"].value
    assert exif["LensModel"] == shot.club.lens.name
    assert exif["ISOSpeedRatings"] == 100
    assert exif["FNumber"][0] / exif["FNumber"][1] == shot.f_number
    assert exif["OffsetTimeOriginal"] == "+01:00"
    first = path.read_bytes()
    path.write_bytes(first[: len(first) // 2])
    assert not is_whole(path)
    write_frame(shot, tmp_path)
    assert path.read_bytes() == first
