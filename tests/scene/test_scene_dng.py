"""DNG files that read back as written (limit R32), with the Exif of a camera."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, datetime, timedelta, timezone

import numpy as np
import pytest
import rawpy
import tifffile

from nightglass.frame.errors import FrameError
from nightglass.frame.open import open_frame
from nightglass.frame.record import Metadata
from nightglass.scene.dng import write_dng

RGGB = [[0, 1], [1, 2]]
WEST = timezone(timedelta(hours=-3, minutes=-30))
FULL = Metadata(
    exposure_marked_s=30.0,
    exposure_true_s=32.0,
    f_number=2.8,
    focal_mm=12.5,
    iso=1600,
    taken_at=datetime(
        2026, 3, 4, 22, 1, 2, 50000, tzinfo=timezone(timedelta(hours=-3, minutes=-30))
    ),
    zone_known=True,
    body="Loan body Ü",
    body_serial="B 0123",
    lens="Wren 12 mm f/2",
    lens_serial="W-7",
    firmware="1.02",
    exposure_mode="manual",
)


def noise(shape):
    return np.random.default_rng(8).normal(900, 30, shape).round().astype(np.uint16)


@pytest.mark.parametrize("shape", [(300, 420), (513, 1030), (600, 512), (40, 1700), (300, 420, 3)])
@pytest.mark.parametrize("compression", ["none", "lossless jpeg"])
def test_samples_come_back_identical(tmp_path, shape, compression):
    samples = noise(shape)
    path = tmp_path / "frame.dng"
    pattern = RGGB if samples.ndim == 2 else None
    write_dng(path, samples, pattern=pattern, white_level=16383, compression=compression)
    np.testing.assert_array_equal(open_frame(path).samples, samples)


def test_metadata_come_back_as_written(tmp_path):
    path = tmp_path / "frame.dng"
    write_dng(path, noise((60, 84)), pattern=RGGB, white_level=16383, metadata=FULL)
    assert open_frame(path).metadata == FULL


@pytest.mark.parametrize(
    ("seconds", "pair"), [(30, (30, 1)), (2.5, (5, 2)), (1 / 60, (1, 60)), (0.3, (3, 10))]
)
def test_exposure_is_written_as_a_camera_writes_it(tmp_path, seconds, pair):
    path = tmp_path / "frame.dng"
    metadata = Metadata(exposure_marked_s=seconds)
    write_dng(path, noise((60, 84)), pattern=RGGB, white_level=16383, metadata=metadata)
    with tifffile.TiffFile(path) as tiff:
        assert tiff.pages.first.tags[34665].value["ExposureTime"] == pair


def test_time_without_zone_and_in_utc(tmp_path):
    path = tmp_path / "frame.dng"
    for taken, known in (
        (datetime(2026, 1, 2, 3, 4, 5), False),
        (datetime(2026, 1, 2, tzinfo=UTC), True),
    ):
        metadata = Metadata(taken_at=taken, zone_known=known)
        write_dng(path, noise((60, 84)), pattern=RGGB, white_level=16383, metadata=metadata)
        found = open_frame(path).metadata
        assert (found.taken_at, found.zone_known) == (taken, known)
        assert (found.taken_at.tzinfo is not None) == known


def test_no_metadata_is_not_recorded(tmp_path):
    path = tmp_path / "frame.dng"
    write_dng(path, noise((60, 84)), pattern=RGGB, white_level=16383)
    assert open_frame(path).metadata == Metadata(body="Unnamed body")


def test_a_frame_of_ten_megapixels_is_small(tmp_path):
    """A dark 10 Mpx frame of the demo's size: under 7 MB, so that 90 frames fit in 600 MB."""
    samples = np.random.default_rng(1).normal(600, 4, (2592, 3872)).round().astype(np.uint16)
    path = tmp_path / "frame.dng"
    write_dng(path, samples, pattern=RGGB, white_level=4095, verify=False)
    assert path.stat().st_size < 6.6e6


@pytest.mark.parametrize("layout", [{"rowsperstrip": 64}, {"tile": (512, 512)}])
def test_layout_that_the_decoder_misreads_is_refused_on_reading(tmp_path, layout):
    """Strips of lossless JPEG, or one oversized tile, decode to nonsense without an error."""
    samples = noise((300, 420))
    path = tmp_path / "frame.dng"
    tags = [
        (33421, "H", 2, (2, 2)),
        (33422, "B", 4, bytes((0, 1, 1, 2))),
        (50706, "B", 4, bytes((1, 4, 0, 0))),
        (50708, "s", 0, "Odd body"),
    ]
    tifffile.imwrite(
        path,
        samples,
        photometric=32803,
        metadata=None,
        extratags=tags,
        compression="jpeg",
        compressionargs={"lossless": True, "bitspersample": 16},
        **layout,
    )
    with rawpy.imread(str(path)) as raw:
        assert (raw.raw_image != samples).mean() > 0.5
    with pytest.raises(FrameError, match="which the decoder misreads; write it with tiles that"):
        open_frame(path)


def test_file_that_reads_back_differently_is_removed(tmp_path, monkeypatch):
    path = tmp_path / "frame.dng"
    monkeypatch.setattr("nightglass.scene.dng.np.array_equal", lambda *_: False)
    with pytest.raises(RuntimeError, match="read back differently from what was written; removed"):
        write_dng(path, noise((60, 84)), pattern=RGGB, white_level=16383)
    assert not path.exists()


@pytest.mark.parametrize(
    ("change", "text"),
    [
        ({"samples": noise((60, 84)).astype(float)}, r"float64 \(60, 84\): allowed is uint16"),
        ({"samples": noise((20, 84))}, "20 x 84 px: the raw decoder takes 32 px a side or more"),
        ({"white_level": 70000}, "white_level 70000: allowed is 1 to 65535"),
        ({"black": 17000}, "black 17000 to 17000: allowed is 0 to white_level"),
        ({"pattern": None}, "a mosaic needs a 2x2 or 6x6 tile"),
        ({"pattern": [[0, 1], [1, 3]]}, "a mosaic needs a 2x2 or 6x6 tile"),
        ({"samples": noise((60, 84, 3))}, "three planes: .* and pattern None"),
        ({"compression": "zip"}, "compression 'zip': allowed are"),
        ({"active_area": (0, 0, 61, 84)}, r"active_area .* must lie inside \(60, 84\)"),
    ],
)
def test_what_a_dng_cannot_hold_is_refused(tmp_path, change, text):
    settings = {"samples": noise((60, 84)), "pattern": RGGB, "white_level": 16383, **change}
    with pytest.raises(ValueError, match=text):
        write_dng(tmp_path / "frame.dng", settings.pop("samples"), **settings)
    assert not list(tmp_path.iterdir())


def test_writing_leaves_the_samples_unchanged(tmp_path):
    samples = noise((60, 84))
    before = samples.copy()
    metadata = replace(FULL, iso=102400)
    path = tmp_path / "frame.dng"
    write_dng(path, samples, pattern=RGGB, white_level=16383, metadata=metadata)
    np.testing.assert_array_equal(samples, before)
    assert open_frame(path).metadata.iso == 102400
