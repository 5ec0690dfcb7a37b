"""Writing DNG files such as a camera's converter would write: mosaic, levels, Exif.

Source of the tags: Digital Negative Specification 1.4 (2012), chapters 3 and 4; Exif tags:
CIPA DC-008 (Exif 2.32), tables 4 to 8.
"""

from __future__ import annotations

import os
from collections.abc import Sequence
from datetime import timedelta
from fractions import Fraction
from pathlib import Path
from typing import Any, Literal

import numpy as np
import rawpy
import tifffile
from numpy.typing import ArrayLike

from nightglass.frame.record import Metadata
from nightglass.optics.arrays import Counts, Floats
from nightglass.scene.exif_bytes import AsciiTag, ExifTag, LongTag, RationalTag, exif_ifd

Compression = Literal["lossless jpeg", "none"]

CFA = 32803
LINEAR_RAW = 34892
TILE_PX = 512
"""Lossless JPEG goes into square tiles: LibRaw misreads tifffile's strips without an error."""
SMALLEST_SIDE_PX = 32
EXIF_POINTER = 34665
PLACEHOLDER = 34666
"""tifffile writes no Exif directory: this unused neighbour holds its place and is then renamed."""

TiffTag = tuple[int, str, int, Any] | tuple[int, str, int, Any, bool]


def write_dng(
    path: str | os.PathLike[str],
    samples: Counts,
    *,
    white_level: int,
    pattern: ArrayLike | None = None,
    black: ArrayLike = 0,
    metadata: Metadata | None = None,
    compression: Compression = "lossless jpeg",
    active_area: tuple[int, int, int, int] | None = None,
    extratags: Sequence[TiffTag] = (),
    verify: bool = True,
) -> None:
    """Write one DNG and, unless told otherwise, read it back and compare every sample.

    samples: uint16, (rows, columns) mosaic or (rows, columns, 3) linear raw with three planes.
    pattern: colour codes 0 red, 1 green, 2 blue of the repeated tile (2x2 or 6x6), from the
        top-left pixel of the active area; None for three planes.
    black: black level [counts], one number or a tile like the pattern (three numbers for planes).
    active_area: (top, left, bottom, right) [px]; None = everything.
    extratags: more TIFF tags, as tifffile takes them.
    Raises ValueError for samples, patterns or levels that a DNG can't hold, OSError where the
    file can't be written, RuntimeError where it reads back differently (the file is removed).
    """
    target = Path(path)
    pixels = np.ascontiguousarray(samples)
    tags = [
        *_levels(pixels, pattern, np.asarray(black, dtype=np.float64), white_level),
        *_area(pixels, active_area),
        *_main_tags(metadata or Metadata()),
        *extratags,
    ]
    exif = _exif_tags(metadata or Metadata())
    layout: dict[str, Any] = {"rowsperstrip": pixels.shape[0]}
    if compression == "lossless jpeg":
        layout = {
            "tile": tuple(_tile_side(side) for side in pixels.shape[:2]),
            "compression": "jpeg",
            "compressionargs": {"lossless": True, "bitspersample": 16},
        }
    elif compression != "none":
        raise ValueError(f'compression {compression!r}: allowed are "lossless jpeg" and "none"')
    tifffile.imwrite(
        target,
        pixels,
        photometric=CFA if pixels.ndim == 2 else LINEAR_RAW,
        byteorder="<",
        metadata=None,
        software=False,
        maxworkers=1,
        extratags=[*tags, (PLACEHOLDER, "I", 1, 0)],
        **layout,
    )
    _append_exif(target, exif)
    if verify:
        _read_back(target, pixels, active_area)


def _levels(
    samples: Counts,
    pattern: ArrayLike | None,
    black: Floats,
    white_level: int,
) -> list[TiffTag]:
    if samples.dtype != np.uint16 or samples.ndim not in (2, 3):
        raise ValueError(
            f"samples: {samples.dtype} {samples.shape}: allowed is uint16, (rows, columns) or "
            "(rows, columns, 3)"
        )
    if min(samples.shape[:2]) < SMALLEST_SIDE_PX:
        raise ValueError(
            f"samples: {samples.shape[0]} x {samples.shape[1]} px: the raw decoder takes "
            f"{SMALLEST_SIDE_PX} px a side or more"
        )
    if not 0 < white_level <= 65535:
        raise ValueError(f"white_level {white_level}: allowed is 1 to 65535")
    if black.min() < 0 or black.max() >= white_level:
        raise ValueError(f"black {black.min():g} to {black.max():g}: allowed is 0 to white_level")
    if samples.ndim == 3:
        if samples.shape[2] != 3 or pattern is not None:
            raise ValueError("three planes: samples (rows, columns, 3) and pattern None")
        values = np.broadcast_to(black.reshape(-1), (3,))
        return [_black_tag(values), (50713, "H", 2, (1, 1)), (50717, "H", 3, (white_level,) * 3)]
    tile = np.asarray([[255]] if pattern is None else pattern, dtype=np.uint8)
    if tile.ndim != 2 or tile.max() > 2:
        raise ValueError("pattern: a mosaic needs a 2x2 or 6x6 tile of 0 red, 1 green, 2 blue")
    cells = np.atleast_2d(black)
    return [
        (33421, "H", 2, tile.shape),
        (33422, "B", tile.size, tile.tobytes()),
        (50710, "B", 3, bytes((0, 1, 2))),
        (50711, "H", 1, 1),
        (50713, "H", 2, cells.shape),
        _black_tag(cells.reshape(-1)),
        (50717, "I", 1, white_level),
    ]


