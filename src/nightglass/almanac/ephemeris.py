"""Sun, moon and fixed directions as seen from the earth's centre, offline, for a span of time.

Skyfield with the JPL ephemeris DE421 gives apparent places on nodes four hours apart; between
them a polynomial through six nodes is used. (Nodes of 4 h keep the moon within 0.05"; calling
the library for each minute of a year would take minutes.) Times are seconds since 1970 in UTC.
Nothing is downloaded: DE421 comes from skyfield-data, earth rotation from skyfield's own tables.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import UTC, datetime
from functools import cache
from importlib import resources
from typing import Any

import numpy as np

from nightglass.optics.arrays import Floats

NODE_S = 4 * 3600.0
NEIGHBOURS = (-2, -1, 0, 1, 2, 3)
_SCALES = tuple(1.0 / float(np.prod([k - j for j in NEIGHBOURS if j != k])) for k in NEIGHBOURS)
SIDEREAL_RAD_PER_S = 7.2921158553e-5
"""Mean sidereal rate (with precession): only the smooth rest is interpolated."""
FIRST_DAY = datetime(1899, 8, 1, tzinfo=UTC)
LAST_DAY = datetime(2053, 10, 1, tzinfo=UTC)
"""DE421 holds 1899-07-29 to 2053-10-09; a margin stays for the nodes at both ends."""


class DateOutsideEphemerisError(ValueError):
    """The date lies before or after the table of sun and moon."""


@dataclass(frozen=True)
class Target:
    """A fixed direction in the sky, ICRS."""

    name: str
    ra_degrees: float
    dec_degrees: float

    def __post_init__(self) -> None:
        if not 0 <= self.ra_degrees < 360 or not -90 <= self.dec_degrees <= 90:
            raise ValueError(
                f"RA {self.ra_degrees:g}, Dec {self.dec_degrees:g} is no direction in the sky; "
                "RA goes from 0 to 360 degrees, Dec from -90 to 90"
            )


MILKY_WAY_CENTRE = Target("centre of the Milky Way", 266.416837, -29.007806)
"""Sgr A*: Reid & Brunthaler 2004, ApJ 616, 872 (17h45m40.0409s, -29 00 28.118)."""


@dataclass(frozen=True)
class Ephemeris:
    """Apparent geocentric places on nodes, true equator and equinox of date."""

    start_s: float
    end_s: float
    first_node_s: float
    nodes_km: Mapping[str, Floats]
    """Body or target name to (n, 3); targets are unit vectors."""
    sidereal_rest_rad: Floats
    """Apparent sidereal time of Greenwich minus the mean rate times the time."""

    def vectors(self, name: str, unix_s: Floats) -> Floats:
        """Return (n, 3) places of "sun", "moon" [km] or a target (unit length)."""
        return self._between(self.nodes_km[name], unix_s)

    def sidereal_rad(self, unix_s: Floats) -> Floats:
        """Return (n,) apparent sidereal time of Greenwich [rad], not wrapped."""
        rest = self._between(self.sidereal_rest_rad[:, None], unix_s)[:, 0]
        return rest + SIDEREAL_RAD_PER_S * (unix_s - self.first_node_s)

    def _between(self, nodes: Floats, unix_s: Floats) -> Floats:
        if unix_s.size and (unix_s.min() < self.start_s - 1 or unix_s.max() > self.end_s + 1):
            raise ValueError("times lie outside the span for which this ephemeris was made")
        x = (unix_s - self.first_node_s) / NODE_S
        index = np.clip(x.astype(int), 2, len(nodes) - 4)
        weights = _lagrange(x - index)
        result = weights[0][:, None] * nodes[index + NEIGHBOURS[0]]
        for k in range(1, len(NEIGHBOURS)):
            result += weights[k][:, None] * nodes[index + NEIGHBOURS[k]]
        return result


def ephemeris(start: datetime, end: datetime, targets: tuple[Target, ...] = ()) -> Ephemeris:
    """Return sun, moon and the targets for all times from start to end (aware datetimes).

    Raises ValueError for naive datetimes and DateOutsideEphemerisError (a ValueError) for dates
    outside DE421.
    """
    start_s, end_s = unix_seconds(start), unix_seconds(end)
    for moment in (start, end):
        if not FIRST_DAY <= moment <= LAST_DAY:
            raise DateOutsideEphemerisError(
                f"{moment:%Y-%m-%d} is outside the table of sun and moon (DE421: "
                f"{FIRST_DAY:%Y-%m-%d} to {LAST_DAY:%Y-%m-%d}); check the date or the camera clock"
            )
    first = start_s - 3 * NODE_S
    count = int((end_s - first) / NODE_S) + 5
    node_s: Floats = first + NODE_S * np.arange(count, dtype=np.float64)
    moments = skyfield_time(node_s)
    # Skyfield's own way to the short nutation series: 0.001" from the full one, at a tenth of
    # the time.
    moments._nutation_angles_radians = _nutation(moments)
    kernel = _kernel()
    earth = kernel["earth"].at(moments)
    nodes = {body: _of_date(earth.observe(kernel[body]).apparent()) for body in ("sun", "moon")}
    for target in targets:
        nodes[target.name] = _direction(earth, target)
    sidereal = np.unwrap(np.asarray(moments.gast) * np.pi / 12.0)
    rest = sidereal - SIDEREAL_RAD_PER_S * (node_s - first)
    # Nodes four hours apart turn by 60 degrees each, so that unwrapping cannot slip.
    return Ephemeris(start_s, end_s, first, nodes, rest)


def unix_seconds(moment: datetime) -> float:
    """Return seconds since 1970 UTC; raises ValueError for a datetime without a zone."""
    if moment.tzinfo is None:
        raise ValueError(
            f"{moment:%Y-%m-%d %H:%M} has no time zone; give it one, "
            "for example .replace(tzinfo=zone of the place)"
        )
    return moment.timestamp()


def moment(unix_s: float) -> datetime:
    """Return the aware UTC datetime of seconds since 1970, to the microsecond."""
    return datetime.fromtimestamp(unix_s, UTC)


def skyfield_time(unix_s: Floats | np.float64) -> Any:
    """Return the skyfield Time of seconds since 1970 UTC (leap seconds not counted, POSIX)."""
    # Days apart from seconds: seconds alone would be taken as elapsed, leap seconds included,
    # and every event would come out 27 s late.
    days = np.floor(unix_s / 86400.0)
    seconds = unix_s - 86400.0 * days
    return _timescale().utc(1970, 1, 1 + days.astype(int), 0, 0, seconds)


def _direction(earth: Any, target: Target) -> Floats:
    from skyfield.api import Star

    star = Star(ra_hours=target.ra_degrees / 15.0, dec_degrees=target.dec_degrees)
    vectors = _of_date(earth.observe(star).apparent())
    return vectors / np.linalg.norm(vectors, axis=1, keepdims=True)


def _lagrange(u: Floats) -> list[Floats]:
    """Weights of Lagrange's polynomial through six nodes, at u from the third."""
    factors = [u - j for j in NEIGHBOURS]
    below, above = [np.ones_like(u)], [np.ones_like(u)]
    for factor in factors[:-1]:
        below.append(below[-1] * factor)
    for factor in factors[:0:-1]:
        above.append(above[-1] * factor)
    return [s * b * a for s, b, a in zip(_SCALES, below, above[::-1], strict=True)]


def _nutation(moments: Any) -> Any:
    from skyfield.nutationlib import iau2000b_radians

    return iau2000b_radians(moments)


def _of_date(apparent: Any) -> Floats:
    from skyfield.framelib import true_equator_and_equinox_of_date

    return np.ascontiguousarray(apparent.frame_xyz(true_equator_and_equinox_of_date).km.T)


@cache
def _kernel() -> Any:
    from skyfield.jpllib import SpiceKernel

    # The path is taken from the package itself: skyfield-data's own helper warns about a table
    # of earth rotation that is not used here.
    return SpiceKernel(str(resources.files("skyfield_data").joinpath("data/de421.bsp")))


@cache
def _timescale() -> Any:
    from skyfield.api import load

    return load.timescale(builtin=True)
