"""What the night was, from the catalogue stars of a solved frame: light, sky, limit, noise."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import numpy as np

from nightglass.frame.record import Frame
from nightglass.optics.arrays import Flags, Floats
from nightglass.optics.extent import MAD_TO_SIGMA
from nightglass.sky.astrometry.camera import pixel_area_arcsec2
from nightglass.sky.astrometry.refine import Solution
from nightglass.sky.photometry.codes import GainReason, LimitSource, NightNote, NoiseSource
from nightglass.sky.photometry.gain import Gain, measure_gain
from nightglass.sky.photometry.limit import limiting_magnitude
from nightglass.sky.photometry.open_sky import Hits, hits_of, in_open, open_cells_of
from nightglass.sky.photometry.zero_point import ZeroPoint, zero_point
from nightglass.sky.stars.find import Detections

MOST_TIMES = 10
READ_NOISE_SHARE = 0.05
"""Lengthening of the noise by the readout from which a frame is limited by it; common practice."""
MOSTLY_OPEN = 0.5
BLACK_ERR_COUNTS = 1.0
"""Doubt in the black level, as files without a masked border leave it."""
LONG_SCALE_TILES = 10
"""The sky's glow changes slowly: the open tiles' scatter counts as that of so many alone."""


@dataclass(frozen=True)
class Night:
    """The night as one frame shows it; None where it can't be known: notes and reasons say why.

    zero_point_mag: G magnitude of a star that gives one green count per second at the optical
    centre, air included. falloff: light at the corner of the frame over that at the centre.
    """

    zero_point_mag: float | None
    zero_point_err: float | None
    zero_point_scatter: float | None
    """Scatter of single stars: their colours, which the catalogue does not have."""
    zero_point_stars: int
    falloff: float | None
    sky_mag_arcsec2: float | None
    sky_err: float | None
    limiting_mag: float | None
    limiting_err: float | None
    limiting_from: LimitSource
    stars_recorded: int
    open_sky: float
    """Share of the frame that shows sky."""
    sky_noise_counts: float | None
    gain_e_per_count: float | None
    read_noise_counts: float | None
    limited_by: NoiseSource
    notes: tuple[NightNote, ...]
    falloff_terms: tuple[float, float] | None = None
    """Magnitudes lost at field radius q: the terms of q^2 and q^4; None where too few stars or
    too little of the field was seen to tell."""
    falloff_covariance: tuple[float, float, float] | None = None
    """Of these terms: variance, covariance, variance."""
    open_cells: Flags | None = None
    """Squares of CELL_PX of the frame that show sky, (rows, columns); see in_open_sky."""
    gain_e_per_count_err: float | None = None
    read_noise_counts_err: float | None = None
    gain_reason: GainReason | None = None
    """Why gain and read noise are not known."""
    gain_share_err: float | None = None
    """Relative error that the gain would have, where it is too large for a number."""
    noise_times_sky: float | None = None
    """All noise over that of the sky's light alone; None where the read noise is not known."""
    patchy_mag: float | None = None
    """By how much stars differ from place to place where they should not; None: they do not."""
    side_to_side_mag: float | None = None
    """By how much stars fade from one side of the frame to the other; None: they do not."""


def in_open_sky(night: Night, x_px: Floats, y_px: Floats) -> Flags:
    """Return whether places of the frame lie in its open sky; everywhere where that is unknown."""
    if night.open_cells is None:
        return np.ones(np.shape(x_px), dtype=bool)
    return in_open(night.open_cells, x_px, y_px)


def measure_night(
    frame: Frame, found: Detections, solution: Solution, exposure_s: float | None
) -> Night:
    """Return light, sky and limit of a solved frame.

    exposure_s: true seconds; without it zero point and sky brightness are None. Raises ValueError
    for a time of 0 or less.
    """
    if exposure_s is not None and not exposure_s > 0:
        raise ValueError(f"exposure_s is {exposure_s:g}; an exposure is longer than 0")
    hits = hits_of(found, solution)
    open_cells = open_cells_of(hits, solution)
    point = zero_point(found, solution, hits, open_cells)
    night = _with_light(_without_light(frame, found, hits, open_cells), point, exposure_s)
    notes = _notes(night, frame, point, exposure_s)
    if point is not None and exposure_s is not None and frame.kind == "mosaic":
        sky, sky_err = _sky(found, solution, point, open_cells)
        night = replace(night, sky_mag_arcsec2=sky, sky_err=sky_err)
    return replace(night, notes=tuple(notes))


