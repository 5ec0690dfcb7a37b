"""Second-class input: TIFF, PNG, JPEG and FITS, which are not linear or hold no mosaic."""

from __future__ import annotations

import warnings
from dataclasses import replace
from typing import Any, BinaryIO

import imagecodecs
import numpy as np
import tifffile
from numpy.typing import NDArray
from PIL import Image, UnidentifiedImageError

from nightglass.frame.errors import FrameError
from nightglass.frame.fits import read_fits
from nightglass.frame.memory import needs_more
from nightglass.frame.metadata import read_exif, read_metadata
from nightglass.frame.record import Frame, Metadata
from nightglass.frame.refusals import refuse_disguise, refuse_empty, refuse_size
from nightglass.frame.source import Source
from nightglass.frame.tags import ORDINARY, TIFF_STARTS, TiffFacts

JPEG_START, PNG_START = b"\xff\xd8\xff", b"\x89PNG\r\n\x1a\n"
RAW_MARK = b"CR"
"""Some makers' raws are TIFF files with their own mark behind the header, at byte 8."""
DAMAGE = (
    OSError,
    ValueError,
    TypeError,
    IndexError,
    KeyError,
    SyntaxError,
    UnidentifiedImageError,
    tifffile.TiffFileError,
    imagecodecs.PngError,
)
"""What damaged files raise inside the readers, each of which has its own base class."""

MOST_PACKED_MPX = 178
"""Where Pillow stops by itself; a few kilobytes can hold as much."""
NOT_RAW = "not a camera raw: "
NOT_LINEAR = "a processed picture, not linear: sizes are not comparable with raw ones"
NO_MOSAIC = "no mosaic and no black level: linear only if nobody processed it"


def is_picture(source: Source, facts: TiffFacts | None) -> bool:
    """Whether a file is a plain picture by its content; its name says nothing.

    A TIFF counts as raw if it is a DNG, names a mosaic, carries a maker's raw mark, or comes from
    a camera and has more in it than ordinary images.
    """
    start = source.start()
    if start.startswith((JPEG_START, PNG_START)):
        return True
    if not start.startswith(TIFF_STARTS) or facts is None:
        return False
    if facts.dng or facts.mosaics or start[8:10] == RAW_MARK:
        return False
    plain = all(d.photometric in ORDINARY for d in facts.directories)
    return plain or not facts.maker


def read_picture(source: Source, fits: BinaryIO | None = None, image: str | None = None) -> Frame:
    """Return the frame of a plain picture; its notes say what it lacks beside a raw file.

    fits: what fits_stream gave for this file; image: which image of it.
    Raises FrameError for damaged, empty or oversized pictures and for shapes that are neither
    grey nor red, green, blue.
    """
    start = source.start()
    metadata, ceiling = None, None
    try:
        if fits is not None:
            refuse_disguise(source, "FITS")
            found = read_fits(source, fits, image)
            samples, metadata, ceiling = found.samples, found.metadata, found.ceiling
            notes: tuple[str, ...] = (NO_MOSAIC, *found.notes)
        elif start.startswith(PNG_START):
            refuse_disguise(source, "PNG")
            samples, notes = _png(source), (NOT_LINEAR,)
        elif start.startswith(JPEG_START):
            refuse_disguise(source, "JPEG")
            samples, notes = _jpeg(source), (NOT_LINEAR,)
        else:
            samples, notes = _tiff(source), (NO_MOSAIC,)
    except MemoryError as error:
        raise needs_more(source.name) from error
    except Image.DecompressionBombError as error:
        cause = f"the picture is too large (at most {MOST_PACKED_MPX} Mpx as PNG or JPEG)"
        raise FrameError(source.name, cause, "crop it, or use the raw file") from error
    except DAMAGE as error:
        cause = f"the picture is damaged or of an unknown kind ({_one_line(error)})"
        raise FrameError(source.name, cause, "export it again, or use the raw file") from error
    frame = _frame(source, samples, notes, metadata or read_metadata(read_exif(source)))
    if ceiling is None:
        return frame
    return replace(frame, clipping=np.full_like(frame.clipping, ceiling))


def _one_line(error: BaseException) -> str:
    if isinstance(error, UnidentifiedImageError):
        return "its header makes no sense"
    return " ".join(str(error).split())[:120] or type(error).__name__


def _frame(
    source: Source, samples: NDArray[Any], notes: tuple[str, ...], metadata: Metadata
) -> Frame:
    samples, ceiling = _as_samples(source, samples)
    refuse_empty(source, samples)
    planes = samples.ndim == 3
    shape = (1, 3) if planes else (1, 1)
    return Frame(
        samples=samples,
        pattern=np.array([[0 if planes else 1]], dtype=np.uint8),
        black=np.zeros(shape),
        clipping=np.full(shape, ceiling),
        kind="picture",
        metadata=metadata,
        file=source.name,
        content_hash=source.content_hash,
        notes=tuple(NOT_RAW + note for note in notes),
    )


def _as_samples(source: Source, samples: NDArray[Any]) -> tuple[NDArray[Any], float]:
    """Grey (rows, columns) or (rows, columns, 3), owned, uint16 or float32, with its ceiling."""
    if samples.ndim == 3 and samples.shape[2] in (2, 4):
        samples = samples[..., : samples.shape[2] - 1]
    if samples.ndim == 3 and samples.shape[2] == 1:
        samples = samples[..., 0]
    if samples.ndim not in (2, 3) or samples.size == 0 or samples.shape[2:] not in ((), (3,)):
        cause = f"a picture of the shape {samples.shape}"
        raise FrameError(source.name, cause, "give one grey picture or one of red, green, blue")
    if samples.dtype in (np.uint8, np.uint16):
        return samples.astype(np.uint16), float(np.iinfo(samples.dtype).max)
    floats = samples.astype(np.float32)
    if not np.isfinite(floats).all():
        raise FrameError(
            source.name, "values that are no numbers (NaN)", "write it without blank pixels"
        )
    if np.issubdtype(samples.dtype, np.integer) and samples.dtype.itemsize <= 2:
        return floats, float(np.iinfo(samples.dtype).max)
    # Nothing in a file of floats says where its camera clipped.
    return floats, np.inf


def _png(source: Source) -> NDArray[Any]:
    """Decode with 16 bits per colour where the file has them; Pillow would leave eight."""
    source.stream.seek(0)
    with _quiet(), Image.open(source.stream) as header:
        refuse_size(source, *header.size)
    source.stream.seek(0)
    return np.asarray(imagecodecs.png_decode(source.stream.read()))


def _jpeg(source: Source) -> NDArray[Any]:
    source.stream.seek(0)
    with _quiet(), Image.open(source.stream) as image:
        refuse_size(source, *image.size)
        return np.asarray(image if image.mode in ("L", "RGB") else image.convert("RGB"))


def _quiet() -> warnings.catch_warnings[None]:
    """Pillow warns of large pictures and odd Exif: size is checked here, Exif read elsewhere."""
    return warnings.catch_warnings(action="ignore")


def _tiff(source: Source) -> NDArray[Any]:
    source.stream.seek(0)
    with tifffile.TiffFile(source.stream) as tiff:
        page = tiff.pages.first
        refuse_size(source, page.imagewidth, page.imagelength, page.samplesperpixel)
        samples = page.asarray(maxworkers=1)
        if page.photometric == 0:
            samples = np.iinfo(samples.dtype).max - samples
    return np.moveaxis(samples, 0, -1) if samples.ndim == 3 and samples.shape[0] == 3 else samples
