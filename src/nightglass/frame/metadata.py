"""What the camera wrote about the exposure: libexiv2 first, what LibRaw knows second."""

from __future__ import annotations

import os
import threading
from collections.abc import Iterator
from dataclasses import dataclass, replace
from datetime import datetime
from typing import Any

import exiv2

from nightglass.frame.exposure import exposure_times
from nightglass.frame.raw import DecoderMetadata
from nightglass.frame.record import Metadata
from nightglass.frame.recorded import (
    Recorded,
    clean_text,
    number,
    signed_number,
    taken_at,
)
from nightglass.frame.source import Bytes, Source

_lock = threading.Lock()


def _fresh_lock() -> None:
    # A child forked while another thread held the lock would wait for it for ever.
    global _lock
    _lock = threading.Lock()


if hasattr(os, "register_at_fork"):
    os.register_at_fork(after_in_child=_fresh_lock)

# libexiv2's start-up isn't thread-safe: once, when this module is loaded.
exiv2.XmpParser.initialize()
exiv2.LogMsg.setLevel(exiv2.LogMsg.Level.mute)

PROGRAMS = {1: "manual", 2: "program", 3: "aperture priority", 4: "shutter priority"}
"""Exif ExposureProgram (CIPA DC-008, 4.6.5)."""
MODES = {0: "auto", 1: "manual", 2: "bracket"}
"""Exif ExposureMode."""
ISO_KEYS = (
    "Photo.ISOSpeedRatings",
    "Photo.RecommendedExposureIndex",
    "Photo.StandardOutputSensitivity",
    "Photo.ISOSpeed",
    "Image.ISOSpeedRatings",
)
"""Beyond 65534 the old tag stands at 65535 and the value is in one of the newer ones."""
EXPOSURE_KEYS = ("Photo.ExposureTime", "Image.ExposureTime", "Photo.ShutterSpeedValue")
APERTURE_KEYS = ("Photo.FNumber", "Image.FNumber", "Photo.ApertureValue")
FOCAL_KEYS = ("Photo.FocalLength", "Image.FocalLength")
FIRST_YEAR = 1980
"""No camera that wrote raw files or Exif is older."""
MAYBE_LENS = "lens may be {name}: a maker's number that several lenses share"


@dataclass(frozen=True)
class Exif:
    """What libexiv2 read: raw fields by key, the lens behind a maker's number, what went wrong."""

    fields: Recorded
    lens_by_number: str | None = None
    problem: str | None = None


def read_exif(source: Source, data: Bytes | None = None) -> Exif:
    """Return the Exif fields of a file as they stand; never raises for odd metadata.

    data: the bytes of the file, where they are at hand; else they are read, and the hash is taken
    on the way.
    """
    # Bytes, not a memory map: a card pulled out while a map is read would end the process.
    if data is None:
        data = source.everything()
        source.hash_of(data)
    with _lock:
        return _exif(data)


def read_metadata(exif: Exif, decoder: DecoderMetadata | None = None) -> Metadata:
    """Return what is recorded in a file; whatever is 0, 0/0, 65535 or blank is None.

    decoder: what LibRaw read, used field by field where Exif has nothing. What can't be read is
    a note.
    """
    notes = []
    if exif.problem:
        notes.append(f"metadata can't be read ({exif.problem})")
    metadata = _from_exif(exif.fields)
    if decoder is not None:
        completed = _completed(metadata, _trusted(decoder, exif.fields))
        if not exif.fields and completed != metadata:
            notes.append("metadata from the raw decoder alone")
        metadata = completed
    if metadata.lens is None and exif.lens_by_number is not None:
        notes.append(MAYBE_LENS.format(name=exif.lens_by_number))
    if metadata == Metadata() and not notes:
        notes.append("no metadata in the file")
    return replace(metadata, notes=tuple(notes))


def _exif(data: Bytes) -> Exif:
    try:
        image = exiv2.ImageFactory.open(data)
        image.readMetadata()
        exif = image.exifData()
        fields = {datum.key().removeprefix("Exif."): datum.toString() for datum in _wanted(exif)}
        named = exiv2.lensName(exif)
        lens = None if named is None else clean_text(named.print(exif))
    except exiv2.Exiv2Error as error:
        # The bindings give an error code and a text.
        return Exif({}, problem=str(error.args[-1]).strip())
    return Exif(fields, lens)


def _wanted(exif: Any) -> Iterator[Any]:
    for datum in exif:
        if datum.groupName() in ("Photo", "Image") and datum.size() < 1000:
            yield datum


