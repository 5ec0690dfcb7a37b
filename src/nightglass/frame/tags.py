"""What the TIFF directories of a file say about its raw images (TIFF 6.0; DNG 1.4, chapter 4).

LibRaw decodes; these tags tell what LibRaw flattens, applies or leaves out without a word.
"""

from __future__ import annotations

import logging
import math
import struct
from dataclasses import dataclass
from typing import Any, BinaryIO

import numpy as np
import tifffile

from nightglass.optics.arrays import Floats, Ints64

TIFF_STARTS = (b"II*\0", b"MM\0*", b"II+\0", b"MM\0+")
CFA = 32803
LINEAR_RAW = 34892
RAW_KINDS = (CFA, LINEAR_RAW)
YCBCR = 6
ORDINARY = (0, 1, 2, 3)
"""Grey, RGB and palette: images for looking at, or processed ones."""
MAX_DIRECTORIES = 16
GAIN_MAP_OPCODE = 9
"""DNG 1.4, chapter 6: opcodes are numbered; 9 is the gain map of lens shading."""
JPEG_XL = 52546
NOT_COMPRESSED, LOSSLESS_JPEG = 1, 7
JPEG_START = b"\xff\xd8"
FLOATING_POINT = 3
"""TIFF 6.0, SampleFormat."""
TILES, STRIPS = (324, 325), (273, 279)
"""Places and byte counts of the parts of an image."""

# tifffile reports oddities of damaged files through logging; ours go into FrameError and notes.
logging.getLogger("tifffile").addHandler(logging.NullHandler())


@dataclass(frozen=True)
class Directory:
    """One image directory of a TIFF-like file."""

    width_px: int
    height_px: int
    photometric: int
    compression: int
    reduced: bool
    bits: int
    black: Floats | None = None
    """(rows, columns) tile from the top-left of the active area, (1, 3) for planes."""
    black_slopes: bool = False
    """Black also changes by row or column."""
    white: tuple[float, ...] = ()
    active_area: tuple[int, int, int, int] | None = None
    crop_px: tuple[int, int, int, int] | None = None
    """Default crop (DNG 1.4, chapter 4): left, top, width, height inside the active area."""
    part_px: tuple[int, int] = (0, 0)
    """Rows and columns of one tile or strip."""
    whole_numbers: tuple[int, int] | None = None
    """First byte of the picture and the first behind it, where it stands in one piece, not
    compressed, two bytes a sample."""
    parts_missing: int = 0
    """Tiles or strips without data: LibRaw leaves their samples at 0."""
    cut_off: bool = False
    """A tile or strip ends behind the end of the file: LibRaw fills up some makers' with noise."""
    floating_point: bool = False
    linearised: bool = False
    gain_map: bool = False
    misread: bool = False
    """Lossless JPEG in strips, or in a tile larger than the picture: LibRaw gives wrong samples
    for it without an error."""


@dataclass(frozen=True)
class TiffFacts:
    """The directories of a TIFF-like file, main ones and their children."""

    directories: tuple[Directory, ...]
    dng: bool
    maker: str

    @property
    def mosaics(self) -> tuple[Directory, ...]:
        """Full-size raw images: mosaics, or linear raw with three planes."""
        return tuple(d for d in self.directories if d.photometric in RAW_KINDS)

    def largest_raw(self) -> Directory | None:
        """The raw image with most pixels."""
        return max(self.mosaics, key=lambda d: d.width_px * d.height_px, default=None)


def tiff_facts(stream: BinaryIO) -> TiffFacts | None:
    """Return the directories of a TIFF-like file, None if it has no TIFF header or no directory."""
    stream.seek(0)
    if stream.read(4) not in TIFF_STARTS:
        return None
    # tifffile counts every offset from where the stream stands.
    stream.seek(0)
    try:
        with tifffile.TiffFile(stream) as tiff:
            return _collected(tiff)
    # What a damaged directory can raise inside tifffile; LibRaw then gives the verdict.
    except (tifffile.TiffFileError, ValueError, IndexError, KeyError, TypeError, struct.error):
        return None
    finally:
        stream.seek(0)


def _collected(tiff: tifffile.TiffFile) -> TiffFacts:
    directories: list[Directory] = []
    pages = [tiff.pages[k] for k in range(min(len(tiff.pages), MAX_DIRECTORIES))]
    first = pages[0].tags
    for page in pages:
        directories.append(_directory(page))
        children = page.pages
        if children is not None:
            for k in range(min(len(children), MAX_DIRECTORIES)):
                directories.append(_directory(children[k]))
    return TiffFacts(tuple(directories), 50706 in first, str(_value(first, 271, "")).strip("\0 "))


def _directory(page: Any) -> Directory:
    tags = page.tags
    area = _value(tags, 50829, None)
    opcodes = [_value(tags, code, b"") for code in (51008, 51009, 51022)]
    return Directory(
        width_px=int(_value(tags, 256, 0)),
        height_px=int(_value(tags, 257, 0)),
        photometric=int(_value(tags, 262, -1)),
        compression=int(_value(tags, 259, 1)),
        reduced=bool(int(_value(tags, 254, 0)) & 1),
        bits=int(np.max(_value(tags, 258, 1))),
        black=_black(tags),
        black_slopes=any(np.any(_numbers(_value(tags, code, 0))) for code in (50715, 50716)),
        white=tuple(np.atleast_1d(_value(tags, 50717, ())).astype(float).tolist()),
        active_area=None if area is None else tuple(int(v) for v in area),  # type: ignore[arg-type]
        linearised=50712 in tags,
        misread=_misread(tags),
        crop_px=_crop(tags),
        part_px=_part_px(tags),
        whole_numbers=_whole_numbers(tags),
        parts_missing=_parts_missing(page),
        cut_off=_cut_off(page),
        floating_point=FLOATING_POINT in np.atleast_1d(_value(tags, 339, 1)),
        gain_map=any(_has_gain_map(bytes(data)) for data in opcodes),
    )


