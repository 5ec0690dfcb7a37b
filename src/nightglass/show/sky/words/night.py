"""Light, sky, limit and noise of a frame in plain words."""

from __future__ import annotations

from nightglass.sky.photometry.codes import GainReason, LimitSource, NightNote, NoiseSource
from nightglass.sky.photometry.conditions import MOST_TIMES, Night
from nightglass.sky.photometry.open_sky import LEAST_STARS
from nightglass.sky.photometry.zero_point import LEAST_SNR

NIGHT_NOTES = {
    NightNote.AIR_IN_ZERO_POINT: (
        "the zero point holds the air's extinction: the sky is called as bright as stars seen "
        "through that air"
    ),
    NightNote.LITTLE_OPEN_SKY: (
        "only {open_percent} % of the frame shows open sky, elsewhere stars that ought to show are "
        "missing (land, trees or cloud): sky brightness and limiting magnitude hold for the open "
        "part, and thin cloud may lie over it too"
    ),
    NightNote.TOO_FEW_STARS: (
        f"fewer than {LEAST_STARS} unclipped catalogue stars of SNR {LEAST_SNR:g} stand alone: no "
        "zero point"
    ),
    NightNote.NO_EXPOSURE: "exposure time not recorded: no zero point, no sky brightness",
    NightNote.PATCHY: (
        "stars differ by {patchy_mag} mag from place to place where they should not: cloud, haze "
        "or dew; zero point and sky brightness are as uncertain, and no loss of light toward the "
        "corners is given"
    ),
    NightNote.FADES_TO_A_SIDE: (
        "stars fade by {side_to_side_mag} mag from side to side of the frame: air near the "
        "horizon, or cloud"
    ),
    NightNote.NO_MOSAIC: "black level and linearity of this file are not known: sky is a guess",
}
GAIN_REASONS = {
    GainReason.LITTLE_OPEN_SKY: "too little open sky between the stars to tell gain and read noise",
    GainReason.EVEN_SKY: "the sky's level varies too little to tell gain and read noise",
    GainReason.NOT_LINEAR: "noise does not grow with the sky: the file is not linear raw",
    GainReason.NOT_TOLD_APART: (
        "gain and read noise: not told apart (the gain would be known to {gain_err_percent} %), "
        "readout and faint stars hide the noise of the sky's light"
    ),
}
LIMIT_SOURCES = {
    LimitSource.HALF_FOUND: "half of the catalogue stars found",
    LimitSource.SNR_LINE: "line of SNR on magnitude",
    LimitSource.SNR_LINE_BEYOND_CATALOGUE: (
        "line of SNR on magnitude, beyond the end of the catalogue"
    ),
    LimitSource.TOO_FEW_STARS: "too few stars near the limit",
}
NOISE_SOURCES = {
    NoiseSource.SKY: "the sky's light (the readout makes it {more_percent} % larger)",
    NoiseSource.SKY_AND_READOUT: (
        "the sky's light and the readout (together {times_sky} times what the sky's light alone "
        "would give; longer exposures help)"
    ),
    NoiseSource.READOUT: (
        f"the readout (over {MOST_TIMES} times what the sky's light alone would give)"
    ),
    NoiseSource.UNKNOWN: "not known",
}
MOST_SHARE = 9.99
"""Relative errors beyond it say no more."""


def night_note_words(night: Night) -> list[str]:
    """Return what is to be known of gain, light and sky, a line each."""
    known = {
        "open_percent": f"{100 * night.open_sky:.0f}",
        "patchy_mag": f"{night.patchy_mag or 0.0:.2f}",
        "side_to_side_mag": f"{night.side_to_side_mag or 0.0:.1f}",
    }
    gain = [gain_reason_words(night.gain_reason, night.gain_share_err)] if night.gain_reason else []
    return [*gain, *(NIGHT_NOTES[note].format(**known) for note in night.notes)]


def gain_reason_words(reason: GainReason, share_err: float | None) -> str:
    """Return why gain and read noise are not known; share_err: relative error of the gain."""
    percent = 100 * min(share_err or 0.0, MOST_SHARE)
    return GAIN_REASONS[reason].format(gain_err_percent=f"{percent:.0f}")


def noise_words(source: NoiseSource, times_sky: float | None) -> str:
    """Return what sets the noise; times_sky: all noise over that of the sky's light alone."""
    times = times_sky or 1.0
    return NOISE_SOURCES[source].format(
        more_percent=f"{100 * (times - 1):.1f}", times_sky=f"{times:.1f}"
    )
