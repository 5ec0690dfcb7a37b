"""What would be measured falsely is refused: holes, floats, empty and disguised files; crops."""

from __future__ import annotations

import io
import os
import time

import imagecodecs
import numpy as np
import pytest
import tifffile
from PIL import Image
from real_files import real_file

from nightglass.frame.errors import FrameError
from nightglass.frame.open import open_frame
from nightglass.frame.source import printable


@pytest.fixture
def tiled(make_dng):
    """A DNG of 2 x 2 lossless tiles, its bytes and its first page's tags."""
    samples = np.random.default_rng(3).normal(1000, 20, (700, 900)).round().astype(np.uint16)
    path = make_dng(samples, black=500, compression="lossless jpeg")
    return path, bytearray(path.read_bytes())


def tag_of(path, code):
    with tifffile.TiffFile(path) as tiff:
        tag = tiff.pages.first.tags[code]
        return tag.valueoffset, tag.value


def refused(source) -> FrameError:
    with pytest.raises(FrameError) as caught:
        open_frame(source)
    assert "\n" not in str(caught.value)
    return caught.value


@pytest.mark.parametrize("code", [324, 325])
def test_tile_left_out_by_the_directory_is_refused(tiled, code):
    path, data = tiled
    place, values = tag_of(path, code)
    assert len(values) == 4
    data[place + 4 : place + 8] = bytes(4)
    error = refused(bytes(data))
    assert error.cause == "1 part of the picture without data"
    assert error.remedy == "copy the file again from the card"


def test_tiles_whose_data_were_lost_are_refused(tiled):
    """The decoder leaves them at 0 without an error: 500 counts below black."""
    path, data = tiled
    places, sizes = tag_of(path, 324)[1], tag_of(path, 325)[1]
    for k in (1, 3):
        data[places[k] : places[k] + sizes[k]] = bytes(sizes[k])
    assert refused(bytes(data)).cause == "2 parts of the picture without data"


def test_lost_strip_of_an_uncompressed_mosaic_is_refused(tmp_path, tiles, sky):
    tags = [
        (33421, "H", 2, (2, 2)),
        (33422, "B", 4, tiles["bayer"].tobytes()),
        (50706, "B", 4, bytes((1, 4, 0, 0))),
        (50708, "s", 0, "A body"),
        (50717, "I", 1, 16383),
    ]

    def written(samples, black):
        path = tmp_path / "strips.dng"
        black = (50714, "I", 1, black)
        tifffile.imwrite(
            path, samples, photometric=32803, rowsperstrip=60, metadata=None,
            extratags=[*tags, black],
        )  # fmt: skip
        return path

    np.testing.assert_array_equal(open_frame(written(sky, 500)).samples, sky)
    holed = sky.copy()
    holed[60:120] = 0
    assert refused(written(holed, 500)).cause == "1 part of the picture without data"
    # Black at 0: a dark strip may be dark.
    assert open_frame(written(holed, 0)).samples[60:120].max() == 0


def test_floating_point_dng_is_refused_in_words(tmp_path, tiles, sky):
    path = tmp_path / "float.dng"
    tags = [
        (33421, "H", 2, (2, 2)),
        (33422, "B", 4, tiles["bayer"].tobytes()),
        (50706, "B", 4, bytes((1, 4, 0, 0))),
        (50708, "s", 0, "A body"),
    ]
    light = (sky / 16383).astype(np.float32)
    tifffile.imwrite(path, light, photometric=32803, metadata=None, extratags=tags)
    error = refused(path)
    assert error.cause == "a DNG of floating-point samples, whose levels the decoder changes"
    assert error.remedy == "write it with whole numbers of 16 bits"


def test_mosaic_and_picture_of_zeros_hold_no_data(make_dng, tmp_path):
    nothing = np.zeros((64, 96), dtype=np.uint16)
    tifffile.imwrite(tmp_path / "grey.tif", nothing)
    planes = make_dng(np.zeros((64, 96, 3), dtype=np.uint16), name="planes.dng")
    for path in (make_dng(nothing), planes, tmp_path / "grey.tif"):
        assert refused(path).cause == "no picture data in it (every sample is 0)"


@pytest.mark.parametrize(("ending", "form"), [(".nef", "JPEG"), (".CR2", "JPEG"), (".dng", "PNG")])
def test_picture_in_a_raws_clothes_is_named(tmp_path, sky, ending, form):
    path = tmp_path / f"frame{ending}"
    Image.fromarray((sky >> 4).astype(np.uint8)).save(path, form)
    error = refused(path)
    assert error.cause == f"a {form} under the name of a raw file ({ending.lower()})"
    assert error.remedy == f"give the raw file itself, or rename it to .{form.lower()}"
    assert open_frame(path.rename(tmp_path / f"frame.{form}")).kind == "picture"
    assert open_frame(imagecodecs.png_encode(sky)).kind == "picture"


