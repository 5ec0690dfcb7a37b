"""All stars of a frame, found and measured in the linear mosaic."""

from __future__ import annotations

from dataclasses import dataclass, fields

import numpy as np

from nightglass.frame.record import Frame
from nightglass.optics.arrays import Flags, Floats, Floats32, Indices, Ints32
from nightglass.optics.extent import GAUSSIAN_LENGTH
from nightglass.sky.stars.background import KNOT_PX, SkyLevel, noise_at, sky_level
from nightglass.sky.stars.bulk import COLUMNS, PEDESTAL, RATIOS, Setting, measure_all
from nightglass.sky.stars.discs import BIN_PX, WIDE_SIGMA_PX, disc_peaks, discs, usual_length
from nightglass.sky.stars.photon_noise import photon_variance
from nightglass.sky.stars.scan import filter_weights, search, search_again, strongest_within

LEAST_SNR = 5.0
"""Of the matched filter; 24 million samples of pure noise hold about 20 higher peaks."""
FIRST_SIGMA_PX = 1.2
"""Width of the first matched filter: within 8 % of the best SNR for stars of FWHM 1.8 to 4.5 px."""
LEAST_APERTURE_PX, MOST_APERTURE_PX = 5.0, 24.0
MOST_DISC_APERTURE_PX = 64.0
SAMPLE_STARS = 300
"""Strongest peaks from which the frame's usual width and colour of stars are taken."""
CLIPPED_SHARE = 0.98
CLUTTER_SCATTER = 2.5
"""Scatter in the ring over that of the sky from which land, cloud or a trail is taken as such."""


@dataclass(frozen=True)
class FoundStars:
    """What was found, strongest first: arrays of equal length.

    Lengths and widths follow the definitions of one star spot for sky noise alone; nan where the
    light is too little (snr under 10). ring_scatter: noise in the ring over the sky's.
    """

    x_px: Floats
    y_px: Floats
    x_px_err: Floats
    y_px_err: Floats
    flux_counts: Floats
    flux_counts_err: Floats
    snr: Floats
    length_px: Floats
    width_px: Floats
    length_px_err: Floats
    width_px_err: Floats
    angle_degrees: Floats
    spread_xx: Floats
    spread_xy: Floats
    spread_yy: Floats
    aperture_px: Floats
    peak_share: Floats
    ring_scatter: Floats
    edge: Floats

    def __len__(self) -> int:
        return int(self.x_px.size)

    @property
    def clipped(self) -> Flags:
        """Whether a sample reaches the clipping level."""
        return self.peak_share >= CLIPPED_SHARE

    def chosen(self, which: Flags | Indices) -> FoundStars:
        """Return the chosen stars, in their order."""
        return FoundStars(**{f.name: getattr(self, f.name)[which] for f in fields(self)})


@dataclass(frozen=True)
class Detections:
    """A searched frame: its stars, its sky, and what was put aside."""

    stars: FoundStars
    sky: SkyLevel
    filter_sigma_px: float
    hot_pixels: int
    colours: Floats
    """Usual light of the frame's stars in each colour over green's, (3,)."""
    hot_places: Ints32 | None = None
    """Rows and columns (n, 2) of the single bright samples that were left out."""


def find_stars(frame: Frame, least_snr: float = LEAST_SNR) -> Detections:
    """Return all stars of a frame at or above an SNR of the matched filter.

    Single bright samples are taken as hot pixels and dropped first. The filter is a Gaussian as
    wide as the frame's stars; discs of a lens far out of focus are looked for at a quarter of the
    scale. A peak with a stronger one within 2.5 filter widths, at the very edge, or with
    surroundings 2.5 times as noisy as the sky is left out. Raises ValueError for a frame with
    three planes or least_snr under 3.
    """
    if least_snr < 3:
        raise ValueError(f"least_snr is {least_snr:g}; under 3 noise outnumbers stars")
    sky = sky_level(frame)
    sigma = FIRST_SIGMA_PX
    least = np.float32(least_snr)
    knots = sky.knots + sky.black
    z, places, strength, hot = search(
        frame.samples, frame.pattern, knots, sky.knot_noise, KNOT_PX, filter_weights(sigma), least
    )
    places, strength = _separate(places, strength, sigma)
    even = _filter_sum(sigma)
    setting, better = _frames_own(frame, sky, z, places[:SAMPLE_STARS])
    wide = _as_discs(frame, sky, z, (places, strength), setting, least_snr)
    if wide is not None:
        places, strength, setting = wide
        sigma = setting.sigma_px
        even = BIN_PX * _filter_sum(sigma / BIN_PX)
    elif better is not None and not 0.8 < better / sigma < 1.4:
        sigma = better
        places, strength = search_again(z, filter_weights(sigma), least)
        places, strength = _separate(places, strength, sigma)
        even = _filter_sum(sigma)
    table = _measured(frame, sky, z, places, setting)
    # What stands on a cloud, a skirt or a lit hill is as strong as it is above that.
    alone = strength - even * table[:, PEDESTAL]
    table[:, COLUMNS.index("snr")] = alone
    stars = _clear_of_clutter(table[np.argsort(-alone, kind="stable")], least_snr)
    return Detections(stars, sky, sigma, len(hot), setting.ratios, hot)