def _without_light(frame: Frame, found: Detections, hits: Hits, open_cells: Flags) -> Night:
    """What needs no zero point: stars, limit, noise and gain."""
    limit, limit_err, limit_from = limiting_magnitude(hits, open_cells)
    gain = _gain(frame, found, open_cells)
    noise = float(np.nanmedian(found.sky.noise[..., 1]))
    source, times_sky = noise_source(gain.read_noise_counts, noise)
    stars = found.stars
    return Night(
        zero_point_mag=None,
        zero_point_err=None,
        zero_point_scatter=None,
        zero_point_stars=0,
        falloff=None,
        sky_mag_arcsec2=None,
        sky_err=None,
        limiting_mag=limit,
        limiting_err=limit_err,
        limiting_from=limit_from,
        stars_recorded=int(np.count_nonzero(in_open(open_cells, stars.x_px, stars.y_px))),
        open_sky=float(np.mean(open_cells)),
        sky_noise_counts=noise,
        gain_e_per_count=gain.e_per_count,
        read_noise_counts=gain.read_noise_counts,
        limited_by=source,
        notes=(),
        open_cells=open_cells,
        gain_e_per_count_err=gain.e_per_count_err,
        read_noise_counts_err=gain.read_noise_err,
        gain_reason=gain.reason,
        gain_share_err=gain.share_err,
        noise_times_sky=times_sky,
    )


def _with_light(night: Night, point: ZeroPoint | None, exposure_s: float | None) -> Night:
    if point is None:
        return night
    if any(point.doubt):
        terms = (-point.slope, -point.slope2)
        night = replace(
            night,
            falloff=10 ** (-0.4 * sum(terms)),
            falloff_terms=terms,
            falloff_covariance=point.doubt,
        )
    if exposure_s is not None:
        zero = point.zero + 2.5 * math.log10(1 / exposure_s)
        night = replace(night, zero_point_mag=zero, zero_point_err=point.err)
    return replace(
        night,
        zero_point_scatter=point.scatter,
        zero_point_stars=point.stars,
        patchy_mag=point.patchy or None,
        side_to_side_mag=point.lean or None,
    )


def _notes(
    night: Night, frame: Frame, point: ZeroPoint | None, exposure_s: float | None
) -> list[NightNote]:
    """What light and sky hold, and what stands in their way."""
    said = {
        NightNote.AIR_IN_ZERO_POINT: night.zero_point_mag is not None,
        NightNote.LITTLE_OPEN_SKY: night.open_sky < MOSTLY_OPEN,
        NightNote.TOO_FEW_STARS: point is None,
        NightNote.NO_EXPOSURE: point is not None and exposure_s is None,
        NightNote.PATCHY: night.patchy_mag is not None,
        NightNote.FADES_TO_A_SIDE: night.side_to_side_mag is not None,
        NightNote.NO_MOSAIC: frame.kind != "mosaic",
    }
    return [note for note, holds in said.items() if holds]


def _sky(
    found: Detections, solution: Solution, point: ZeroPoint, open_cells: Flags
) -> tuple[float | None, float | None]:
    """Median over open tiles of the inner half of the field."""
    rows, columns = found.sky.level.shape[:2]
    y, x = np.mgrid[0:rows, 0:columns] * float(found.sky.tile_px) + found.sky.tile_px / 2
    camera = solution.camera
    q = np.hypot(x - camera.centre_x_px, y - camera.centre_y_px) / camera.half_diagonal_px
    level = found.sky.level[..., 1].astype(np.float64)
    used = in_open(open_cells, x, y) & (q < 0.6) & (level > 0)
    if np.count_nonzero(used) < 4:
        return None, None
    area = pixel_area_arcsec2(camera, x[used], y[used])
    value = point.at(q[used]) - 2.5 * np.log10(level[used] / area)
    scatter = MAD_TO_SIGMA * float(np.median(np.abs(value - np.median(value))))
    black = 1.0857 * BLACK_ERR_COUNTS / float(np.median(level[used]))
    own = scatter / math.sqrt(LONG_SCALE_TILES)
    return float(np.median(value)), math.hypot(point.err, black, own)


def _gain(frame: Frame, found: Detections, open_cells: Flags) -> Gain:
    rows, columns = found.sky.level.shape[:2]
    y, x = np.mgrid[0:rows, 0:columns] * float(found.sky.tile_px) + found.sky.tile_px / 2
    return measure_gain(frame, found, in_open(open_cells, x, y))


def noise_source(read: float | None, noise: float) -> tuple[NoiseSource, float | None]:
    """Return whether sky or readout sets the noise, and all noise over that of the sky's light
    alone; read: the readout's noise [counts], noise: all [counts]."""
    if read is None:
        return NoiseSource.UNKNOWN, None
    times = noise / math.sqrt(max(noise**2 - read**2, 1e-9))
    if times - 1 <= READ_NOISE_SHARE:
        return NoiseSource.SKY, times
    if times >= MOST_TIMES:
        return NoiseSource.READOUT, times
    return NoiseSource.SKY_AND_READOUT, times
