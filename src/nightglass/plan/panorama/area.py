"""What a panorama is to cover: directions above the ground, sampled."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import datetime

import numpy as np

from nightglass.almanac.horizon import seen_altitude_degrees
from nightglass.almanac.horizontal import horizontal, icrs_from_galactic
from nightglass.almanac.place import Place
from nightglass.almanac.trail import frame_grid_mm
from nightglass.optics.arrays import Floats
from nightglass.plan.camera import Pointing, Shot, ground_vectors, seen_from
from nightglass.plan.codes import AreaKind

STEP_DEGREES = 2.0
ARCH_HALF_WIDTH_DEGREES = 10.0
ARCH_LEAST_DEGREES, ARCH_TOP_DEGREES = 5.0, 75.0
"""Lower it lies along the horizon; an arch that passes higher is no band of rows."""


@dataclass(frozen=True)
class Area:
    """Directions to be covered, and what was asked for."""

    altitude_degrees: Floats
    azimuth_degrees: Floats
    middle_degrees: float
    """Azimuth of its middle."""
    kind: AreaKind
    values: Mapping[str, float]
    """What was asked for, by name and unit."""

    @property
    def low_degrees(self) -> float:
        """Its lowest height."""
        return float(self.altitude_degrees.min())

    @property
    def high_degrees(self) -> float:
        """Its greatest height."""
        return float(self.altitude_degrees.max())

    @property
    def away_degrees(self) -> Floats:
        """Azimuth from the middle, -180 to 180."""
        return (self.azimuth_degrees - self.middle_degrees + 180.0) % 360.0 - 180.0

    @property
    def row_slack_degrees(self) -> float:
        """A row also answers for so much of its neighbours' part."""
        return STEP_DEGREES

    @property
    def width_degrees(self) -> float:
        """Azimuth that it spans, at whatever height."""
        away = self.away_degrees
        return float(away.max() - away.min())


def box(
    middle_degrees: float, width_degrees: float, low_degrees: float, high_degrees: float
) -> Area:
    """Return the area of a width in azimuth between two heights.

    Raises ValueError for widths outside 0 to 360 and heights outside -30 to 90 or upside down.
    """
    if not 0 < width_degrees <= 360:
        raise ValueError(f"width {width_degrees:g} is not between 0 and 360 degrees of azimuth")
    if high_degrees > 90:
        raise ValueError(
            f"the area reaches {high_degrees:g} degrees: rows can't pass the zenith; end at 90 or "
            "lower, and take what lies beyond from the other side"
        )
    if not -30 <= low_degrees < high_degrees:
        raise ValueError(
            f"heights {low_degrees:g} to {high_degrees:g}: the lower one comes first, from -30 up"
        )
    altitude = np.linspace(low_degrees, high_degrees, _count(high_degrees - low_degrees))
    away = np.linspace(-width_degrees / 2, width_degrees / 2, _count(width_degrees))
    h, a = (grid.ravel() for grid in np.meshgrid(altitude, away))
    asked = {
        "width_degrees": width_degrees,
        "middle_degrees": middle_degrees,
        "low_degrees": low_degrees,
        "high_degrees": high_degrees,
    }
    return Area(h, (middle_degrees + a) % 360.0, middle_degrees, AreaKind.BOX, asked)


def like_frame(wide: Shot, pointing: Pointing) -> Area:
    """Return what a wide frame shows, exactly as its projection has it."""
    x, y = frame_grid_mm(wide.width_mm, wide.height_mm, 61, 41)
    altitude, azimuth = seen_from(wide, pointing, x, y)
    shown = ~np.isnan(altitude.ravel())
    return Area(
        altitude.ravel()[shown],
        azimuth.ravel()[shown],
        pointing.azimuth_degrees,
        AreaKind.LIKE_FRAME,
        {
            "focal_mm": wide.focal_mm,
            "altitude_degrees": pointing.altitude_degrees,
            "width_mm": wide.width_mm,
            "height_mm": wide.height_mm,
        },
    )


def arch(place: Place, at: datetime, low_degrees: float = 0.0) -> Area:
    """Return the Milky Way's arch from horizon to horizon at a moment (aware), 10° to each side.

    Raises ValueError where it passes so near the zenith that it is no arch, or lies along the
    horizon.
    """
    altitude, azimuth = _milky_way(
        place, at, (-ARCH_HALF_WIDTH_DEGREES, 0.0, ARCH_HALF_WIDTH_DEGREES)
    )
    points = altitude.size // 3
    middle = altitude[points : 2 * points]
    top = int(np.argmax(middle))
    if middle[top] > ARCH_TOP_DEGREES:
        raise ValueError(
            f"the Milky Way passes {90 - middle[top]:.0f}° from the zenith: no arch, and rows "
            "can't be closed there; choose another time, or give width and heights"
        )
    shown = altitude > low_degrees
    if not np.any(shown) or middle[top] < ARCH_LEAST_DEGREES:
        raise ValueError(
            "the Milky Way lies along the horizon at that time; choose another, or give width and "
            "heights"
        )
    centre = float(azimuth[points + top])
    away = (azimuth[shown] - centre + 180.0) % 360.0 - 180.0
    width = float(away.max() - away.min())
    shift = float(away.max() + away.min()) / 2
    high = min(88.0, float(altitude.max()))
    found = box((centre + shift) % 360.0, min(360.0, width), low_degrees, high)
    asked = {"top_degrees": float(middle[top]), "width_degrees": found.width_degrees}
    return replace(found, kind=AreaKind.ARCH, values=asked)


def arch_stands(place: Place, at: datetime) -> bool:
    """Return whether the Milky Way is an arch at a moment (aware) that rows can cover."""
    altitude, _ = _milky_way(place, at, (0.0,))
    return bool(ARCH_LEAST_DEGREES <= altitude.max() <= ARCH_TOP_DEGREES)


def _milky_way(place: Place, at: datetime, latitudes: Sequence[float]) -> tuple[Floats, Floats]:
    """(altitude as seen, azimuth) of lines of galactic latitude, one after the other."""
    longitude = np.arange(0.0, 360.0, 2.0)
    icrs = np.concatenate(
        [icrs_from_galactic(longitude, np.full_like(longitude, b)) for b in latitudes]
    )
    altitude, azimuth = horizontal(icrs, place, at)
    return seen_altitude_degrees(altitude), azimuth


def vectors(area: Area) -> Floats:
    """Return the area's directions as ground vectors (n, 3)."""
    return ground_vectors(area.altitude_degrees, area.azimuth_degrees)


def _count(degrees: float) -> int:
    return int(np.ceil(degrees / STEP_DEGREES)) + 1