def _misread(tags: Any) -> bool:
    width, height = (int(_value(tags, code, 0)) for code in (256, 257))
    if int(_value(tags, 259, 1)) != LOSSLESS_JPEG or int(_value(tags, 262, -1)) not in RAW_KINDS:
        return False
    if 322 in tags:
        return int(_value(tags, 322, 0)) > width or int(_value(tags, 323, 0)) > height
    return int(_value(tags, 278, height)) < height


def _value(tags: Any, code: int, default: Any) -> Any:
    tag = tags.get(code)
    return default if tag is None or tag.value is None else tag.value


def _numbers(value: Any) -> Floats:
    return np.atleast_1d(np.asarray(value, dtype=np.float64))


def _divided(tag: Any) -> Floats:
    """The numbers of a tag that may hold rationals, as numerator and denominator; x/0 gives 0."""
    values = _numbers(tag.value)
    if tag.dtype not in (5, 10):
        return values
    pairs = values.reshape(-1, 2)
    return np.divide(pairs[:, 0], pairs[:, 1], out=np.zeros(len(pairs)), where=pairs[:, 1] > 0)


def _crop(tags: Any) -> tuple[int, int, int, int] | None:
    origin, size = tags.get(50719), tags.get(50720)
    if origin is None or size is None:
        return None
    numbers = [*_divided(origin), *_divided(size)]
    if len(numbers) != 4 or min(numbers[2:]) <= 0 or max(numbers) > 1e6:
        return None
    left, top, width, height = (round(float(number)) for number in numbers)
    return left, top, width, height


def _part_px(tags: Any) -> tuple[int, int]:
    width, height = (int(_value(tags, code, 0)) for code in (256, 257))
    if TILES[0] in tags:
        return int(_value(tags, 323, 0)), int(_value(tags, 322, 0))
    return min(int(_value(tags, 278, height)), height), width


def _parts(tags: Any) -> tuple[Ints64, Ints64]:
    """Places and byte counts of the tiles or strips of an image."""
    codes = TILES if TILES[0] in tags else STRIPS
    places, sizes = (np.atleast_1d(_value(tags, code, ())).astype(np.int64) for code in codes)
    there = min(places.size, sizes.size)
    return places[:there], sizes[:there]


def _whole_numbers(tags: Any) -> tuple[int, int] | None:
    if int(_value(tags, 259, 1)) != NOT_COMPRESSED:
        return None
    places, sizes = _parts(tags)
    wanted = 2 * math.prod(int(_value(tags, code, 1)) for code in (256, 257, 277))
    # A length that is merely larger could reach into what else the file holds.
    if not sizes.size or sizes.sum() != wanted or np.any(places[1:] != places[:-1] + sizes[:-1]):
        return None
    return int(places[0]), int(places[0]) + wanted


def _cut_off(page: Any) -> bool:
    tags = page.tags
    # Some makers' raw directories name no kind of picture.
    if int(_value(tags, 262, -1)) not in (*RAW_KINDS, -1):
        return False
    places, sizes = _parts(tags)
    return bool(np.any(places + sizes > page.parent.filehandle.size))


def _parts_missing(page: Any) -> int:
    """Count the tiles or strips that the directory leaves out, or that hold no picture data."""
    tags = page.tags
    if int(_value(tags, 262, -1)) not in RAW_KINDS:
        return 0
    places, sizes = _parts(tags)
    rows, columns = _part_px(tags)
    if min(rows, columns) < 1 or not places.size:
        return 0
    wanted = -(-int(_value(tags, 257, 0)) // rows) * -(-int(_value(tags, 256, 0)) // columns)
    good = (places > 0) & (sizes > 0)
    if int(_value(tags, 259, 1)) == LOSSLESS_JPEG:
        good &= [_starts_as_jpeg(page.parent.filehandle, int(at)) for at in places]
    return max(wanted - int(np.count_nonzero(good)), 0)


def _starts_as_jpeg(file: Any, at: int) -> bool:
    file.seek(at)
    found: bytes = file.read(len(JPEG_START))
    # A file that ends before is cut off, which LibRaw tells.
    return len(found) < len(JPEG_START) or found == JPEG_START


def _black(tags: Any) -> Floats | None:
    tag = tags.get(50714)
    if tag is None:
        return None
    values = _divided(tag)
    rows, columns = (int(v) for v in _value(tags, 50713, (1, 1)))
    samples = int(_value(tags, 277, 1))
    if values.size == rows * columns * samples and samples > 1:
        return values.reshape(rows * columns, samples).mean(axis=0)[None, :3]
    if values.size == rows * columns:
        return values.reshape(rows, columns)
    return np.full((1, 1), values.mean())


def _has_gain_map(data: bytes) -> bool:
    """Look for the gain map in an opcode list (big-endian always: DNG 1.4, chapter 6)."""
    if len(data) < 4:
        return False
    (count,) = struct.unpack_from(">I", data)
    at = 4
    for _ in range(min(count, 1000)):
        if at + 16 > len(data):
            return False
        opcode, _, _, size = struct.unpack_from(">IIII", data, at)
        if opcode == GAIN_MAP_OPCODE:
            return True
        at += 16 + size
    return False
