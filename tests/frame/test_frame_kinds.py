"""Mosaic, demosaiced or picture, and the notes (limits R07, R12, R13, R15, R16, R24 to R26)."""

from __future__ import annotations

import hashlib
import io
import multiprocessing
import struct
import threading
import time

import imagecodecs
import numpy as np
import pytest
import tifffile
from astropy.io import fits
from PIL import Image

from nightglass.frame.errors import FrameError
from nightglass.frame.open import open_frame

NO_MOSAIC = "not a camera raw: no mosaic and no black level: linear only if nobody processed it"
NOT_LINEAR = (
    "not a camera raw: a processed picture, not linear: sizes are not comparable with raw ones"
)


@pytest.fixture
def rgb(sky):
    return np.dstack([sky, sky // 2, sky // 3])


@pytest.mark.parametrize("compression", ["none", "lossless jpeg"])
def test_linear_raw_has_three_planes_never_four(make_dng, compression):
    """3000/3000/5000 in three planes (limit R07)."""
    light = np.random.default_rng(6).normal((3000, 3000, 5000), 20, (256, 384, 3))
    samples = light.round().astype(np.uint16)
    frame = open_frame(make_dng(samples, black=(500, 510, 520), compression=compression))
    assert frame.kind == "demosaiced"
    assert frame.colours == ("red", "green", "blue")
    assert frame.notes[0].startswith("already demosaiced")
    assert frame.black.tolist() == [[500, 510, 520]]
    assert frame.clipping.tolist() == [[16383] * 3]
    np.testing.assert_array_equal(frame.samples, samples)
    assert frame.samples.flags.owndata


@pytest.mark.parametrize("name", ["plain.tif", "renamed.dng", "renamed.nef"])
def test_grey_sixteen_bit_tiff_is_never_a_mosaic(tmp_path, sky, name):
    """LibRaw alone takes it for RGGB with black 0 (limit R16)."""
    path = tmp_path / name
    tifffile.imwrite(path, sky)
    frame = open_frame(path)
    assert (frame.kind, frame.colours) == ("picture", ("grey",))
    assert frame.notes == (NO_MOSAIC,)
    np.testing.assert_array_equal(frame.samples, sky)


def test_processed_tiff_that_kept_the_cameras_name_is_a_picture(tmp_path, rgb):
    path = tmp_path / "exported.tif"
    tifffile.imwrite(
        path,
        rgb,
        photometric="rgb",
        extratags=[(271, "s", 0, "Maker"), (272, "s", 0, "Model")],
    )
    frame = open_frame(path)
    assert (frame.kind, frame.metadata.body) == ("picture", "Maker Model")
    np.testing.assert_array_equal(frame.samples, rgb)


@pytest.mark.parametrize("bits", [8, 16])
@pytest.mark.parametrize("colours", ["grey", "rgb", "planes", "alpha"])
def test_tiff_of_any_arrangement(tmp_path, sky, rgb, bits, colours):
    kind = np.uint8 if bits == 8 else np.uint16
    grey, three = (sky >> (16 - bits)).astype(kind), (rgb >> (16 - bits)).astype(kind)
    path = tmp_path / "picture.tif"
    if colours == "grey":
        tifffile.imwrite(path, grey)
    elif colours == "rgb":
        tifffile.imwrite(path, three, photometric="rgb", compression="zlib")
    elif colours == "planes":
        stacked = np.moveaxis(three, -1, 0)
        tifffile.imwrite(path, stacked, photometric="rgb", planarconfig="separate")
    else:
        tifffile.imwrite(
            path,
            np.dstack([three, grey]),
            photometric="rgb",
            extrasamples=["unassalpha"],
        )
    frame = open_frame(path)
    np.testing.assert_array_equal(frame.samples, grey if colours == "grey" else three)
    assert frame.samples.dtype == np.uint16
    assert frame.samples.flags.owndata
    assert frame.clipping.max() <= 2**bits - 1


def test_png_keeps_sixteen_bits_and_says_it_is_not_linear(sky, rgb):
    for samples in (sky, rgb):
        frame = open_frame(imagecodecs.png_encode(samples))
        assert frame.notes == (NOT_LINEAR,)
        np.testing.assert_array_equal(frame.samples, samples)


def test_jpeg_and_palette_pictures_open(rgb):
    image = Image.fromarray((rgb // 8).astype(np.uint8))
    for form, mode in (("JPEG", "RGB"), ("JPEG", "L"), ("JPEG", "CMYK"), ("PNG", "P")):
        buffer = io.BytesIO()
        image.convert(mode).save(buffer, form)
        frame = open_frame(buffer)
        assert frame.kind == "picture"
        assert frame.samples.shape[:2] == rgb.shape[:2]
        assert frame.colours == (("grey",) if mode == "L" else ("red", "green", "blue"))


def test_fits_opens_as_float_with_time_and_exposure(tmp_path, sky, rgb):
    header = fits.Header({"EXPTIME": 47.0, "DATE-OBS": "2026-03-04T22:01:02.5", "BAYERPAT": "RGGB"})
    path = tmp_path / "sky.fits"
    fits.writeto(path, sky, header)
    frame = open_frame(path)
    assert frame.samples.dtype == np.float32
    np.testing.assert_array_equal(frame.samples, sky)
    assert frame.metadata.exposure_true_s == 47
    assert frame.metadata.zone_known
    assert str(frame.metadata.taken_at) == "2026-03-04 22:01:02.500000+00:00"
    assert "not a camera raw: its header names a mosaic, which is not used: give the raw file" in (
        frame.notes
    )
    buffer = io.BytesIO()
    fits.PrimaryHDU(np.moveaxis(rgb, -1, 0).astype(np.float32)).writeto(buffer)
    np.testing.assert_array_equal(open_frame(buffer).samples, rgb)
    assert not buffer.closed


def test_fits_without_an_image_or_with_blank_pixels_is_refused(sky):
    empty, blank = io.BytesIO(), io.BytesIO()
    fits.PrimaryHDU().writeto(empty)
    fits.PrimaryHDU(np.where(sky > 1010, np.nan, sky).astype(np.float32)).writeto(blank)
    with pytest.raises(FrameError, match="no image in the FITS file; export it again"):
        open_frame(empty)
    with pytest.raises(FrameError, match=r"values that are no numbers \(NaN\); write it without"):
        open_frame(blank)


@pytest.mark.parametrize("share", [0.2, 0.9])
def test_cut_off_fits_is_refused(sky, share, recwarn):
    buffer = io.BytesIO()
    fits.PrimaryHDU(sky).writeto(buffer)
    data = buffer.getvalue()
    with pytest.raises(FrameError, match="damaged or of an unknown kind"):
        open_frame(data[: int(share * len(data))])
    assert not recwarn.list


def test_picture_of_many_planes_is_refused(tmp_path, sky):
    path = tmp_path / "five.tif"
    tifffile.imwrite(path, np.dstack([sky] * 5), photometric="minisblack", planarconfig="contig")
    with pytest.raises(FrameError, match="a picture of 5 planes; give one grey picture"):
        open_frame(path)


def test_monochrome_raw_is_one_grey_colour(make_dng, sky):
    """One sample per place and LinearRaw: no colours to separate."""
    path = make_dng(sky)
    with tifffile.TiffFile(path) as tiff:
        place = tiff.pages.first.tags[262].valueoffset
    with path.open("r+b") as file:
        file.seek(place)
        file.write((34892).to_bytes(2, "little"))
    frame = open_frame(path)
    assert frame.colours == ("grey",)
    assert "a sensor without a colour mosaic" in frame.notes
    np.testing.assert_array_equal(frame.samples, sky)


def test_linearisation_table_is_noted(make_dng):
    """A table of x4 turns 1000 into 4000 inside the decoder (limit R12)."""
    samples = np.full((60, 84), 1000, dtype=np.uint16)
    table = (50712, "H", 4096, tuple(range(0, 16384, 4)))
    frame = open_frame(make_dng(samples, extratags=[table]))
    assert frame.notes == ("linearisation table applied by the decoder",)
    assert np.all(frame.samples == 4000)


def test_noise_cut_off_at_black_is_noted(make_dng):
    noise = np.random.default_rng(4).normal(0, 5, (120, 168)).clip(0).round().astype(np.uint16)
    frame = open_frame(make_dng(noise, black=0))
    assert frame.notes == ("black was subtracted in the camera and the noise below it cut off",)
    assert open_frame(make_dng(noise + 30, black=0)).notes == ()


def test_gain_map_is_noted_and_other_opcodes_are_not(make_dng, sky):
    def opcodes(*numbers):
        parts = [struct.pack(">IIII", n, 0x01030000, 0, 4) + b"\0" * 4 for n in numbers]
        data = struct.pack(">I", len(numbers)) + b"".join(parts)
        return [(51009, "B", len(data), data)]

    with_map = open_frame(make_dng(sky, extratags=opcodes(4, 9)))
    note = "gain map present, not applied: light falls off more than in the picture"
    assert with_map.notes == (note,)
    np.testing.assert_array_equal(with_map.samples, sky)
    assert open_frame(make_dng(sky, extratags=opcodes(4, 5))).notes == ()
    broken = [(51009, "B", 12, b"\xff" * 12)]
    assert open_frame(make_dng(sky, extratags=broken)).notes == ()


def test_black_that_slopes_is_noted(make_dng, sky):
    slope = [(50715, "2i", sky.shape[1], (1, 2) * sky.shape[1])]
    assert "black changes by row or column" in open_frame(make_dng(sky, extratags=slope)).notes[0]


def test_two_raw_frames_in_one_file_say_which_is_used(tmp_path, tiles, sky):
    """Two full-size mosaics in one file (limit R15)."""
    path = tmp_path / "twins.dng"
    tags = [
        (33421, "H", 2, (2, 2)),
        (33422, "B", 4, tiles["bayer"].tobytes()),
        (50706, "B", 4, bytes((1, 4, 0, 0))),
        (50708, "s", 0, "Twin body"),
        (50717, "I", 1, 16383),
    ]
    with tifffile.TiffWriter(path) as writer:
        for samples in (sky, sky + 5000):
            writer.write(
                samples, photometric=32803, extratags=tags, metadata=None, rowsperstrip=300
            )
    frame = open_frame(path)
    assert frame.notes == ("the file holds 2 raw frames: the first one is used",)
    np.testing.assert_array_equal(frame.samples, sky)


def test_samples_are_the_files_own_numbers(make_dng):
    """2000 and 4000 over black 1000: no white balance, no scaling to the maximum (limit R26)."""
    for level in (2000, 4000):
        samples = np.full((60, 84), level, dtype=np.uint16)
        assert np.all(open_frame(make_dng(samples, black=1000)).samples == level)


def test_threads_read_the_same_samples_and_let_others_run(make_dng, sky):
    """8 threads, 4 files, while another thread keeps ticking (limit R25)."""
    paths = [make_dng(sky + k, name=f"{k}.dng", compression="lossless jpeg") for k in range(4)]
    expected = [hashlib.sha1((sky + k).tobytes()).digest() for k in range(4)]
    wrong, ticks, done = [], [], threading.Event()

    def read(start):
        for k in range(8):
            which = (start + k) % 4
            found = hashlib.sha1(open_frame(paths[which]).samples.tobytes()).digest()
            if found != expected[which]:
                wrong.append(which)

    def tick():
        while not done.wait(0.002):
            ticks.append(time.perf_counter())

    heart = threading.Thread(target=tick)
    readers = [threading.Thread(target=read, args=(k,)) for k in range(8)]
    heart.start()
    for thread in readers:
        thread.start()
    for thread in readers:
        thread.join()
    done.set()
    heart.join()
    assert not wrong
    assert len(ticks) > 5


def _sum_of(path):
    return int(open_frame(path).samples.sum(dtype=np.int64))


@pytest.mark.parametrize("method", ["fork", "spawn"])
def test_children_read_after_the_parent_did(make_dng, sky, method):
    """Only untouched samples are read: no thread pool of the decoder to hang on (limit R24)."""
    if method not in multiprocessing.get_all_start_methods():
        pytest.skip(f"no {method} on this system")
    path = make_dng(sky)
    open_frame(path)
    with multiprocessing.get_context(method).Pool(1) as pool:
        found = pool.map_async(_sum_of, [path]).get(timeout=30)
    assert found == [int(sky.sum(dtype=np.int64))]
