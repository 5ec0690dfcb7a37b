"""What the night was, from the catalogue stars of a solved frame: light, sky, limit, noise."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from nightglass.frame.record import Frame
from nightglass.sky.camera import pixel_area_arcsec2
from nightglass.sky.find import Found
from nightglass.sky.gain import Gain, measure_gain
from nightglass.sky.opensky import LEAST_STARS, Hits, hits_of, in_open, open_cells_of
from nightglass.sky.refine import Solution, catalogue_vectors

Array = NDArray[np.float64]

LEAST_SNR = 20.0
CATALOGUE_COMPLETE_G = 9.5
"""The catalogue goes to G 10; half a magnitude is left for the fit to see the stars vanish."""
MOST_TIMES = 10
READ_NOISE_SHARE = 0.05
"""Lengthening of the noise by the readout from which a frame is limited by it; common practice."""


@dataclass(frozen=True)
class Night:
    """The night as one frame shows it; None where it can't be known, the notes say why.

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
    limiting_from: str
    stars_recorded: int
    open_sky: float
    """Share of the frame that shows sky."""
    sky_noise_counts: float | None
    gain_e_per_count: float | None
    read_noise_counts: float | None
    limited_by: str
    notes: tuple[str, ...]
    falloff_terms: tuple[float, float] | None = None
    """Magnitudes lost at field radius q: the terms of q^2 and q^4; None where too few stars or
    too little of the field was seen to tell."""
    falloff_covariance: tuple[float, float, float] | None = None
    """Of these terms: variance, covariance, variance."""
    open_cells: NDArray[np.bool_] | None = None
    """Squares of CELL_PX of the frame that show sky, (rows, columns); see in_open_sky."""
    gain_e_per_count_err: float | None = None
    read_noise_counts_err: float | None = None


def in_open_sky(night: Night, x_px: Array, y_px: Array) -> NDArray[np.bool_]:
    """Return whether places of the frame lie in its open sky; everywhere where that is unknown."""
    if night.open_cells is None:
        return np.ones(np.shape(x_px), dtype=bool)
    return in_open(night.open_cells, x_px, y_px)


def measure_night(
    frame: Frame, found: Found, solution: Solution, exposure_s: float | None
) -> Night:
    """Return light, sky and limit of a solved frame.

    exposure_s: true seconds; without it zero point and sky brightness are None. Raises ValueError
    for a time of 0 or less.
    """
    if exposure_s is not None and not exposure_s > 0:
        raise ValueError(f"exposure_s is {exposure_s:g}; an exposure is longer than 0")
    notes: list[str] = []
    hits = hits_of(found, solution)
    open_cells = open_cells_of(hits, solution)
    point = _zero_point(found, solution)
    gain = _gain(frame, found, open_cells)
    if gain.reason:
        notes.append(gain.reason)
    limit, limit_err, limit_from = _limit(hits, open_cells)
    noise = float(np.nanmedian(found.sky.noise[..., 1]))
    zero = err = scatter = falloff = sky = sky_err = terms = doubt = None
    if point is None:
        notes.append(f"fewer than {LEAST_STARS} unclipped catalogue stars of SNR {LEAST_SNR:g}")
    else:
        scatter = point.scatter
        if any(point.doubt):
            terms, doubt = (-point.slope, -point.slope2), point.doubt
            falloff = 10 ** (-0.4 * sum(terms))
        if exposure_s is None:
            notes.append("exposure time not recorded: no zero point, no sky brightness")
        else:
            zero = point.zero + 2.5 * math.log10(1 / exposure_s)
            err = point.err
            notes.insert(
                0,
                "the zero point holds the air's extinction: the sky is called as bright as stars "
                "seen through that air",
            )
            sky, sky_err = _sky(frame, found, solution, point, open_cells)
    if frame.kind != "mosaic":
        notes.append("black level and linearity of this file are not known: sky is a guess")
        sky = sky_err = None
    stars = found.stars
    recorded = int(np.count_nonzero(in_open(open_cells, stars.x_px, stars.y_px)))
    return Night(
        zero_point_mag=zero,
        zero_point_err=err,
        zero_point_scatter=scatter,
        zero_point_stars=0 if point is None else point.stars,
        falloff=falloff,
        sky_mag_arcsec2=sky,
        sky_err=sky_err,
        limiting_mag=limit,
        limiting_err=limit_err,
        limiting_from=limit_from,
        stars_recorded=recorded,
        open_sky=float(np.mean(open_cells)),
        sky_noise_counts=noise,
        gain_e_per_count=gain.e_per_count,
        read_noise_counts=gain.read_noise_counts,
        limited_by=noise_words(gain.read_noise_counts, noise),
        notes=tuple(notes),
        falloff_terms=terms,
        falloff_covariance=doubt,
        open_cells=open_cells,
        gain_e_per_count_err=gain.e_per_count_err,
        read_noise_counts_err=gain.read_noise_err,
    )


@dataclass(frozen=True)
class _Point:
    """Magnitude of one count: zero + slope q^2 + slope2 q^4, q the field radius."""

    zero: float
    slope: float
    slope2: float
    err: float
    scatter: float
    stars: int
    doubt: tuple[float, float, float]
    """Variance, covariance, variance of the slopes; zeros where no slope was fitted."""

    def at(self, q: Array) -> Array:
        return self.zero + self.slope * q**2 + self.slope2 * q**4


