"""What can't be told of a frame with three planes: a developed picture, or a linear raw.

Its stars stand where they stand, so aim, camera and motion are told. But demosaicing and
sharpening change their sizes, and curves and white balance their light.
"""

from __future__ import annotations

from dataclasses import replace
from enum import StrEnum

from nightglass.frame.record import Frame
from nightglass.sky.photometry.codes import NoiseSource
from nightglass.sky.photometry.conditions import Night


class DevelopedCode(StrEnum):
    """What a frame with three planes does not tell."""

    SIZES_NOT_COMPARABLE = "sizes_not_comparable"
    LIGHT_NOT_KNOWN = "light_not_known"


def not_told(frame: Frame) -> tuple[DevelopedCode, ...]:
    """Return what a frame, as opened, does not tell; empty for a mosaic or a grey picture."""
    return tuple(DevelopedCode) if frame.samples.ndim == 3 else ()


def without_light(night: Night) -> Night:
    """Return the night without what takes linear light; stars, limit and open sky stay."""
    return replace(
        night,
        zero_point_mag=None,
        zero_point_err=None,
        zero_point_scatter=None,
        zero_point_stars=0,
        falloff=None,
        falloff_terms=None,
        falloff_covariance=None,
        sky_mag_arcsec2=None,
        sky_err=None,
        sky_noise_counts=None,
        gain_e_per_count=None,
        gain_e_per_count_err=None,
        read_noise_counts=None,
        read_noise_counts_err=None,
        limited_by=NoiseSource.UNKNOWN,
        noise_times_sky=None,
        gain_reason=None,
        gain_share_err=None,
        patchy_mag=None,
        side_to_side_mag=None,
        notes=(),
    )
