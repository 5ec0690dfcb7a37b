"""A developed picture as light: samples, colour space, and what its file says of itself."""

from __future__ import annotations

import warnings
from dataclasses import dataclass
from functools import cached_property
from typing import Any

import numpy as np
import tifffile
from PIL import Image, JpegImagePlugin
from scipy.ndimage import convolve

from nightglass.finish.codes import NoteCode, ProfileSource
from nightglass.finish.profiles import light_of_counts, profile_name, profile_of, to_light
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
STRIP_ROWS = 256
SOME = (slice(None, None, 7), slice(None, None, 7))
WEIGHTS = np.array([0.25, 0.5, 0.25], dtype=np.float32)
"""Of red, green and blue in the light."""


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
    own colours with its sky neutral. frame: of the file, its samples as they are there.
    """

    facts: FileFacts
    light: Floats32
    frame: Frame
    notes: tuple[NoteCode, ...]

    @property
    def is_raw(self) -> bool:
        """Whether the samples come from a camera's raw file."""
        return self.facts.kind == "raw"

    @cached_property
    def grey(self) -> Floats32:
        """The light of all colours together, (rows, columns)."""
        return light_of(self.light)

    def encoded(self, part: Any = ...) -> Floats32:
        """Return samples of a part from 0 to 1 as they are in the file, three planes.

        Raises ValueError for a raw frame.
        """
        if self.is_raw:
            raise ValueError("a raw frame has no encoded samples; use its light")
        return _encoded(self.frame, part)


def read_picture(path: str) -> Picture:
    """Open a raw frame or a developed picture. Raises FrameError: file, cause, what to do."""
    frame = open_frame(path)
    if frame.kind != "picture":
        return _raw(frame)
    with opened(path) as source:
        start = source.start()
        profile, kind, sampling, step = _inside(source, start)
    ceiling = float(frame.clipping.max())
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
    if frame.samples.ndim == 2 or _colourless(_encoded(frame, SOME)):
        notes.append(NoteCode.GREY)
    try:
        light = _light(frame, used)
    except ValueError as error:
        raise FrameError(path, str(error), "export it again with a profile of sRGB") from error
    return Picture(facts, light, frame, tuple(notes))


def light_of(planes: Floats32) -> Floats32:
    """Return the light (R + 2 G + B) / 4, (rows, columns)."""
    return np.asarray(planes @ WEIGHTS)


def _encoded(frame: Frame, part: Any) -> Floats32:
    samples = frame.samples[part]
    if frame.samples.ndim == 2:
        samples = np.repeat(samples[..., None], 3, axis=-1)
    values = samples.astype(np.float32)
    values /= np.float32(frame.clipping.max())
    return np.clip(values, 0, 1, out=values)


def _light(frame: Frame, profile: bytes) -> Floats32:
    """Strip by strip: the samples of a whole picture need not be there twice."""
    light = np.empty((frame.height_px, frame.width_px, 3), dtype=np.float32)
    for top in range(0, frame.height_px, STRIP_ROWS):
        part = slice(top, top + STRIP_ROWS)
        samples = frame.samples[part]
        if samples.dtype == np.uint16:
            cube = samples if samples.ndim == 3 else np.repeat(samples[..., None], 3, axis=2)
            counts = cube.astype(np.uint16, copy=False)
            light[part] = light_of_counts(counts, int(frame.clipping.max()), profile)
        else:
            light[part] = to_light(_encoded(frame, part), profile)
    return light


def _colourless(encoded: Floats32) -> bool:
    return bool(np.ptp(encoded, axis=2).max() == 0)


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
    return Picture(facts, light, frame, ())


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
