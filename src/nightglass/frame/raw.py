"""Makers' raws and DNG through LibRaw: samples, pattern and levels, nothing processed."""

from __future__ import annotations

import io
import os
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import datetime

import numpy as np
import rawpy
from numpy.typing import NDArray

from nightglass.frame.black import mosaic_black, plane_black
from nightglass.frame.errors import FrameError
from nightglass.frame.memory import needs_more
from nightglass.frame.record import Crop, Kind
from nightglass.frame.refusals import (
    COPY_AGAIN,
    DAMAGED,
    refuse_by_directory,
    refuse_empty,
    refuse_holes,
)
from nightglass.frame.source import Source, unreadable
from nightglass.frame.tags import JPEG_XL, TIFF_STARTS, YCBCR, Directory, TiffFacts
from nightglass.optics.arrays import Counts, Floats

DAMAGE = (rawpy.LibRawIOError, rawpy.LibRawDataError)
MOST_IN_MEMORY_BYTES = 1 << 27
"""More than any compressed frame; what is larger may well be no raw file."""
SPARSE, CUT_SHARE = 7, 0.2
CUT_NOTE = "black was subtracted in the camera and the noise below it cut off"
"""Of noise about 0 half the samples are cut to 0; a fifth is beyond chance at any black."""
CROP_NOTE = (
    "default crop of the file: {} x {} px from ({}, {}); the whole raw area of {} x {} px is used"
)
TOO_LARGE = (rawpy.LibRawTooBigError, rawpy.LibRawMemPoolOverflowError)
NO_MEMORY = (rawpy.LibRawUnsufficientMemoryError, MemoryError)


@dataclass(frozen=True)
class DecoderMetadata:
    """What LibRaw itself read of the metadata; zeros and blanks as LibRaw gives them."""

    exposure_s: float = 0.0
    f_number: float = 0.0
    focal_mm: float = 0.0
    iso: float = 0.0
    taken_at: datetime | None = None
    lens: str = ""


@dataclass(frozen=True)
class RawSamples:
    """The visible raw area, copied out of the decoder, with its levels."""

    samples: Counts
    pattern: NDArray[np.uint8]
    black: Floats
    clipping: Floats
    kind: Kind
    metadata: DecoderMetadata
    notes: tuple[str, ...]
    crop_px: Crop | None = None


def unpacked(raw: rawpy.RawPy, source: Source, facts: TiffFacts | None) -> RawSamples:
    """Return the raw image that a decoder has unpacked, copied once.

    Raises FrameError for mosaics of other colours than red, green and blue, and for a picture
    without data or with parts missing; the decoder's own errors are `identified`'s to word.
    """
    metadata = _decoder_metadata(raw)
    directory = facts.largest_raw() if facts and facts.dng else None
    notes = _tag_notes(source, facts, directory)
    crop, told = _default_crop(raw, directory)
    notes = (*notes, *told)
    if raw.raw_type == rawpy.RawType.Stack:
        return _planes(source, raw, directory, metadata, notes, crop)
    pattern = _pattern(source, raw)
    black, clipping, told = mosaic_black(raw, pattern, directory)
    samples = raw.raw_image_visible.copy()
    refuse_empty(source, samples)
    refuse_holes(source, raw.raw_image, black, directory)
    if pattern.shape == (1, 1):
        notes = (*notes, "a sensor without a colour mosaic")
    if not black.any() and np.mean(samples[::SPARSE, ::SPARSE] == 0) > CUT_SHARE:
        notes = (*notes, CUT_NOTE)
    pattern, clipping = _spread(pattern, black.shape), _spread(clipping, black.shape)
    return RawSamples(samples, pattern, black, clipping, "mosaic", metadata, (*notes, *told), crop)


