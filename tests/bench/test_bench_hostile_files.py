"""Files made to eat memory cost themselves only, and say so in words."""

import struct
import sys
import zlib

import numpy as np
import pytest
import tifffile

from nightglass.bench.measuring.jobs import Job
from nightglass.bench.measuring.workers import Workers
from nightglass.frame.errors import FrameError
from nightglass.frame.open import open_frame
from nightglass.scene.dng import write_dng

LINUX = pytest.mark.skipif(sys.platform != "linux", reason="memory is limited on Linux only")


def dng(path, shape=(64, 96)):
    samples = np.random.default_rng(3).normal(1000, 20, shape).round().astype(np.uint16)
    write_dng(path, samples, white_level=16383, pattern=[[0, 1], [1, 2]], black=500,
              compression="none", verify=False)  # fmt: skip
    return path


def claiming(path, width_px, height_px):
    """A small DNG whose header tells of another size."""
    dng(path)
    with tifffile.TiffFile(path) as tiff:
        places = {code: tiff.pages.first.tags[code].valueoffset for code in (256, 257, 278)}
    with path.open("r+b") as file:
        for code, value in ((256, width_px), (257, height_px), (278, height_px)):
            file.seek(places[code])
            file.write(struct.pack("<H", value))
    return path


def packed_png(path, side_px):
    """A grey PNG of zeros: a thousandth of its size on disk (PNG, third edition, 11.2 and 11.3)."""
    packer, row = zlib.compressobj(1), bytes(side_px + 1)
    data = b"".join([*(packer.compress(row * 64) for _ in range(side_px // 64)), packer.flush()])
    header = struct.pack(">IIBBBBB", side_px, side_px, 8, 0, 0, 0, 0)
    parts = ((b"IHDR", header), (b"IDAT", data), (b"IEND", b""))
    path.write_bytes(b"\x89PNG\r\n\x1a\n" + b"".join(
        struct.pack(">I", len(body)) + name + body + struct.pack(">I", zlib.crc32(name + body))
        for name, body in parts
    ))  # fmt: skip
    return path


@pytest.mark.parametrize("size", [(65000, 65000), (30000, 30000), (65000, 8000)])
def test_a_raw_that_claims_too_much_is_refused_by_its_header(tmp_path, size):
    with pytest.raises(FrameError) as caught:
        open_frame(claiming(tmp_path / "f.dng", *size))
    assert caught.value.cause == (
        f"the picture of {size[0]} x {size[1]} px is too large (at most 400 Mpx)"
    )
    assert caught.value.remedy == "crop it, or use the raw file"


def test_many_planes_are_refused_by_the_header(tmp_path):
    path = tmp_path / "f.fits"
    cards = ["SIMPLE  =                    T", "BITPIX  =                  -32",
             "NAXIS   =                    3", "NAXIS1  =                 9000",
             "NAXIS2  =                 9000", "NAXIS3  =                   90", "END"]  # fmt: skip
    path.write_bytes("".join(card.ljust(80) for card in cards).ljust(2880).encode() + bytes(2880))
    with pytest.raises(FrameError, match="a picture of 90 planes; give one grey picture"):
        open_frame(path)


@LINUX
def test_a_file_that_needs_too_much_memory_says_so_and_the_next_one_is_measured(tmp_path):
    files = [packed_png(tmp_path / "bomb.png", 13056), dng(tmp_path / "good.dng", (300, 400))]
    jobs = [Job(file.name, str(file), file.stat().st_size, file.stat().st_mtime_ns)
            for file in files]  # fmt: skip
    with Workers(1, memory_bytes=600 << 20) as pool:
        bomb, good = pool.outcomes(jobs)
    assert bomb.refused == (
        "this file needs more memory than 0.59 GB, which no single frame does; crop it, or use "
        "single frames"
    )
    assert (good.width_px, good.height_px) == (400, 300)
