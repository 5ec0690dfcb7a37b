"""FITS files, packed or not: which image, its samples, its levels, its time (FITS 4.0)."""

from __future__ import annotations

import bz2
import io
import math
import warnings
import zlib
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import UTC, datetime
from typing import Any, BinaryIO

import numpy as np
from numpy.typing import NDArray

from nightglass.frame.errors import FrameError
from nightglass.frame.record import Metadata
from nightglass.frame.recorded import clean_text, number
from nightglass.frame.refusals import refuse_size
from nightglass.frame.source import LARGEST_BYTES, Source

FITS_START = b"SIMPLE  ="
GZIP_START, BZIP2_START = b"\x1f\x8b", b"BZh"
SATURATION_KEYS = ("SATURATE", "SATLEVEL")
"""Headers that name the level at which the sensor saturates: common practice, no standard."""
HIGHEST_OF_BITS = {8: 255.0, 16: 32767.0}
"""Largest stored number by BITPIX (FITS 4.0, 4.4.1.1). Wider ones and floats have no ceiling."""
PIECE_BYTES = 1 << 20


@dataclass(frozen=True)
class FitsImage:
    """One image of a FITS file as it stands, with what its header says."""

    samples: NDArray[np.float32]
    """(rows, columns), or planes last."""
    ceiling: float
    """Clipping level [counts] by type and header; infinite where neither tells."""
    notes: tuple[str, ...]
    metadata: Metadata


def fits_stream(source: Source) -> BinaryIO | None:
    """Return the stream of a FITS file, unpacked where it is packed; None for other files.

    Raises FrameError for a packed file that is damaged, too large, or holds something else.
    """
    start = source.start()
    if start.startswith(FITS_START):
        source.stream.seek(0)
        return source.stream
    if not start.startswith((GZIP_START, BZIP2_START)):
        return None
    packed = "gzip" if start.startswith(GZIP_START) else "bzip2"
    unpacked = _unpacked(source, packed)
    if unpacked is None:
        cause = f"a file packed with {packed} that holds no FITS"
        raise FrameError(source.name, cause, "unpack it first")
    return unpacked


def read_fits(source: Source, stream: BinaryIO, image: str | None) -> FitsImage:
    """Return one image of a FITS file: the first one, or the one named.

    image: name (EXTNAME) or number from 1, as the notes of a file of several images say. Raises
    FrameError for a file without images or without the one named, ValueError for damage.
    """
    # astropy takes half a second to load, which only those pay who have FITS files.
    from astropy.io import fits

    stream.seek(0)
    quiet = warnings.catch_warnings(action="ignore")
    with quiet, _left_open(fits.open(stream, mode="readonly", memmap=False)) as units:
        try:
            images = [u for u in units if u.is_image and u.header.get("NAXIS", 0) >= 2]
            unit, told = _chosen(source, images, image)
            header = unit.header
            planes = math.prod(unit.shape[:-2])
            refuse_size(source, header["NAXIS1"], header["NAXIS2"], planes)
            # The type as stored: reading the data scales it.
            ceiling = _ceiling(header)
            samples = np.array(unit.data, dtype=np.float32)
        except fits.VerifyError as error:
            raise ValueError(f"FITS header: {error}") from error
    notes = [*told, "rows counted as stored: FITS shows them from the bottom up"]
    if "BAYERPAT" in header:
        notes.append("its header names a mosaic, which is not used: give the raw file")
    if not np.isfinite(ceiling):
        notes.append("its clipping level is not known: neither type nor header tells")
    planes_last = np.moveaxis(samples, 0, -1) if samples.ndim == 3 else samples
    return FitsImage(planes_last, ceiling, tuple(notes), _metadata(header))


