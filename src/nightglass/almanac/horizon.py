"""The person's own horizon: a height all round, or a table of hills; and refraction."""

from __future__ import annotations

import re
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from nightglass.optics.arrays import Floats

WIDEST_GAP_DEGREES = 60.0
"""Hills between two entries farther apart than this are not guessed."""


@dataclass(frozen=True)
class Horizon:
    """Height of the land over azimuth (from north through east), straight between the entries."""

    azimuths_degrees: tuple[float, ...] = (0.0,)
    heights_degrees: tuple[float, ...] = (0.0,)

    def height_at(self, azimuth_degrees: ArrayLike) -> Floats:
        """Return the height of the land [degrees] in the given directions (any shape)."""
        azimuth = np.asarray(azimuth_degrees, dtype=np.float64) % 360.0
        return np.interp(azimuth, self.azimuths_degrees, self.heights_degrees, period=360.0)


def horizon(text: str) -> Horizon:
    """Return the horizon of a number ("10") or of a table "azimuth:height" in any order.

    Entries of the table stand apart by commas, semicolons or line ends; text after # is left
    out. Raises ValueError for heights outside -5 to 85 degrees, azimuths outside 0 to 360, an
    azimuth that stands twice with different heights, and gaps of more than 60 degrees.
    """
    lines = [line.split("#")[0] for line in text.splitlines()]
    entries = [e.strip() for line in lines for e in re.split(r"[,;]", line) if e.strip()]
    if not entries:
        raise ValueError('the horizon is empty; give a height like "10" or "0:5, 60:12, ..."')
    if len(entries) == 1 and ":" not in entries[0]:
        return Horizon((0.0,), (_height(entries[0]),))
    table: dict[float, float] = {}
    for entry in entries:
        azimuth, height = _pair(entry)
        if table.setdefault(azimuth, height) != height:
            raise ValueError(
                f"horizon table: azimuth {azimuth:g} stands there twice, with heights "
                f"{table[azimuth]:g} and {height:g}; keep one"
            )
    _check_gaps(sorted(table))
    ordered = sorted(table.items())
    return Horizon(tuple(a for a, _ in ordered), tuple(h for _, h in ordered))


def refraction_degrees(apparent_altitude_degrees: ArrayLike) -> Floats:
    """Return how far the air lifts a star seen at these altitudes [degrees]; 34.5' at 0.

    Standard air (1010 hPa, 10 °C); altitudes below -1 are taken as -1. Bennett 1982, Journal of
    Navigation 35, 255, as in Meeus, Astronomical Algorithms, 2nd ed., 16.3.
    """
    h = np.clip(np.asarray(apparent_altitude_degrees, dtype=np.float64), -1.0, 90.0)
    refraction = 1.0 / np.tan(np.radians(h + 7.31 / (h + 4.4))) / 60.0
    return np.maximum(refraction, 0.0)


def seen_altitude_degrees(true_altitude_degrees: ArrayLike) -> Floats:
    """Return the altitude as seen through the air for altitudes without air [degrees].

    Saemundsson 1986, Sky & Telescope 72, 70, as in Meeus 16.4; below -1 degree no air is added.
    """
    h = np.asarray(true_altitude_degrees, dtype=np.float64)
    lifted = np.clip(h, -1.0, 90.0)
    lift = 1.02 / np.tan(np.radians(lifted + 10.3 / (lifted + 5.11))) / 60.0
    return np.where(h < -1.0, h, h + np.maximum(lift, 0.0))


def _pair(entry: str) -> tuple[float, float]:
    azimuth_text, colon, height_text = entry.partition(":")
    if not colon:
        raise ValueError(
            f'horizon table: "{entry}" is not azimuth:height; write it like "0:5, 60:12, 120:3"'
        )
    azimuth = _number(azimuth_text, entry)
    if not 0 <= azimuth <= 360:
        raise ValueError(f"horizon table: azimuth {azimuth:g} is not between 0 and 360 degrees")
    return azimuth % 360.0, _height(height_text)


def _height(text: str) -> float:
    height = _number(text, text)
    if not -5 <= height <= 85:
        raise ValueError(f"horizon height {height:g} is not between -5 and 85 degrees")
    return height


def _number(text: str, entry: str) -> float:
    try:
        value = float(text.strip().rstrip("°"))
    except ValueError:
        value = float("nan")
    if not np.isfinite(value):
        raise ValueError(f'horizon: "{entry.strip()}" is not a number of degrees')
    return value


def _check_gaps(azimuths: list[float]) -> None:
    following = [*azimuths[1:], azimuths[0] + 360.0]
    for start, end in zip(azimuths, following, strict=True):
        if end - start > WIDEST_GAP_DEGREES:
            raise ValueError(
                f"horizon table: nothing between azimuth {start:g} and {end % 360:g}; give at "
                f"least one height every {WIDEST_GAP_DEGREES:g} degrees, all round"
            )
