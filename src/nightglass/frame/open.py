"""Opening a picture file of any kind as one Frame."""

from __future__ import annotations

from concurrent.futures import ThreadPoolExecutor
from dataclasses import replace

from nightglass.frame.errors import FrameError
from nightglass.frame.fits import fits_stream
from nightglass.frame.levels import pooled_clipping, top_samples, with_clipping
from nightglass.frame.metadata import Exif, read_exif, read_metadata
from nightglass.frame.picture import is_picture, read_picture
from nightglass.frame.raw import identified, unpacked
from nightglass.frame.record import Frame
from nightglass.frame.refusals import refuse_size
from nightglass.frame.source import PictureSource, Source, opened
from nightglass.frame.tags import TiffFacts, tiff_facts


def open_frame(source: PictureSource, image: str | None = None) -> Frame:
    """Open a raw file, DNG, TIFF, PNG, JPEG or FITS; return its frame.

    source: a path (str or Path), the bytes of a file, or an open binary file, which stays open.
    image: name or number of one image of a FITS file that holds several; else the first is used.
    The frame owns its samples; the file is closed when this returns, also on errors. Clipping
    comes from this frame's own samples where they pile up, else from the file: see levels.py for
    pooling several frames. Raises FrameError, one line: file, cause, what to do.
    """
    with opened(source) as file:
        frame = _read(file, image)
        file.check_unchanged()
    top = top_samples(frame)
    return replace(with_clipping(frame, pooled_clipping([top])), top=top)


def _read(file: Source, image: str | None) -> Frame:
    fits = fits_stream(file)
    if image is not None and fits is None:
        cause = f'no FITS file, so that there is no image "{image}" to choose'
        raise FrameError(file.name, cause, "leave out the name of the image")
    facts = tiff_facts(file.stream)
    if fits is not None or is_picture(file, facts):
        return read_picture(file, fits, image)
    with identified(file, facts) as (decoder, data), ThreadPoolExecutor(1) as beside:
        refuse_size(file, decoder.sizes.raw_width, decoder.sizes.raw_height)
        reading = beside.submit(_hash_and_exif, file, facts, data)
        decoder.unpack()
        exif = reading.result()
        raw = unpacked(decoder, file, facts)
    return Frame(
        samples=raw.samples,
        pattern=raw.pattern,
        black=raw.black,
        clipping=raw.clipping,
        kind=raw.kind,
        metadata=read_metadata(exif, raw.metadata),
        file=file.name,
        content_hash=file.content_hash,
        notes=raw.notes,
        crop_px=raw.crop_px,
    )


def _hash_and_exif(file: Source, facts: TiffFacts | None, data: bytes | None) -> Exif:
    if data is not None:
        file.hash_of(data)
        return read_exif(file, data)
    picture = facts.largest_raw() if facts else None
    return read_exif(file, file.around((picture and picture.whole_numbers) or (0, 0)))
