"""What light, sky, limit, noise and dark frames say, in codes; nightglass.show.sky words them."""

from __future__ import annotations

from enum import StrEnum


class NightNote(StrEnum):
    """What is to be known of the light and the sky of a frame."""

    AIR_IN_ZERO_POINT = "air_in_zero_point"
    LITTLE_OPEN_SKY = "little_open_sky"
    TOO_FEW_STARS = "too_few_stars"
    NO_EXPOSURE = "no_exposure"
    PATCHY = "patchy"
    FADES_TO_A_SIDE = "fades_to_a_side"
    NO_MOSAIC = "no_mosaic"


class GainReason(StrEnum):
    """Why gain and read noise are not known."""

    LITTLE_OPEN_SKY = "little_open_sky"
    EVEN_SKY = "even_sky"
    NOT_LINEAR = "not_linear"
    NOT_TOLD_APART = "not_told_apart"


class LimitSource(StrEnum):
    """From what the limiting magnitude is known, or why it is not."""

    HALF_FOUND = "half_found"
    SNR_LINE = "snr_line"
    SNR_LINE_BEYOND_CATALOGUE = "snr_line_beyond_catalogue"
    TOO_FEW_STARS = "too_few_stars"


class NoiseSource(StrEnum):
    """What sets the noise of a frame's sky."""

    SKY = "sky"
    SKY_AND_READOUT = "sky_and_readout"
    READOUT = "readout"
    UNKNOWN = "unknown"


class FilterVerdict(StrEnum):
    """Whether a body erases small stars in its raw files."""

    FILTERED = "filtered"
    NOT_FILTERED = "not_filtered"
    UNDECIDED = "undecided"


class FilterReason(StrEnum):
    """On what a verdict on raw filtering rests."""

    CUT_TO_NEIGHBOURS = "cut_to_neighbours"
    SOME_FRAMES = "some_frames"
    LONE_SAMPLES_MISSING = "lone_samples_missing"
    KEPT = "kept"
    TOO_FEW_SAMPLES = "too_few_samples"
    MIXED = "mixed"


PHOTOMETRY_CODES: tuple[type[StrEnum], ...] = (
    NightNote,
    GainReason,
    LimitSource,
    NoiseSource,
    FilterVerdict,
    FilterReason,
)
