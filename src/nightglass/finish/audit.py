"""One developed picture, or several, held against the reference they were developed from."""

from __future__ import annotations

import hashlib
import math
from collections.abc import Iterator
from dataclasses import dataclass, replace

import numpy as np
from scipy.ndimage import median_filter

from nightglass.finish.blocks import block_edges, clipped_share
from nightglass.finish.codes import NoteCode, UncomparedCode
from nightglass.finish.colour import background_shift, saturation, star_colours, star_shift
from nightglass.finish.common import Common, on_one_grid
from nightglass.finish.findings import findings_of
from nightglass.finish.noise import noise_bands
from nightglass.finish.picture import LEAST_SIDE_PX, Picture, light_of
from nightglass.finish.placing.align import Placement, described, placed
from nightglass.finish.placing.whole_pixels import on_whole_pixels
from nightglass.finish.records import Audit
from nightglass.finish.sampled import MOST_VALUES, some, whole_steps
from nightglass.finish.spaces import profile_fit
from nightglass.finish.starlight import Followed, light_shares, star_bins, star_shape
from nightglass.finish.worst import worst_places
from nightglass.frame.record import Frame
from nightglass.optics.arrays import Flags, Floats32, Ints64
from nightglass.sky.stars.find import FoundStars, find_stars

FINEST_LIGHT = 65535.0
"""The star finder's numbers are those of whole counts: light is handed to it as large."""
LEAST_COVERED = 0.05
FEW_STARS = 30
NEARLY = 0.5
SATURATION_LIMITS = (0.5, 2.0)
"""Beyond these the slope says that the stars' colours are gone, not how colour noise scales."""


@dataclass(frozen=True)
class Reference:
    """The reference and its stars, found once for all pictures."""

    picture: Picture
    stars: FoundStars


def reference_of(picture: Picture) -> Reference:
    """Return a picture with its stars. Raises ValueError if it is too small to hold any."""
    stars = stars_of(picture)
    return Reference(picture, stars.chosen(_stands_out(picture.grey, stars)))