def _default_crop(
    raw: rawpy.RawPy, directory: Directory | None
) -> tuple[Crop | None, tuple[str, ...]]:
    """The default crop in the visible area, and words where it leaves part of that out."""
    if directory is None or directory.crop_px is None:
        return None, ()
    area_top, area_left = (directory.active_area or (0, 0, 0, 0))[:2]
    left = directory.crop_px[0] + area_left - raw.sizes.left_margin
    top = directory.crop_px[1] + area_top - raw.sizes.top_margin
    width, height = directory.crop_px[2:]
    whole = raw.sizes.height, raw.sizes.width
    if min(top, left) < 0 or top + height > whole[0] or left + width > whole[1]:
        return None, ("its default crop leaves the picture and is not used",)
    if (height, width) == whole:
        return (top, left, height, width), ()
    words = CROP_NOTE.format(width, height, left, top, whole[1], whole[0])
    return (top, left, height, width), (words,)


@contextmanager
def identified(
    source: Source, facts: TiffFacts | None
) -> Iterator[tuple[rawpy.RawPy, bytes | None]]:
    """Give a decoder that knows the file from its header and has not read the picture yet.

    Beside it the bytes of the file, None where the decoder reads it by its name. Whatever LibRaw
    raises in the block becomes a FrameError, first cause first: for a file that it doesn't know,
    can't decode, finds damaged or too large.
    """
    refuse_by_directory(source, facts)
    opened = False
    try:
        data = _bytes_to_decode(source, facts)
        with rawpy.imread(source.path if data is None else io.BytesIO(data)) as raw:
            opened = True
            yield raw, data
    except rawpy.LibRawFileUnsupportedError as error:
        named_raw = facts is not None and (facts.dng or bool(facts.mosaics))
        known = opened or named_raw
        raise (_not_decodable(source, facts) if known else _unknown(source)) from error
    except DAMAGE as error:
        raise FrameError(source.name, DAMAGED, COPY_AGAIN) from error
    except TOO_LARGE as error:
        cause = "the image is larger than the decoder takes (2 GB)"
        raise FrameError(source.name, cause, "use single frames, not a composite") from error
    except NO_MEMORY as error:
        raise needs_more(source.name) from error
    except OSError as error:
        raise unreadable(source.name, error) from error
    except (rawpy.LibRawError, rawpy.NotSupportedError, NotImplementedError) as error:
        cause = f"the raw decoder gave up ({error})"
        raise FrameError(source.name, cause, "convert it to an uncompressed DNG") from error


def _bytes_to_decode(source: Source, facts: TiffFacts | None) -> bytes | None:
    """Return the bytes of a raw file, None where the decoder had better read it by its name.

    From memory it unpacks compressed and packed samples up to a third faster. Plain whole
    numbers it reads as fast by name, and their file would be as large as the mosaic.
    """
    picture = facts.largest_raw() if facts else None
    plain = picture is not None and picture.whole_numbers is not None
    large = plain or source.size_bytes > MOST_IN_MEMORY_BYTES
    return None if large and _has_plain_name(source) else source.everything()


def _has_plain_name(source: Source) -> bool:
    """Names outside ASCII only work by file object on Windows."""
    if source.path is None or os.name != "posix":
        return False
    try:
        source.path.encode("utf-8")
    except UnicodeEncodeError:
        return False
    return True


def _unknown(source: Source) -> FrameError:
    return FrameError(
        source.name,
        "not a picture file that can be read",
        "give camera raws or DNG (TIFF, PNG, JPEG and FITS, with less to be told from them)",
    )


def _not_decodable(source: Source, facts: TiffFacts | None) -> FrameError:
    directories = facts.directories if facts else ()
    reduced_size = any(
        d.photometric == YCBCR and d.bits <= 8 and not d.reduced for d in directories
    ) and not (facts and facts.mosaics)
    if any(d.compression == JPEG_XL for d in directories):
        cause = "compressed with JPEG XL, which the decoder lacks"
        remedy = "convert it to a DNG with lossless JPEG or none"
    elif reduced_size:
        cause = "a reduced-size raw (M or S), which holds no mosaic"
        remedy = "set the camera to full-size raw (L)"
    else:
        cause = "the compression mode of this raw file can't be decoded"
        remedy = "set the camera to lossless or no compression, or convert to an uncompressed DNG"
    return FrameError(source.name, cause, remedy)