def _from_exif(fields: Recorded) -> Metadata:
    marked_s, true_s = exposure_times(
        _first(fields, *EXPOSURE_KEYS[:2]), signed_number(fields.get(EXPOSURE_KEYS[2]))
    )
    when, zone_known = taken_at(
        fields.get("Photo.DateTimeOriginal") or fields.get("Image.DateTimeOriginal"),
        fields.get("Photo.OffsetTimeOriginal"),
        fields.get("Photo.SubSecTimeOriginal"),
    )
    iso = _first(fields, *ISO_KEYS)
    return Metadata(
        exposure_marked_s=marked_s,
        exposure_true_s=true_s,
        f_number=_f_number(fields),
        focal_mm=_first(fields, *FOCAL_KEYS),
        iso=None if iso is None else round(iso),
        taken_at=when,
        zone_known=zone_known,
        body=_body(fields),
        body_serial=_text(fields, "Photo.BodySerialNumber", "Image.CameraSerialNumber"),
        lens=_text(fields, "Photo.LensModel"),
        lens_serial=_text(fields, "Photo.LensSerialNumber"),
        firmware=_text(fields, "Image.Software"),
        exposure_mode=_mode(fields),
    )


def _first(fields: Recorded, *keys: str) -> float | None:
    return next((v for key in keys if (v := number(fields.get(key))) is not None), None)


def _text(fields: Recorded, *keys: str) -> str | None:
    return next((t for key in keys if (t := clean_text(fields.get(key))) is not None), None)


def _f_number(fields: Recorded) -> float | None:
    """FNumber, else the APEX aperture value Av = 2 log2(f-number), which is 0 without a lens."""
    plain = _first(fields, *APERTURE_KEYS[:2])
    apex = number(fields.get(APERTURE_KEYS[2]))
    if plain is None and apex is not None and apex < 16:
        return round(2.0 ** (apex / 2), 1)
    return plain


def _body(fields: Recorded) -> str | None:
    maker = clean_text(fields.get("Image.Make"))
    model = _text(fields, "Image.Model", "Image.UniqueCameraModel")
    if maker is None or model is None:
        return model
    return model if model.lower().startswith(maker.split()[0].lower()) else f"{maker} {model}"


def _mode(fields: Recorded) -> str | None:
    program = PROGRAMS.get(round(number(fields.get("Photo.ExposureProgram")) or 0))
    written = fields.get("Photo.ExposureMode", "")
    return program or (MODES.get(int(written)) if written.isdigit() else None)


def _trusted(decoder: DecoderMetadata, fields: Recorded) -> DecoderMetadata:
    """What LibRaw read, less what stands in the Exif fields, whatever these say.

    LibRaw makes x of x/0, and 1 s and f/1 of an APEX value of 0 that stands for "not known".
    """

    def spoilt(*keys: str) -> bool:
        return any(key in fields for key in keys)

    return replace(
        decoder,
        exposure_s=0.0 if spoilt(*EXPOSURE_KEYS) else decoder.exposure_s,
        f_number=0.0 if spoilt(*APERTURE_KEYS) else decoder.f_number,
        focal_mm=0.0 if spoilt(*FOCAL_KEYS) else decoder.focal_mm,
    )


def _completed(metadata: Metadata, decoder: DecoderMetadata) -> Metadata:
    """Fill what Exif lacks from the decoder, under the same rules for what says nothing."""
    marked_s, true_s = metadata.exposure_marked_s, metadata.exposure_true_s
    if marked_s is None:
        marked_s, true_s = exposure_times(number(str(decoder.exposure_s)))
    iso = metadata.iso or number(str(decoder.iso))
    return replace(
        metadata,
        exposure_marked_s=marked_s,
        exposure_true_s=true_s,
        f_number=metadata.f_number or _rounded(decoder.f_number),
        focal_mm=metadata.focal_mm or _rounded(decoder.focal_mm),
        iso=None if iso is None else round(iso),
        taken_at=metadata.taken_at or _after_start(decoder.taken_at),
        lens=metadata.lens or clean_text(decoder.lens),
    )


def _after_start(taken: datetime | None) -> datetime | None:
    """LibRaw's "no time" is the start of the computer's count, 1970 in any zone."""
    return None if taken is None or taken.year < FIRST_YEAR else taken


def _rounded(value: float) -> float | None:
    """LibRaw keeps 32-bit floats: 2.8 comes as 2.79999995."""
    plain = number(str(value))
    return None if plain is None else round(plain, 3)