def _stands_out(light: Floats32, stars: FoundStars) -> Flags:
    """Which stars are the brightest thing within 5 px, or nearly so.

    Between two bright stars the finder's centre may end on neither: such a one can't be lost.
    """
    level = median_filter(light[::8, ::8], 9)
    y, x = np.rint(stars.y_px).astype(int), np.rint(stars.x_px).astype(int)
    at = (np.clip(y, 0, light.shape[0] - 1), np.clip(x, 0, light.shape[1] - 1))
    sky = level[at[0] // 8, at[1] // 8]
    own, around = (_highest(light, at, half) - sky for half in (1, 5))
    return np.asarray(own >= NEARLY * around)


def _highest(light: Floats32, at: tuple[Ints64, Ints64], half: int) -> Floats32:
    """The largest light in squares about places, half a side each way."""
    out = np.full(len(at[0]), -np.inf, dtype=np.float32)
    for dy, dx in np.ndindex(2 * half + 1, 2 * half + 1):
        i = np.clip(at[0] + dy - half, 0, light.shape[0] - 1)
        j = np.clip(at[1] + dx - half, 0, light.shape[1] - 1)
        np.maximum(out, light[i, j], out=out)
    return out


def stars_of(picture: Picture) -> FoundStars:
    """Return the stars of a raw frame from its mosaic, of a picture from its light."""
    if picture.is_raw and picture.frame.samples.ndim == 2:
        return find_stars(picture.frame).stars
    grey = picture.grey * np.float32(FINEST_LIGHT)
    frame = Frame(
        samples=grey, pattern=np.array([[1]], dtype=np.uint8), black=np.zeros((1, 1)),
        clipping=np.full((1, 1), FINEST_LIGHT), kind="picture", file=picture.facts.file,
    )  # fmt: skip
    return find_stars(frame).stars


def audit(reference: Reference, picture: Picture) -> Audit:
    """Return all that the finishing did to one picture, or why it can't be told."""
    shape = picture.light.shape
    bare = Audit(picture.facts, picture.notes, pixels_hash=_pixels_hash(picture))
    if min(shape[:2]) < LEAST_SIDE_PX:
        return replace(bare, reason=UncomparedCode.TOO_SMALL)
    whole = reference.picture.light.shape
    sizes = ((shape[1], shape[0]), (whole[1], whole[0]))
    place = placed(stars_of(picture), reference.stars, picture.grey, sizes)
    if isinstance(place, UncomparedCode):
        return replace(bare, reason=place)
    place = on_whole_pixels(place, picture.grey, reference.picture.grey)
    place = described(place, *sizes)
    bare = replace(bare, placement=place, notes=(*bare.notes, *place.notes))
    if place.covered_share < LEAST_COVERED:
        return replace(bare, reason=UncomparedCode.SMALL_OVERLAP)
    return _measured(bare, reference, picture, place)


def _measured(bare: Audit, reference: Reference, picture: Picture, place: Placement) -> Audit:
    stars = _followed(reference.stars, place, (picture.light.shape[1], picture.light.shape[0]))
    common = on_one_grid(picture, reference.picture, place, stars.clear)
    raw, grey = reference.picture.is_raw, NoteCode.GREY in bare.notes
    own, before, expected = star_colours(common, stars)
    colour = None if grey else saturation(own, expected)
    share = 1.0 if colour is None else float(np.clip(colour[0], *SATURATION_LIMITS))
    step = _step(picture, common)
    shares = light_shares(common, stars)
    part = common.sampled
    found = replace(
        bare,
        notes=(*bare.notes, *_notes(common, reference, stars, step)),
        tones=common.tones,
        stars=star_bins(stars, shares),
        shape=star_shape(common, stars, shares),
        noise=noise_bands(common, share, raw, step),
        star_shift=None if grey or raw else star_shift(own, before),
        background_shift=None if grey or raw else background_shift(common),
        saturation=None if colour is None else colour[0],
        saturation_err=None if colour is None else colour[1],
        clipped_percent=_clipped(picture, common),
        reference_clipped_percent=_clipped(reference.picture, common),
        blocks=block_edges(
            _as_seen(part.picture_light), _as_seen(part.expected_light),
            whole_steps(part.sky, common.squares), picture.facts.kind == "JPEG",
        ),
    )  # fmt: skip
    fit = None if raw or grey else profile_fit(picture, common)
    findings, views = worst_places(findings_of(found, raw, fit), common, stars, shares)
    return replace(found, findings=findings, views=views)


def _followed(stars: FoundStars, place: Placement, size: tuple[int, int]) -> Followed:
    """Reference stars at their places in the picture, those inside."""
    z = place.back(stars.x_px + 1j * stars.y_px)
    inside = (z.real > 0) & (z.real < size[0] - 1) & (z.imag > 0) & (z.imag < size[1] - 1)
    kept = stars.chosen(inside)
    return Followed(z.real[inside], z.imag[inside], kept.flux_counts, kept.snr, kept.clipped)


def _notes(
    common: Common, reference: Reference, stars: Followed, step: float
) -> Iterator[NoteCode]:
    if reference.picture.is_raw:
        yield NoteCode.RAW_REFERENCE
    if common.resampled:
        yield NoteCode.RESCALED if common.rescaled else NoteCode.RESAMPLED
    low, high = np.percentile(some(common.expected_light, common.sky), [16, 84])
    if step > (high - low) / 2:
        yield NoteCode.COARSE_STEPS
    if len(stars.clear[0]) < FEW_STARS:
        yield NoteCode.FEW_STARS


def _step(picture: Picture, common: Common) -> float:
    """Light between two neighbouring whole numbers of the file at the sky; 0 for raw frames."""
    if picture.is_raw or picture.facts.bits is None:
        return 0.0
    every = max(math.isqrt(common.sky.size // MOST_VALUES), 1)
    grid = (slice(None, None, every), slice(None, None, every))
    sky = common.sky[grid]
    encoded, light = light_of(picture.encoded(grid))[sky], common.picture_light[grid][sky]
    if encoded.size == 0:
        return 0.0
    level = float(np.median(encoded))
    near = np.abs(encoded - level) < max(0.1 * level, 0.02)
    spread = float(np.std(encoded[near]))
    if spread <= 0:
        return 0.0
    slope = float(np.std(light[near])) / spread
    return slope / (2**picture.facts.bits - 1)


def _clipped(picture: Picture, common: Common) -> float | None:
    if picture.is_raw:
        return None
    valid = common.valid
    if picture.light.shape[:2] != valid.shape:
        valid = np.ones(picture.light.shape[:2], dtype=bool)
    return 100 * clipped_share(picture.frame.samples, valid)


def _as_seen(light: Floats32) -> Floats32:
    """Light by a root, near to what files hold and eyes see: JPEG's steps are even in it."""
    return np.sqrt(np.maximum(light, 0))


def _pixels_hash(picture: Picture) -> str:
    samples = np.ascontiguousarray(picture.frame.samples)
    head = f"{picture.facts.bits} {samples.shape}".encode()
    digest = hashlib.blake2b(head, digest_size=20)
    digest.update(samples.data)
    return digest.hexdigest()