def _pattern(source: Source, raw: rawpy.RawPy) -> NDArray[np.uint8]:
    """Read the tile at the visible corner, place by place.

    The decoder's own maps of 6x6 mosaics are wrong for margins of 7 px and more; single places
    inside the frame are right.
    """
    shape = raw.raw_pattern.shape
    if shape == (1, 1):
        return np.ones((1, 1), dtype=np.uint8)
    names = raw.color_desc.decode("ascii", "replace")
    top, left = raw.sizes.top_margin, raw.sizes.left_margin
    codes = np.array(
        [[raw.raw_color(top + y, left + x) for x in range(shape[1])] for y in range(shape[0])]
    )
    if shape not in ((2, 2), (6, 6)) or codes.max() >= len(names):
        raise _odd_mosaic(source, f"of {shape[0]} x {shape[1]} places")
    letters = {names[code] for code in np.unique(codes)}
    if letters != set("RGB"):
        raise _odd_mosaic(source, f"with the colours {''.join(sorted(letters))}")
    numbers = np.array(["RGB".find(letter) for letter in names], dtype=np.int8)
    return numbers[codes].astype(np.uint8)


def _odd_mosaic(source: Source, what: str) -> FrameError:
    remedy = "only 2x2 and 6x6 mosaics of red, green and blue are measured"
    return FrameError(source.name, f"a mosaic {what}", remedy)


def _planes(
    source: Source,
    raw: rawpy.RawPy,
    directory: Directory | None,
    metadata: DecoderMetadata,
    notes: tuple[str, ...],
    crop: Crop | None,
) -> RawSamples:
    view = raw.raw_image_visible
    if view.ndim != 3 or view.shape[2] < 3:
        raise _odd_mosaic(source, "in an unknown arrangement")
    black, clipping = plane_black(raw, directory)
    samples = view[..., :3].copy()
    refuse_empty(source, samples)
    return RawSamples(
        samples,
        np.zeros((1, 1), dtype=np.uint8),
        black,
        clipping,
        "demosaiced",
        metadata,
        ("already demosaiced: sizes are not comparable with those from a mosaic", *notes),
        crop,
    )


def _spread(tile: NDArray, shape: tuple[int, ...]) -> NDArray:  # type: ignore[type-arg]
    """Repeat a tile up to a larger shape that it divides."""
    return np.tile(tile, (shape[0] // tile.shape[0], shape[1] // tile.shape[1]))


def _decoder_metadata(raw: rawpy.RawPy) -> DecoderMetadata:
    other, lens = raw.other, raw.lens
    return DecoderMetadata(
        other.shutter_speed,
        other.aperture,
        other.focal_length,
        other.iso_speed,
        other.timestamp,
        lens.model,
    )


def _tag_notes(
    source: Source, facts: TiffFacts | None, directory: Directory | None
) -> tuple[str, ...]:
    notes = []
    if facts is None and source.start().startswith(TIFF_STARTS):
        return ("its TIFF directory can't be read: levels as the raw decoder gives them",)
    if facts is None or directory is None:
        return ()
    if directory.linearised:
        notes.append("linearisation table applied by the decoder")
    if directory.gain_map:
        notes.append("gain map present, not applied: light falls off more than in the picture")
    if directory.black_slopes:
        notes.append("black changes by row or column in the file: only its mean part is removed")
    twins = [
        d
        for d in facts.mosaics
        if not d.reduced and (d.width_px, d.height_px) == (directory.width_px, directory.height_px)
    ]
    if len(twins) > 1:
        notes.append(f"the file holds {len(twins)} raw frames: the first one is used")
    return tuple(notes)
