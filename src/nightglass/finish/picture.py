"""A developed picture as light: samples, colour space, and what its file says of itself."""

from __future__ import annotations

import warnings
from dataclasses import dataclass

import numpy as np
import tifffile
from PIL import Image, JpegImagePlugin
from scipy.ndimage import convolve

from nightglass.finish.codes import NoteCode, ProfileSource
from nightglass.finish.profiles import profile_name, profile_of, to_light
from nightglass.frame.errors import FrameError
from nightglass.frame.open import open_frame
from nightglass.frame.picture import JPEG_START, PNG_START
from nightglass.frame.record import Frame
from nightglass.frame.source import Source, opened
from nightglass.optics.arrays import Floats32

ASSUMED_SPACE = "sRGB"
"""Of a picture without a profile (common practice; W3C CSS Color 4, section 12 says the same)."""
ICC_TAG = 34675
SUBSAMPLINGS = {0: "4:4:4", 1: "4:2:2", 2: "4:2:0"}
LEAST_SIDE_PX = 128


@dataclass(frozen=True)
class FileFacts:
    """What a file says of itself; None is "not in this kind of file"."""

    file: str
    content_hash: str
    kind: str
    """raw, TIFF, PNG, JPEG or FITS."""
    width_px: int
    height_px: int
    bits: int | None
    """Bits per colour of the file's whole numbers; None for raw frames and broken numbers."""
    profile: str | None
    profile_from: ProfileSource
    subsampling: str | None = None
    quantisation: float | None = None
    """Mean step of a JPEG's first table."""


@dataclass(frozen=True)
class Picture:
    """A picture as light.

    light: (rows, columns, 3) float32, linear; of sRGB's primaries, for a raw frame the camera's
    own colours with its sky neutral. encoded: the samples from 0 to 1 as they are in the file;
    None for a raw frame. frame: of the file, for the stars of a raw frame.
    """

    facts: FileFacts
    light: Floats32
    encoded: Floats32 | None
    frame: Frame
    notes: tuple[NoteCode, ...]

    @property
    def is_raw(self) -> bool:
        """Whether the samples come from a camera's raw file."""
        return self.encoded is None


def read_picture(path: str) -> Picture:
    """Open a raw frame or a developed picture. Raises FrameError: file, cause, what to do."""
    frame = open_frame(path)
    if frame.kind != "picture":
        return _raw(frame)
    with opened(path) as source:
        start = source.start()
        profile, kind, sampling, step = _inside(source, start)
    ceiling = float(frame.clipping.max())
    grey = frame.samples.ndim == 2
    planes = np.repeat(frame.samples[..., None], 3, axis=2) if grey else frame.samples
    encoded = np.clip(planes.astype(np.float32) / np.float32(ceiling), 0, 1)
    name = None if profile is None else profile_name(profile)
    used = profile if profile is not None and name is not None else profile_of(ASSUMED_SPACE)
    known = name is not None
    bits = {255.0: 8, 65535.0: 16}.get(ceiling) if frame.samples.dtype == np.uint16 else None
    facts = FileFacts(
        frame.file, frame.content_hash, kind, frame.width_px, frame.height_px, bits,
        name or ASSUMED_SPACE, ProfileSource.EMBEDDED if known else ProfileSource.ASSUMED,
        sampling, step,
    )  # fmt: skip
    # A profile of grey says nothing that this program could use for three planes: sRGB stands in.
    notes = [NoteCode.NO_PROFILE] if not known else []
    if grey or _colourless(encoded):
        notes.append(NoteCode.GREY)
    try:
        light = to_light(encoded, used)
    except ValueError as error:
        raise FrameError(path, str(error), "export it again with a profile of sRGB") from error
    return Picture(facts, light, encoded, frame, tuple(notes))


def _colourless(encoded: Floats32) -> bool:
    return bool(np.ptp(encoded[::7, ::7], axis=2).max() == 0)


def _inside(source: Source, start: bytes) -> tuple[bytes | None, str, str | None, float | None]:
    """Profile, kind of file, subsampling and mean quantisation step."""
    source.stream.seek(0)
    if start.startswith((JPEG_START, PNG_START)):
        with warnings.catch_warnings(action="ignore"), Image.open(source.stream) as image:
            profile = image.info.get("icc_profile")
            if not isinstance(image, JpegImagePlugin.JpegImageFile):
                return profile, "PNG", None, None
            sampling = SUBSAMPLINGS.get(JpegImagePlugin.get_sampling(image))
            tables = image.quantization
            step = float(np.mean(tables[min(tables)])) if tables else None
            return profile, "JPEG", sampling if len(image.getbands()) == 3 else None, step
    if start.startswith((b"II", b"MM")):
        with tifffile.TiffFile(source.stream) as tiff:
            tag = tiff.pages.first.tags.get(ICC_TAG)
            return (None if tag is None else bytes(tag.value)), "TIFF", None, None
    return None, "FITS", None, None


def _raw(frame: Frame) -> Picture:
    """The frame with its colours filled in between the samples, straight lines, sky neutral."""
    light = filled_in(frame)
    sky = np.median(light[::3, ::3].reshape(-1, 3), axis=0)
    light *= np.float32(sky.mean()) / np.maximum(sky, np.float32(1e-6))
    facts = FileFacts(
        frame.file, frame.content_hash, "raw", frame.width_px, frame.height_px, None, None,
        ProfileSource.RAW,
    )  # fmt: skip
    return Picture(facts, light, None, frame, ())


def filled_in(frame: Frame) -> Floats32:
    """Return (rows, columns, 3) linear light over black, 1 at clipping.

    Missing colours are weighted means of the nearest samples of their colour (bilinear on a Bayer
    mosaic; the same weights on any other).
    """
    span = frame.clipping - frame.black
    rows, columns = frame.height_px, frame.width_px
    if frame.samples.ndim == 3:
        return ((frame.samples - frame.black[0]) / span[0]).astype(np.float32)
    p, q = frame.pattern.shape
    repeat = (-(-rows // p), -(-columns // q))

    def tiled(values: np.ndarray) -> np.ndarray:
        return np.tile(values, repeat)[:rows, :columns]

    values = ((frame.samples - tiled(frame.black)) / tiled(span)).astype(np.float32)
    colour = tiled(frame.pattern)
    if set(np.unique(frame.pattern).tolist()) == {1}:
        return np.repeat(values[..., None], 3, axis=2)
    half = 2 if p == 2 else 3
    ramp = np.minimum(np.arange(1, 2 * half), np.arange(2 * half - 1, 0, -1)).astype(np.float32)
    weights = np.outer(ramp, ramp)
    light = np.empty((rows, columns, 3), dtype=np.float32)
    for k in range(3):
        mine = (colour == k).astype(np.float32)
        near = convolve(values * mine, weights, mode="mirror")
        light[..., k] = np.where(mine > 0, values, near / convolve(mine, weights, mode="mirror"))
    return light