def _unpacked(source: Source, packed: str) -> BinaryIO | None:
    """Unpack in pieces, FITS only: the first bytes tell, and a bomb ends at the largest frame."""
    unpacker: Any = bz2.BZ2Decompressor() if packed == "bzip2" else zlib.decompressobj(wbits=31)
    out = io.BytesIO()
    source.stream.seek(0)
    waiting = b""
    try:
        while not unpacker.eof:
            waiting = waiting or source.stream.read(PIECE_BYTES)
            if not waiting and getattr(unpacker, "needs_input", True):
                raise EOFError("it ends too early")
            out.write(unpacker.decompress(waiting, PIECE_BYTES))
            waiting = getattr(unpacker, "unconsumed_tail", b"")
            if packed == "bzip2" and not unpacker.needs_input:
                out.write(_rest(unpacker))
            begun = bytes(out.getbuffer()[: len(FITS_START)])
            if not FITS_START.startswith(begun):
                return None
            if out.tell() > LARGEST_BYTES:
                cause = f"packed with {packed}, larger than any single frame"
                raise FrameError(source.name, cause, "use single frames, not a composite")
    except (OSError, EOFError, ValueError, zlib.error) as error:
        cause = f"the packed file is damaged ({error})"
        raise FrameError(source.name, cause, "copy it again") from error
    out.seek(0)
    return out if out.getbuffer().nbytes >= len(FITS_START) else None


def _rest(unpacker: Any) -> bytes:
    """What a bzip2 unpacker still holds of the piece that it was given."""
    parts = []
    while not unpacker.needs_input and not unpacker.eof:
        parts.append(unpacker.decompress(b"", PIECE_BYTES))
        if len(parts) * PIECE_BYTES > LARGEST_BYTES:
            break
    return b"".join(parts)


def _chosen(source: Source, images: list[Any], image: str | None) -> tuple[Any, tuple[str, ...]]:
    """The image that is asked for, else the first; and words where there are several."""
    if not images:
        raise FrameError(source.name, "no image in the FITS file", "export it again")
    names = [str(unit.name).strip() or "unnamed" for unit in images]
    listed = ", ".join(f"{k} {name}" for k, name in enumerate(names, start=1))
    wanted = (image or "").strip().casefold()
    fits = [k for k, name in enumerate(names) if wanted in (name.casefold(), str(k + 1))]
    if image is not None and not fits:
        cause = f'no image "{image}" in the FITS file'
        raise FrameError(source.name, cause, f"it holds {listed}")
    k = fits[0] if image is not None else 0
    if len(images) == 1:
        return images[0], ()
    told = f"the file holds {len(images)} images ({listed}): {k + 1} {names[k]} is used"
    return images[k], (
        told if image is not None else f"{told}; nightglass spot takes another with --image NAME",
    )


def _ceiling(header: Mapping[str, Any]) -> float:
    """Clipping level in the units of the data: scaled as they are (FITS 4.0, 4.4.2.5)."""
    scale, zero = (float(header.get(key, usual)) for key, usual in (("BSCALE", 1), ("BZERO", 0)))
    stored = HIGHEST_OF_BITS.get(int(header.get("BITPIX", 0)), np.inf)
    levels = [zero + scale * stored if scale > 0 else np.inf]
    levels += [float(header[k]) for k in SATURATION_KEYS if isinstance(header.get(k), int | float)]
    return min((level for level in levels if level > 0), default=np.inf)


@contextmanager
def _left_open(units: Any) -> Iterator[Any]:
    """Let go of a FITS reader without closing the file under it."""
    try:
        yield units
    finally:
        units.close(closed=False)


def _metadata(header: Mapping[str, Any]) -> Metadata:
    """EXPTIME in seconds; DATE-OBS in UTC unless TIMESYS says otherwise (FITS 4.0, 4.4.2, 9.2)."""
    seconds = number(str(header.get("EXPTIME", "")))
    try:
        taken = datetime.fromisoformat(str(header.get("DATE-OBS", "")))
    except ValueError:
        taken = None
    known = taken is not None and str(header.get("TIMESYS", "UTC")).strip() == "UTC"
    return Metadata(
        exposure_marked_s=seconds,
        exposure_true_s=seconds,
        taken_at=taken.replace(tzinfo=UTC) if taken is not None and known else taken,
        zone_known=known,
        body=clean_text(str(header.get("INSTRUME", ""))),
    )
