"""The opening of a lens: pupil, transmission, and how light falls off toward the corners."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from enum import StrEnum

import numpy as np
from numpy.typing import ArrayLike

from nightglass.gear.dial import exact_f_number
from nightglass.gear.lens import FlatTransmission, Lens
from nightglass.light.defaults import TRANSMISSION, TRANSMISSION_ERR
from nightglass.optics.arrays import Floats
from nightglass.optics.projection import Projection, relative_solid_angle

T_MARK_ERR = 0.05 / math.sqrt(3)
"""1-sigma error of a T-stop that was rounded to a tenth: an even spread of half a step."""


LEAST_LOG_ERR = 1e-3
"""Of a typed transmission without an error: taken as exact, but not as infinitely sure."""


class TransmissionSource(StrEnum):
    """How a lens's transmission is known."""

    MEASURED = "measured"
    T_STOP = "t_stop"
    FLATS = "flats"
    DEFAULT = "default"


@dataclass(frozen=True)
class Transmission:
    """Share of the light that passes the glass, its 1-sigma error, and how it is known."""

    share: float
    err: float
    """0 where a measured value came without one."""
    source: TransmissionSource
    common_err: float = 0.0
    """Of FLATS: the 1-sigma error that all lenses of the flats share."""


def pupil_diameter_mm(focal_mm: float, f_number: float) -> float:
    """Return the diameter of the entrance pupil [mm]: f / N, N the exact power behind the mark.

    ISO 517, relative aperture. Raises ValueError for values of 0 or less.
    """
    if not (focal_mm > 0 and math.isfinite(focal_mm)):
        raise ValueError(f"focal_mm is {focal_mm:g}; a focal length is above 0 mm")
    return focal_mm / exact_f_number(f_number)


def pupil_area_mm2(focal_mm: float, f_number: float) -> float:
    """Return the area of the entrance pupil [mm^2]: pi D^2 / 4. Errors as pupil_diameter_mm."""
    return math.pi / 4 * pupil_diameter_mm(focal_mm, f_number) ** 2


def lens_transmission(lens: Lens) -> Transmission:
    """Return a lens's transmission: typed, else (N / T)^2 from its T-stop, else as flats tell it,
    else the default.

    The T-stop belongs to the lens wide open at its short end; T is taken as it stands, for it was
    measured, with the error of a mark rounded to a tenth. Raises ValueError for a transmission
    outside 0 to 1 or a T-stop under the f-number.
    """
    if lens.transmission is not None:
        if not 0 < lens.transmission <= 1:
            raise ValueError(
                f"transmission of {lens.name} is {lens.transmission:g}; it is a share above 0 and "
                "at most 1"
            )
        err = lens.transmission_err or 0.0
        return Transmission(lens.transmission, err, TransmissionSource.MEASURED)
    if lens.t_stop is None and lens.flat_transmission is not None:
        told = lens.flat_transmission
        return Transmission(told.share, told.err, TransmissionSource.FLATS, told.common_err)
    if lens.t_stop is None:
        return Transmission(TRANSMISSION.value, TRANSMISSION_ERR, TransmissionSource.DEFAULT)
    share = (exact_f_number(lens.f_number_min_wide) / lens.t_stop) ** 2
    # Rounding of the mark alone (2.8 is 2.83) may lift the share a little above 1.
    if share > 1.1:
        raise ValueError(
            f"T-stop of {lens.name} is {lens.t_stop:g} at f/{lens.f_number_min_wide:g}; glass lets "
            "no more light through than all of it: T is at least the f-number"
        )
    share = min(share, 1.0)
    return Transmission(share, 2 * share * T_MARK_ERR / lens.t_stop, TransmissionSource.T_STOP)


def with_flat_transmission(
    lenses: Sequence[Lens], light: Mapping[str, tuple[float, float]]
) -> tuple[Lens, ...]:
    """Return the lenses with what flats tell of their transmission.

    light: by the lens's name, how many times as much light it passes as one and the same other
    lens, and the 1-sigma error of that. Flats give the ratios only, so the whole is set by what
    else is known of these lenses: each one's typed or default transmission over its ratio is one
    measurement, and they count by the inverse of their variances. The default's errors are taken
    as independent from lens to lens, as in the intervals of the ranking.
    """
    known = [lens for lens in lenses if lens.name in light]
    if len(known) < 2:
        return tuple(lenses)
    logs, weights = [], []
    for lens in known:
        own = lens_transmission(replace(lens, flat_transmission=None))
        times, err = light[lens.name]
        logs.append(math.log(own.share / times))
        weights.append(1 / max((own.err / own.share) ** 2 + (err / times) ** 2, LEAST_LOG_ERR**2))
    whole = math.exp(sum(w * log for w, log in zip(weights, logs, strict=True)) / sum(weights))
    common = 1 / math.sqrt(sum(weights))
    told = {}
    for lens in known:
        times, err = light[lens.name]
        share = min(whole * times, 1.0)
        told[lens.name] = FlatTransmission(share, share * err / times, share * common)
    return tuple(replace(lens, flat_transmission=told.get(lens.name)) for lens in lenses)


def cosine_falloff(off_axis_degrees: ArrayLike) -> Floats:
    """Return the pupil's falloff when nothing was measured: cos(theta), the tilted round opening.

    A model: with the cos^3 of a rectilinear pixel's solid angle it makes the ideal cos^4; real
    lenses differ by pupil aberration and vignetting.
    """
    return np.cos(np.radians(np.asarray(off_axis_degrees, dtype=np.float64)))


def flat_falloff(
    off_axis_degrees: ArrayLike,
    projection: Projection = "rectilinear",
    pupil_falloff: ArrayLike | None = None,
) -> Floats:
    """Return the falloff of an even sky per pixel: pupil falloff times relative solid angle.

    cos^4 for a rectilinear lens of which nothing was measured: the law of an ideal lens (Kerr 2007,
    Derivation of the Cosine Fourth Law for Falloff of Illuminance Across a Camera Image).
    """
    pupil = cosine_falloff(off_axis_degrees) if pupil_falloff is None else np.asarray(pupil_falloff)
    return pupil * relative_solid_angle(off_axis_degrees, projection)


def pupil_falloff_from_flat(
    flat: ArrayLike, off_axis_degrees: ArrayLike, projection: Projection = "rectilinear"
) -> Floats:
    """Return the falloff for star light from a measured flat (1 at the centre): the inverse."""
    return np.asarray(flat, dtype=np.float64) / relative_solid_angle(off_axis_degrees, projection)