def _zero_point(found: Found, solution: Solution) -> _Point | None:
    stars, match = found.stars, solution.match
    _, magnitudes = catalogue_vectors()
    pairs, known = match.found, magnitudes[match.catalogue]
    good = (stars.snr[pairs] >= LEAST_SNR) & ~stars.clipped[pairs]
    good &= (stars.flux_counts[pairs] > 0) & (stars.edge[pairs] == 0)
    pairs, known = pairs[good], known[good]
    if pairs.size < LEAST_STARS:
        return None
    value = known + 2.5 * np.log10(stars.flux_counts[pairs])
    camera = solution.camera
    q = np.hypot(stars.x_px[pairs] - camera.centre_x_px, stars.y_px[pairs] - camera.centre_y_px)
    q = q / camera.half_diagonal_px
    wide = bool(np.ptp(q) > 0.5 and pairs.size >= 40)
    design = np.stack([np.ones_like(q), q**2, q**4], axis=1)[:, : 3 if wide else 1]
    keep = np.ones(q.size, dtype=bool)
    answer: Array = np.zeros(design.shape[1])
    scatter = 0.0
    for _ in range(6):
        answer = np.asarray(np.linalg.lstsq(design[keep], value[keep], rcond=None)[0])
        miss = value - design @ answer
        scatter = 1.4826 * float(np.median(np.abs(miss[keep] - np.median(miss[keep]))))
        keep = np.abs(miss) < 3 * max(scatter, 0.02)
    covariance = np.linalg.inv(design[keep].T @ design[keep]) * max(scatter, 0.01) ** 2
    full = np.zeros(3)
    full[: answer.size] = answer
    doubt = covariance[1:, 1:] if wide else np.zeros((2, 2))
    return _Point(
        zero=float(full[0]),
        slope=float(full[1]),
        slope2=float(full[2]),
        err=math.sqrt(float(covariance[0, 0])),
        scatter=scatter,
        stars=int(np.count_nonzero(keep)),
        doubt=(float(doubt[0, 0]), float(doubt[0, 1]), float(doubt[1, 1])),
    )


def _sky(
    frame: Frame, found: Found, solution: Solution, point: _Point, open_cells: NDArray[np.bool_]
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
    scatter = 1.4826 * float(np.median(np.abs(value - np.median(value))))
    # One count of doubt in the black level, as files without a masked border leave it.
    black = 1.0857 / float(np.median(level[used]))
    return float(np.median(value)), math.hypot(point.err, black, scatter / math.sqrt(10))


def _limit(hits: Hits, open_cells: NDArray[np.bool_]) -> tuple[float | None, float | None, str]:
    """Magnitude at which half of the catalogue stars of the open sky are found."""
    inside = in_open(open_cells, hits.x, hits.y)
    magnitude, hit = hits.magnitude[inside], hits.star[inside] >= 0
    edges = np.arange(3.0, CATALOGUE_COMPLETE_G + 0.01, 0.25)
    bins = np.digitize(magnitude, edges) - 1
    count = np.bincount(bins[bins >= 0], minlength=edges.size)[: edges.size - 1]
    seen = np.bincount(bins[(bins >= 0) & hit], minlength=edges.size)[: edges.size - 1]
    known = np.flatnonzero(count >= 8)
    share = seen[known] / count[known]
    middles = edges[known] + 0.125
    for k in range(1, known.size):
        if share[k - 1] >= 0.5 > share[k]:
            part = (share[k - 1] - 0.5) / (share[k - 1] - share[k])
            slope = (share[k - 1] - share[k]) / (middles[k] - middles[k - 1])
            err = math.sqrt(0.25 / count[known[k]]) / max(float(slope), 0.2)
            value = middles[k - 1] + part * (middles[k] - middles[k - 1])
            return float(value), err, "half of the catalogue stars found"
    if hits.limit is None:
        return None, None, "too few stars near the limit"
    words = "line of SNR on magnitude"
    if hits.limit > CATALOGUE_COMPLETE_G:
        words += ", beyond the end of the catalogue"
    return hits.limit, hits.limit_err, words


def _gain(frame: Frame, found: Found, open_cells: NDArray[np.bool_]) -> Gain:
    rows, columns = found.sky.level.shape[:2]
    y, x = np.mgrid[0:rows, 0:columns] * float(found.sky.tile_px) + found.sky.tile_px / 2
    return measure_gain(frame, found, in_open(open_cells, x, y))


def noise_words(read: float | None, noise: float) -> str:
    """Return in words whether sky or readout sets the noise; read: its noise [counts], noise: all
    [counts]."""
    if read is None:
        return "not known"
    sky = math.sqrt(max(noise**2 - read**2, 1e-9))
    lengthened = noise / sky - 1
    if lengthened <= READ_NOISE_SHARE:
        return f"the sky's light (the readout makes it {100 * lengthened:.1f} % larger)"
    if lengthened >= MOST_TIMES - 1:
        return f"the readout (over {MOST_TIMES} times what the sky's light alone would give)"
    return (
        f"the sky's light and the readout (together {1 + lengthened:.1f} times what the sky's "
        "light alone would give; longer exposures help)"
    )