def crop_tags(origin, size):
    """Default crop as rationals (DNG 1.4, chapter 4): origin and size, width before height."""
    pairs = [[int(10 * v) for v in values] for values in (origin, size)]
    return [
        (code, "2I", 2, (pair[0], 10, pair[1], 10))
        for code, pair in zip((50719, 50720), pairs, strict=True)
    ]


def test_default_crop_is_read_and_said(make_dng, sky):
    frame = open_frame(make_dng(sky, extratags=crop_tags((10, 6), (396, 284))))
    assert frame.crop_px == (6, 10, 284, 396)
    assert frame.notes == (
        "default crop of the file: 396 x 284 px from (10, 6); the whole raw area of 420 x 300 px "
        "is used",
    )
    np.testing.assert_array_equal(frame.samples, sky)


def test_default_crop_counts_from_the_active_area(make_dng, patch_tag, sky):
    path = make_dng(sky, active_area=(10, 20, 290, 410))
    frame = open_frame(path)
    assert (frame.crop_px, frame.notes) == ((0, 0, 280, 390), ())
    place, _ = tag_of(path, 50720)
    data = bytearray(path.read_bytes())
    data[place : place + 8] = (300).to_bytes(4, "little") + (200).to_bytes(4, "little")
    assert open_frame(bytes(data)).crop_px == (0, 0, 200, 300)
    data[place : place + 4] = (3000).to_bytes(4, "little")
    odd = open_frame(bytes(data))
    assert odd.crop_px is None
    assert odd.notes == ("its default crop leaves the picture and is not used",)


def test_file_of_two_gigabytes_is_refused_by_its_header(tmp_path, make_dng, sky):
    """Sparse: nothing on the disk, 20 s and 4 GB when read."""
    for size, path in ((2 << 30, tmp_path / "empty.dng"), ((1 << 31) + 9, make_dng(sky))):
        path.touch()
        os.truncate(path, size)
        began = time.perf_counter()
        error = refused(path)
        assert time.perf_counter() - began < 0.5
        assert error.cause == f"a file of {size / 1e9:.1f} GB, larger than any single frame"
        assert error.remedy == "use single frames, not a composite"


def test_unknown_file_is_refused_before_it_is_read_whole(tmp_path):
    path = tmp_path / "sparse.cr3"
    path.touch()
    os.truncate(path, 900 << 20)
    began = time.perf_counter()
    assert refused(path).cause == "not a picture file that can be read"
    assert time.perf_counter() - began < 0.5


@pytest.mark.skipif(not hasattr(os, "mkfifo"), reason="no named pipes on this system")
def test_pipe_and_device_are_refused_and_never_read(tmp_path):
    os.mkfifo(tmp_path / "pipe.dng")
    assert refused(tmp_path / "pipe.dng").cause == "a named pipe, not a picture file"
    assert refused("/dev/zero").cause == "a device, not a picture file"


@pytest.mark.skipif(os.name != "posix", reason="names are text elsewhere")
def test_name_that_is_no_utf8_is_escaped_in_words_and_records(tmp_path, make_dng, sky):
    odd = os.fsdecode(os.path.join(os.fsencode(tmp_path), b"caf\xe9.dng"))
    assert printable(odd) == f"{tmp_path}/caf\\xe9.dng"
    assert refused(odd).file == f"{tmp_path}/caf\\xe9.dng"
    os.rename(make_dng(sky), odd)
    assert open_frame(odd).file.encode() == f"{tmp_path}/caf\\xe9.dng".encode()


def test_object_without_a_name_is_no_disguise(sky):
    buffer = io.BytesIO()
    Image.fromarray((sky >> 4).astype(np.uint8)).save(buffer, "JPEG")
    assert open_frame(buffer).kind == "picture"


def test_real_raw_files_open_or_are_refused_in_one_line():
    """Levels as told beside the files: below black 262, above white 16628; a lost compression."""
    lossy = open_frame(real_file("real-raw", "bayer-14bit-lossy.arw"))
    assert lossy.samples.shape == (3464, 5184)
    assert (int(lossy.samples.min()), int(lossy.samples.max())) == (262, 16628)
    assert (lossy.black.min(), lossy.metadata.f_number, lossy.metadata.iso) == (512, 6.3, 3200)
    plain = open_frame(real_file("real-raw", "bayer-no-metadata.dng"))
    assert plain.samples.shape == (1156, 1734)
    assert (plain.black.tolist(), plain.clipping.max()) == ([[2056] * 2] * 2, 15000)
    assert (plain.metadata.f_number, plain.metadata.exposure_true_s) == (None, None)
    assert "can't be decoded" in refused(real_file("real-raw", "undecodable.gpr")).cause


@pytest.mark.parametrize("name", ["bayer-14bit-lossy.arw", "bayer-no-metadata.dng"])
@pytest.mark.parametrize("share", [0.3, 0.97])
def test_real_raw_that_is_cut_off_is_refused(name, share):
    """The decoder fills up a maker's lossy raw without an error."""
    data = real_file("real-raw", name).read_bytes()
    error = refused(data[: int(share * len(data))])
    assert error.cause == "the picture data are damaged or cut off"
