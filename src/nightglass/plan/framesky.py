"""What the frame shows at a moment: land, Milky Way, bright stars, as lines and places in mm."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime

import numpy as np

from nightglass.almanac.ephemeris import MILKY_WAY_CENTRE
from nightglass.almanac.horizon import Horizon, seen_altitude_degrees
from nightglass.almanac.horizontal import horizontal, icrs_from_galactic, unit_vectors
from nightglass.almanac.place import Place
from nightglass.optics.arrays import Flags, Floats
from nightglass.plan.camera import Pointing, Shot, ground_vectors, place_in_frame
from nightglass.sky.astrometry.catalogue import load_stars

MILKY_WAY_EDGE_DEGREES = 10.0
"""Galactic latitude drawn as the Milky Way's edge: a convention of this picture; the visible band
is wider towards its centre and narrower away from it."""
FAINTEST_DRAWN_G = 4.5


@dataclass(frozen=True)
class StarDots:
    """Stars in the frame."""

    x_mm: Floats
    y_mm: Floats
    magnitude: Floats


@dataclass(frozen=True)
class FrameSky:
    """Everything to draw over a frame [mm from its centre, x right, y down]."""

    land: tuple[Floats, ...]
    """Upper edge of the land, left to right in azimuth."""
    milky_way: tuple[Floats, ...]
    """Closed outlines of pieces of the band of galactic latitude -10 to 10 degrees."""
    centre: tuple[float, float] | None
    """The Milky Way's centre, if it is above the land and inside the frame."""
    stars: StarDots
    grid: tuple[tuple[str, Floats], ...]
    """Lines of equal height with their labels."""


def frame_sky(
    shot: Shot, pointing: Pointing, place: Place, at: datetime, horizon: Horizon
) -> FrameSky:
    """Return what a frame shows at a moment (aware) at a place."""
    return FrameSky(
        land=_land(shot, pointing, horizon),
        milky_way=_band(shot, pointing, place, at),
        centre=_centre(shot, pointing, place, at, horizon),
        stars=_stars(shot, pointing, place, at, horizon),
        grid=_heights(shot, pointing),
    )


def inside(shot: Shot, x_mm: Floats, y_mm: Floats, margin: float = 1.0) -> Flags:
    """Return whether places lie in the frame, grown by a factor."""
    half_width, half_height = margin * shot.width_mm / 2, margin * shot.height_mm / 2
    with np.errstate(invalid="ignore"):
        return (np.abs(x_mm) <= half_width) & (np.abs(y_mm) <= half_height)


def _seen(place: Place, at: datetime, icrs: Floats) -> tuple[Floats, Floats]:
    altitude, azimuth = horizontal(icrs, place, at)
    return seen_altitude_degrees(altitude), azimuth


def _land(shot: Shot, pointing: Pointing, horizon: Horizon) -> tuple[Floats, ...]:
    azimuth = pointing.azimuth_degrees + np.linspace(-180.0, 180.0, 1441)
    x, y = place_in_frame(shot, pointing, horizon.height_at(azimuth), azimuth)
    return _pieces(x, y, shot)


def _heights(shot: Shot, pointing: Pointing) -> tuple[tuple[str, Floats], ...]:
    azimuth = pointing.azimuth_degrees + np.linspace(-180.0, 180.0, 721)
    lines = []
    for height in range(0, 90, 15):
        x, y = place_in_frame(shot, pointing, np.full_like(azimuth, float(height)), azimuth)
        lines += [(f"{height}°", piece) for piece in _pieces(x, y, shot, 1.0)]
    return tuple(lines)


def _galactic(
    shot: Shot, pointing: Pointing, place: Place, at: datetime, latitude: float
) -> tuple[Floats, Floats]:
    # Beginning opposite the frame, so that no piece breaks inside it.
    longitude = _longitude_ahead(pointing, place, at) + np.arange(-180.0, 180.1, 1.0)
    icrs = icrs_from_galactic(longitude, np.full_like(longitude, latitude))
    return place_in_frame(shot, pointing, *_seen(place, at, icrs))


def _longitude_ahead(pointing: Pointing, place: Place, at: datetime) -> float:
    """Galactic longitude nearest to where the camera looks, to 5 degrees."""
    longitude = np.arange(0.0, 360.0, 5.0)
    icrs = icrs_from_galactic(longitude, np.zeros_like(longitude))
    ahead = ground_vectors(pointing.altitude_degrees, pointing.azimuth_degrees)
    return float(longitude[np.argmax(ground_vectors(*_seen(place, at, icrs)) @ ahead)])


def _band(shot: Shot, pointing: Pointing, place: Place, at: datetime) -> tuple[Floats, ...]:
    edge = MILKY_WAY_EDGE_DEGREES
    latitudes = np.array([-edge, -edge / 2, 0.0, edge / 2, edge])
    rows = [_galactic(shot, pointing, place, at, b) for b in latitudes]
    x, y = np.stack([r[0] for r in rows]), np.stack([r[1] for r in rows])
    # The projection runs to infinity behind the camera: only columns near the frame are joined.
    near: Flags = np.all(inside(shot, x, y, 4.0), axis=0)
    outlines = []
    for start, end in _runs(near):
        there = np.stack([x[0, start:end], y[0, start:end]], axis=1)
        back = np.stack([x[-1, start:end], y[-1, start:end]], axis=1)[::-1]
        outlines.append(np.concatenate([there, back]))
    return tuple(outlines)


def _centre(
    shot: Shot, pointing: Pointing, place: Place, at: datetime, horizon: Horizon
) -> tuple[float, float] | None:
    icrs = unit_vectors(MILKY_WAY_CENTRE.ra_degrees, MILKY_WAY_CENTRE.dec_degrees)
    altitude, azimuth = _seen(place, at, icrs)
    x, y = place_in_frame(shot, pointing, altitude, azimuth)
    up = altitude[0] > horizon.height_at(azimuth)[0]
    return (float(x[0]), float(y[0])) if up and inside(shot, x, y)[0] else None


def _stars(
    shot: Shot, pointing: Pointing, place: Place, at: datetime, horizon: Horizon
) -> StarDots:
    stars = load_stars().brighter_than(FAINTEST_DRAWN_G)
    altitude, azimuth = _seen(place, at, unit_vectors(stars.ra_degrees, stars.dec_degrees))
    x, y = place_in_frame(shot, pointing, altitude, azimuth)
    shown = inside(shot, x, y) & (altitude > horizon.height_at(azimuth))
    return StarDots(x[shown], y[shown], stars.magnitude[shown])


def _pieces(x: Floats, y: Floats, shot: Shot, margin: float = 1.6) -> tuple[Floats, ...]:
    """Return the parts of a line that lie near the frame."""
    runs = _runs(inside(shot, x, y, margin))
    return tuple(np.stack([x[a:b], y[a:b]], axis=1) for a, b in runs)


def _runs(keep: Flags) -> list[tuple[int, int]]:
    edges = np.flatnonzero(np.diff(np.concatenate([[False], keep, [False]]).astype(np.int8)))
    return [(int(a), int(b)) for a, b in zip(edges[::2], edges[1::2], strict=True) if b - a > 1]
