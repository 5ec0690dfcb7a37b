"""FITS: levels by type and header, packed files, files of several images (FITS standard 4.0)."""

from __future__ import annotations

import bz2
import gzip
import io

import numpy as np
import pytest
from astropy.io import fits
from real_files import real_file

from nightglass.frame.errors import FrameError
from nightglass.frame.open import open_frame
from nightglass.spot.measure import measure_frame

NO_LEVEL = "not a camera raw: its clipping level is not known: neither type nor header tells"


@pytest.fixture
def star(sky):
    """A spot of 5000 counts over a sky of 1000 +- 20: nothing is clipped."""
    y, x = np.mgrid[:300, :420]
    light = 5000 * np.exp(-((x - 200.3) ** 2 + (y - 140.6) ** 2) / (2 * 2.5**2))
    return (sky + light).round().astype(np.uint16)


def packed(samples, header=None, *more) -> bytes:
    buffer = io.BytesIO()
    units = [fits.PrimaryHDU(samples, fits.Header(header or {}))]
    fits.HDUList([*units, *more]).writeto(buffer)
    return buffer.getvalue()


@pytest.mark.parametrize(
    ("kind", "header", "ceiling"),
    [
        (np.uint8, {}, 255),
        (np.int16, {}, 32767),
        (np.uint16, {}, 65535),
        (np.uint16, {"SATURATE": 16383.0}, 16383),
        (np.uint16, {"SATURATE": 99999.0}, 65535),
        (np.float32, {"SATURATE": 60000}, 60000),
        (np.float32, {"DATAMAX": 6000.0}, np.inf),
        (np.float32, {}, np.inf),
        (np.float64, {}, np.inf),
        (np.int32, {}, np.inf),
    ],
)
def test_levels_come_from_type_and_header(star, kind, header, ceiling):
    samples = (star / 40 if kind == np.uint8 else star).astype(kind)
    frame = open_frame(packed(samples, header))
    np.testing.assert_array_equal(frame.clipping, ceiling)
    assert frame.clipping_from == ("file" if np.isfinite(ceiling) else "unknown")
    assert (NO_LEVEL in frame.notes) == np.isinf(ceiling)


def test_scaled_integers_have_a_scaled_ceiling(star):
    unit = fits.PrimaryHDU(star.astype(np.float32))
    unit.scale("int16", bscale=0.25, bzero=4000)
    buffer = io.BytesIO()
    unit.writeto(buffer)
    frame = open_frame(buffer)
    assert frame.clipping[0, 0] == 4000 + 0.25 * 32767
    np.testing.assert_allclose(frame.samples, star, atol=0.2)


@pytest.mark.parametrize(("kind", "full"), [(np.uint16, 65535), (np.float32, None)])
def test_a_clean_star_is_not_clipped(star, kind, full):
    """6000 of 65535 counts are 9 %; of floats nobody knows."""
    spot = measure_frame(open_frame(packed(star.astype(kind)))).spots[0]
    assert "clipped" not in spot.flags
    assert spot.length_px is not None
    assert spot.peak_share == (None if full is None else pytest.approx(star.max() / full))


def test_a_plateau_in_floats_is_still_seen(star):
    burnt = np.minimum(star, 1800).astype(np.float32)
    frame = open_frame(packed(burnt))
    assert (frame.clipping_from, frame.clipping[0, 0]) == ("data", 1800)
    assert "clipped" in measure_frame(frame).spots[0].flags


def test_dark_floats_of_few_counts_have_no_ceiling():
    counts = np.random.default_rng(8).poisson(1.5, (200, 300)).astype(np.float32)
    assert open_frame(packed(counts)).clipping_from == "unknown"


@pytest.mark.parametrize("pack", [gzip.compress, bz2.compress])
def test_packed_fits_is_read(star, pack, tmp_path):
    path = tmp_path / "sky.fits.packed"
    data = packed(star, {"EXPTIME": 12.5})
    path.write_bytes(pack(data))
    frame = open_frame(path)
    np.testing.assert_array_equal(frame.samples, star)
    assert frame.metadata.exposure_true_s == 12.5
    assert frame.kind == "picture"
    # The file on the disk is what is known by its content, not what came out of it.
    assert frame.content_hash != open_frame(data).content_hash


@pytest.mark.parametrize(("pack", "name"), [(gzip.compress, "gzip"), (bz2.compress, "bzip2")])
def test_packed_files_of_another_kind_or_cut_off_are_refused(star, pack, name):
    with pytest.raises(FrameError, match=f"packed with {name} that holds no FITS; unpack it first"):
        open_frame(pack(b"II*\0" + bytes(5000)))
    data = pack(packed(star))
    with pytest.raises(FrameError, match="the packed file is damaged"):
        open_frame(data[: len(data) // 2])
    with pytest.raises(FrameError, match=r"the packed file is damaged|holds no FITS"):
        open_frame(data[:8] + bytes(400))


def test_a_packed_bomb_ends_at_the_largest_frame(monkeypatch):
    monkeypatch.setattr("nightglass.frame.fits.LARGEST_BYTES", 3 << 20)
    bomb = b"SIMPLE  =" + bytes(64 << 20)
    for pack in (gzip.compress, bz2.compress):
        with pytest.raises(FrameError, match="larger than any single frame"):
            open_frame(pack(bomb))


@pytest.fixture
def several(star):
    more = [fits.ImageHDU(star + k, name=name) for k, name in ((1, "SCI"), (2, "weight"))]
    return packed(None, {}, *more, fits.ImageHDU(star + 3))


@pytest.mark.parametrize(
    ("image", "step", "words"),
    [
        (None, 1, "1 SCI is used; nightglass spot takes another with --image NAME"),
        ("WEIGHT", 2, "2 WEIGHT is used"),
        ("sci", 1, "1 SCI is used"),
        ("3", 3, "3 unnamed is used"),
    ],
)
def test_one_of_several_images_is_chosen_and_said(several, star, image, step, words):
    frame = open_frame(several, image=image)
    np.testing.assert_array_equal(frame.samples, star + step)
    told = f"the file holds 3 images (1 SCI, 2 WEIGHT, 3 unnamed): {words}"
    assert f"not a camera raw: {told}" in frame.notes


def test_an_image_that_is_not_there_is_refused_with_those_that_are(several, make_dng, sky):
    with pytest.raises(FrameError, match=r'no image "dark" in the FITS file; it holds 1 SCI'):
        open_frame(several, image="dark")
    with pytest.raises(FrameError, match=r'no FITS file.*"dark" to choose; leave out the name'):
        open_frame(make_dng(sky), image="dark")


def test_real_packed_fits_of_the_whole_sky_opens():
    frame = open_frame(real_file("real-sky-wide", "allsky.fits.bz2"))
    assert frame.samples.ndim == 2
    assert frame.picture_height_px > 100
    assert frame.clipping_from in ("file", "data")