def _as_discs(
    frame: Frame,
    sky: SkyLevel,
    z: Floats32,
    narrow: tuple[Ints32, Floats32],
    setting: Setting,
    least_snr: float,
) -> tuple[Ints32, Floats32, Setting] | None:
    """Ints32 and strengths of stars far out of focus and what they have in common, or None."""
    seen = discs(z, *narrow)
    if seen is None:
        return None
    small, places, _ = seen
    rough = setting._replace(
        sigma_px=WIDE_SIGMA_PX, usual_px=0.0, least_px=30.0, largest_px=MOST_DISC_APERTURE_PX
    )
    length = _measured(frame, sky, z, places, rough)[:, COLUMNS.index("length_px")]
    usual = usual_length(length)
    if usual is None:
        return None
    places, strength = disc_peaks(small, usual / GAUSSIAN_LENGTH, least_snr)
    # An aperture that begins inside the disc has the disc in its ring; one that grows beyond its
    # like has taken in a neighbour.
    own = rough._replace(
        sigma_px=usual / GAUSSIAN_LENGTH,
        usual_px=usual,
        least_px=1.2 * usual,
        largest_px=1.8 * usual,
    )
    return places, strength, own


def _filter_sum(sigma: float) -> float:
    """What the filter makes of an even light of 1."""
    half = filter_weights(sigma)
    return float(half[0] + 2 * half[1:].sum()) ** 2


def _clear_of_clutter(table: Floats, least_snr: float) -> FoundStars:
    strength = table[:, COLUMNS.index("snr")]
    scatter = table[:, COLUMNS.index("ring_scatter")]
    # Near a bright star the ring is unquiet too: a strong peak stands above it all the same.
    clear = ~(scatter > CLUTTER_SCATTER) | (strength > 8 * least_snr * scatter)
    clear &= strength >= least_snr
    return FoundStars(**{name: table[clear, k].copy() for k, name in enumerate(COLUMNS)})


def _separate(places: Ints32, strength: Floats32, sigma: float) -> tuple[Ints32, Floats32]:
    """The peaks that have no stronger one near, strongest first."""
    order = np.argsort(-strength, kind="stable")
    order = order[strongest_within(order, places, 2.5 * sigma)[order]]
    return places[order], strength[order]


def _frames_own(
    frame: Frame, sky: SkyLevel, z: Floats32, places: Ints32
) -> tuple[Setting, float | None]:
    """Return colours of the frame's strong unclipped stars and their width, None with under 8."""
    # Colours that the mosaic lacks stay nan.
    noise = np.median(sky.noise, axis=(0, 1)).astype(np.float64)
    shape = frame.pattern.shape
    setting = Setting(
        pattern=frame.pattern,
        black=np.ascontiguousarray(np.broadcast_to(frame.black, shape), dtype=np.float64),
        clipping=np.ascontiguousarray(np.broadcast_to(frame.clipping, shape), dtype=np.float64),
        photons=photon_variance(sky),
        # The ratios of the sky's noise are those of a white star, nearly.
        ratios=noise / noise[1],
        sigma_px=FIRST_SIGMA_PX,
        usual_px=FIRST_SIGMA_PX * GAUSSIAN_LENGTH,
        least_px=LEAST_APERTURE_PX,
        largest_px=MOST_APERTURE_PX,
    )
    table = _measured(frame, sky, z, places, setting)
    share = table[:, COLUMNS.index("peak_share")]
    length = table[:, COLUMNS.index("length_px")]
    width = table[:, COLUMNS.index("width_px")]
    good = (share < CLIPPED_SHARE) & (table[:, COLUMNS.index("snr")] > 20) & (width > 0.5)
    ratios = setting.ratios.copy()
    for k, colour in enumerate((0, 2)):
        own = table[share < CLIPPED_SHARE, RATIOS + k]
        if np.count_nonzero(np.isfinite(own)) >= 8:
            ratios[colour] = max(float(np.nanmedian(own)), 0.05)
    setting = setting._replace(ratios=ratios)
    if np.count_nonzero(good) < 8:
        return setting, None
    sigma = float(
        np.clip(np.median(np.sqrt(length[good] * width[good])) / GAUSSIAN_LENGTH, 0.7, 6.0)
    )
    return setting._replace(usual_px=float(np.median(length[good])), sigma_px=sigma), sigma


def _measured(frame: Frame, sky: SkyLevel, z: Floats32, places: Ints32, setting: Setting) -> Floats:
    # Measured as they lie in memory.
    order = np.argsort(places[:, 0], kind="stable")
    lie = places[order]
    noise = noise_at(sky, lie[:, 1].astype(np.float64), lie[:, 0].astype(np.float64))
    table = np.empty((len(lie), PEDESTAL + 1))
    table[order] = measure_all(z, frame.samples, lie, noise.astype(np.float64), setting)
    return table