def _black_tag(values: Floats) -> TiffTag:
    if np.all(values == np.round(values)):
        return (50714, "I", values.size, tuple(int(v) for v in values))
    parts = [Fraction(float(v)).limit_denominator(10000) for v in values]
    return (50714, "2I", values.size, tuple(n for p in parts for n in p.as_integer_ratio()))


def _area(samples: Counts, active_area: tuple[int, int, int, int] | None) -> list[TiffTag]:
    if active_area is None:
        return []
    top, left, bottom, right = active_area
    if not (0 <= top < bottom <= samples.shape[0] and 0 <= left < right <= samples.shape[1]):
        raise ValueError(f"active_area {active_area}: must lie inside {samples.shape[:2]}")
    return [
        (50829, "I", 4, active_area),
        (50719, "I", 2, (0, 0)),
        (50720, "I", 2, (right - left, bottom - top)),
    ]


def _main_tags(metadata: Metadata) -> list[TiffTag]:
    body = metadata.body or "Unnamed body"
    tags: list[TiffTag] = [
        _text(271, body.split()[0]),
        _text(272, body),
        (50706, "B", 4, bytes((1, 4, 0, 0))),
        (50707, "B", 4, bytes((1, 1, 0, 0))),
        _text(50708, body),
        # An even response in all colours: the files are measured, not developed.
        (50721, "2i", 9, (1, 1, 0, 1, 0, 1, 0, 1, 1, 1, 0, 1, 0, 1, 0, 1, 1, 1)),
        (50728, "2I", 3, (1, 1, 1, 1, 1, 1)),
        (50778, "H", 1, 21),
    ]
    if metadata.firmware:
        tags.append(_text(305, metadata.firmware))
    if metadata.body_serial:
        tags.append(_text(50735, metadata.body_serial))
    return tags


def _text(code: int, text: str) -> TiffTag:
    """Bytes, because tifffile takes text in ASCII only."""
    return (code, "s", 0, text.encode())


def _exif_tags(metadata: Metadata) -> list[ExifTag]:
    tags: list[ExifTag] = []
    seconds = metadata.exposure_marked_s or metadata.exposure_true_s
    if seconds:
        tags.append(RationalTag(33434, Fraction(seconds).limit_denominator(10000)))
    if metadata.f_number:
        tags.append(RationalTag(33437, Fraction(metadata.f_number).limit_denominator(100)))
    if metadata.focal_mm:
        tags.append(RationalTag(37386, Fraction(metadata.focal_mm).limit_denominator(100)))
    if metadata.iso:
        # Beyond 65534 the old tag stands at its end and the newer ones have the value.
        tags.append(LongTag(34855, min(metadata.iso, 65535)))
        tags += [LongTag(34864, 2), LongTag(34866, metadata.iso)]
    if metadata.exposure_mode == "manual":
        tags += [LongTag(34850, 1), LongTag(41986, 1)]
    tags += _time_tags(metadata)
    for code, text in (
        (42033, metadata.body_serial),
        (42036, metadata.lens),
        (42037, metadata.lens_serial),
    ):
        if text:
            tags.append(AsciiTag(code, text))
    return tags


def _time_tags(metadata: Metadata) -> list[ExifTag]:
    taken = metadata.taken_at
    if taken is None:
        return []
    tags: list[ExifTag] = [AsciiTag(36867, f"{taken:%Y:%m:%d %H:%M:%S}")]
    if taken.microsecond:
        tags.append(AsciiTag(37521, f"{taken.microsecond:06d}".rstrip("0")))
    offset = taken.utcoffset()
    if offset is not None:
        sign, minutes = ("-" if offset < timedelta(0) else "+"), abs(offset) // timedelta(minutes=1)
        tags.append(AsciiTag(36881, f"{sign}{minutes // 60:02d}:{minutes % 60:02d}"))
    return tags


def _tile_side(side_px: int) -> int:
    """Tiles are multiples of 16 px (TIFF 6.0, section 15); LibRaw misreads one that is larger
    than the picture."""
    return max(16, min(TILE_PX, side_px // 16 * 16))


def _append_exif(path: Path, tags: Sequence[ExifTag]) -> None:
    """Put the Exif directory at the end of the file and its place into the main directory."""
    with tifffile.TiffFile(path) as tiff:
        holder = tiff.pages.first.tags[PLACEHOLDER]
        entry, value = holder.offset, holder.valueoffset
    with path.open("r+b") as file:
        start = file.seek(0, os.SEEK_END)
        start += file.write(b"\0" * (start % 2))
        file.write(exif_ifd(tags, start))
        file.seek(entry)
        file.write(EXIF_POINTER.to_bytes(2, "little"))
        file.seek(value)
        file.write(start.to_bytes(4, "little"))


def _read_back(path: Path, samples: Counts, active_area: tuple[int, int, int, int] | None) -> None:
    with rawpy.imread(str(path)) as raw:
        back = raw.raw_image if samples.ndim == 2 else raw.raw_image[..., :3]
        same = back.shape == samples.shape and np.array_equal(back, samples)
    if not same:
        path.unlink()
        raise RuntimeError(f"{path}: read back differently from what was written; removed")
