"""The blur of a setting over the frame: worst zone, trail, and noise areas between zones.

Trails: declination 0, frame aimed at it, long side east to west. Places on the sensor are mm from
its centre, x right and y down, as in nightglass.almanac.trail.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from scipy.fft import irfft2, next_fast_len, rfft2

from nightglass.almanac.trail import Aim, Trail, trail_mm
from nightglass.bench.records import SettingResult, ZoneResult
from nightglass.gear.body import Body
from nightglass.optics.arrays import Floats
from nightglass.optics.extent import (
    APERTURE_LEAST_PX,
    APERTURE_LENGTHS,
    GAUSSIAN_LENGTH,
    trailed,
    within,
)
from nightglass.optics.projection import Projection

REACH = 0.3
"""How far in field radius a measured zone speaks for places beyond the outermost and the innermost
zone; farther out is "not tested"."""
SAME_RADIUS = 0.05
"""Zones nearer than this in field radius share one ring and are averaged."""
TURN_STEP_DEGREES = 15.0


@dataclass(frozen=True)
class Tightness:
    """The worst zone of a setting, without and with the trail [% of picture height]."""

    lens_percent: float
    lens_percent_err: float | None
    worst_place: str
    at_limit: bool
    trailed_percent: float


def usable_zones(result: SettingResult) -> tuple[ZoneResult, ...]:
    """Return the zones that gave a length or, at limit, its upper bound."""
    return tuple(zone for zone in result.zones if zone.length_px.bound is not None)


def zone_noise_area_px(zone: ZoneResult) -> float | None:
    """Return the noise area of a zone's spot; where it was not measured, that of a Gaussian of
    the zone's length (at limit: of its upper bound); None if no length is known."""
    measured = zone.noise_area_px.value
    if measured is not None and measured > 0:
        return measured
    length = zone.length_px.bound
    return None if length is None else 4 * math.pi * (length / GAUSSIAN_LENGTH) ** 2


def equator_aim(body: Body) -> Aim:
    """Return the aim at declination 0 with the long side of the frame east to west."""
    return Aim(0.0, 0.0 if body.width_px >= body.height_px else 90.0)


def worst_zone(zones: Sequence[ZoneResult]) -> ZoneResult:
    """Return the zone with the longest spot, the upper bound counting at limit.

    Raises ValueError without a usable zone.
    """
    known = [(length, zone) for zone in zones if (length := zone.length_px.bound) is not None]
    if not known:
        raise ValueError("no zone has a length: measure at least one place of the frame")
    return max(known, key=lambda pair: pair[0])[1]


def tightness(
    zones: Sequence[ZoneResult],
    body: Body,
    focal_mm: float,
    exposure_s: float,
    projection: Projection = "rectilinear",
) -> Tightness:
    """Return the tightness of a setting from its worst zone.

    With the trail: the zone's spot is turned about the centre through all directions in which
    its field radius lies in the frame (one lens copy shows its worst spot somewhere, but the sky
    may pass it in any of them), drawn along the trail of each place, and the worst counts. The
    worst direction is chosen by second moments, of which the long axis is made, and then measured.
    """
    worst = worst_zone(zones)
    length = worst.length_px.bound or math.nan
    to_percent = 100 / body.picture_height_px
    at_limit = worst.length_px.value is None
    err = None if at_limit or worst.length_px.err is None else worst.length_px.err * to_percent
    spot = spot_image(worst)
    trail_px, against = _trails_around(worst, body, focal_mm, exposure_s, projection)
    longest = _worst_direction(spot, trail_px, against)
    drawn = trailed(_room_around(spot, length), float(trail_px[longest]), float(against[longest]))
    trailed_length = _drawn_length_px(drawn, length)
    return Tightness(
        lens_percent=length * to_percent,
        lens_percent_err=err,
        worst_place=worst.place,
        at_limit=at_limit,
        trailed_percent=trailed_length * to_percent,
    )


def ring_weights(zones: Sequence[ZoneResult], field_radius: Floats) -> Floats:
    """Return what each zone counts at places of the frame: (zones, places), linear in radius.

    Zones of about one radius share a ring evenly. Places farther than 0.3 in field radius beyond
    the outermost or inside the innermost ring are not tested: nan.
    """
    own = tuple(float(zone.field_radius) for zone in zones)
    return _weights_at(own, field_radius.tobytes()).copy()


@lru_cache(maxsize=512)
def _weights_at(own: tuple[float, ...], places: bytes) -> Floats:
    """Weights of zones at their own radii; places: field radii as bytes. All eyes and factors of a
    setting ask for the same, and most settings of a lens."""
    field_radius = np.frombuffer(places, dtype=np.float64)
    rings: list[list[int]] = []
    for k in sorted(range(len(own)), key=own.__getitem__):
        if rings and own[k] - own[rings[-1][0]] <= SAME_RADIUS:
            rings[-1].append(k)
        else:
            rings.append([k])
    radii = [float(np.mean([own[k] for k in ring])) for ring in rings]
    weights = np.zeros((len(own), field_radius.size))
    for ring, hat in zip(rings, np.eye(len(rings)), strict=True):
        weights[ring] = np.interp(field_radius, radii, hat) / len(ring)
    tested = (field_radius <= radii[-1] + REACH) & (field_radius >= radii[0] - REACH)
    return np.where(tested, weights, np.nan)


def trailed_area_factor(zone: ZoneResult, trail_px: Floats, angle_degrees: Floats) -> Floats:
    """Return by what an even trail lengthens a spot's noise area: arrays of the trails' shape.

    angle_degrees: of the trail against the stamp's x axis. The noise area rests on the sum of
    squares, and that of a trailed spot is the spot's autocorrelation averaged along the trail
    with the triangle that is a line's own: 2 x integral over u from 0 to 1 of R(u L) (1 - u).
    """
    # Loads for a tenth of a second, and a ranking does not need it.
    from scipy.ndimage import map_coordinates

    stamp = inside_aperture(spot_image(zone), zone.length_px.bound or 0.0)
    farthest = math.ceil(float(np.max(trail_px))) + 3
    correlation = _autocorrelation(stamp, farthest)
    # A spot of 3 px is smooth over a pixel: a node for every two pixels of trail is plenty.
    nodes, weights = _gauss_legendre(max(12, farthest // 2))
    shares = (1 + nodes) / 2
    angle = np.radians(angle_degrees)[:, None]
    lag = trail_px[:, None] * shares
    rows, columns = farthest + lag * np.sin(angle), farthest + lag * np.cos(angle)
    along = map_coordinates(correlation, [rows, columns], order=3, mode="mirror")
    mean = (along * (1 - shares) * weights).sum(axis=1)
    return np.maximum(1.0, correlation[farthest, farthest] / np.maximum(mean, 1e-12))


def stamp_direction(
    zone: ZoneResult, body: Body, place_degrees: Floats, trail_degrees: Floats
) -> Floats:
    """Return the direction of trails against a zone's stamp when the spot is turned about the
    frame centre to places in other directions. A spot at the centre is not turned."""
    x_mm, y_mm = _zone_place_mm(zone, body)
    if math.hypot(x_mm, y_mm) < SAME_RADIUS * _half_diagonal_mm(body):
        return trail_degrees
    return trail_degrees - (place_degrees - math.degrees(math.atan2(y_mm, x_mm)))


def _half_diagonal_mm(body: Body) -> float:
    return math.hypot(body.width_mm, body.height_mm) / 2


def _zone_place_mm(zone: ZoneResult, body: Body) -> tuple[float, float]:
    pitch_mm = body.pitch_um / 1000
    return (
        (zone.x_px - (body.width_px - 1) / 2) * pitch_mm,
        (zone.y_px - (body.height_px - 1) / 2) * pitch_mm,
    )


def _trails_around(
    zone: ZoneResult, body: Body, focal_mm: float, exposure_s: float, projection: Projection
) -> tuple[Floats, Floats]:
    """Trail lengths [px] at a zone's radius, and their directions against its stamp."""
    x_mm, y_mm = _zone_place_mm(zone, body)
    radius, own = math.hypot(x_mm, y_mm), math.degrees(math.atan2(y_mm, x_mm))
    turns = np.concatenate([[0.0], np.arange(TURN_STEP_DEGREES, 360.0, TURN_STEP_DEGREES)])
    corner = math.degrees(math.atan2(body.height_mm, body.width_mm))
    corners = np.array([corner, 180 - corner, 180 + corner, -corner])
    place = np.concatenate([own + turns, corners])
    x, y = radius * np.cos(np.radians(place)), radius * np.sin(np.radians(place))
    # The zone's own place always counts, even if rounding puts it on the rim.
    inside = (np.abs(x) <= body.width_mm / 2) & (np.abs(y) <= body.height_mm / 2)
    inside[0] = True
    x, y, place = x[inside], y[inside], place[inside]
    trail: Trail = trail_mm(x, y, exposure_s, focal_mm, equator_aim(body), projection)
    trail_px = trail.length_mm * 1000 / body.pitch_um
    return trail_px, stamp_direction(zone, body, place, trail.angle_degrees)


def spot_image(zone: ZoneResult) -> Floats:
    """Return a zone's measured stamp (rows, columns), 1 px steps; at limit, or without one, a
    Gaussian of the length that counts."""
    length = zone.length_px.bound or 0.0
    if zone.stamp is not None and zone.length_px.value is not None:
        return np.asarray(zone.stamp, dtype=np.float64)
    width = zone.width_px.value if zone.width_px.value is not None else length
    angle = math.radians(zone.angle_degrees.value or 0.0)
    half = math.ceil(2 * length) + 4
    y, x = np.mgrid[-half : half + 1, -half : half + 1].astype(np.float64)
    u, v = x * math.cos(angle) + y * math.sin(angle), y * math.cos(angle) - x * math.sin(angle)
    s, w = length / GAUSSIAN_LENGTH, max(min(width, length) / GAUSSIAN_LENGTH, 0.3)
    spot: Floats = np.exp(-0.5 * ((u / s) ** 2 + (v / w) ** 2))
    return spot / spot.sum()


def _drawn_length_px(drawn: Floats, untrailed_px: float) -> float:
    """length_px of a trailed stamp, by the definition's own aperture.

    A stamp has no background left, so no ring is needed; the aperture grows outward from that of
    the spot without its trail, which a trail can only widen.
    """
    radius = max(APERTURE_LEAST_PX, APERTURE_LENGTHS * untrailed_px)
    y, x = (float(n // 2) for n in drawn.shape)
    for _ in range(50):
        found = within(drawn, 1.0, x, y, radius)
        wanted = max(radius, APERTURE_LENGTHS * found.length_px)
        if wanted - radius < 1e-3 * radius:
            break
        x, y, radius = found.x_px, found.y_px, wanted
    return found.length_px


def _room_around(spot: Floats, length_px: float) -> Floats:
    """Enough dark around the spot for the aperture that its trail will ask for."""
    want = math.ceil(APERTURE_LENGTHS * max(length_px, APERTURE_LEAST_PX)) + 2
    sides = [max(0, want - n // 2) for n in spot.shape]
    return np.pad(spot, [(side, side) for side in sides])


def inside_aperture(spot: Floats, length_px: float) -> Floats:
    """Return a stamp cut to its aperture, 0 outside the circle; its middle stays the middle."""
    radius = max(APERTURE_LEAST_PX, APERTURE_LENGTHS * length_px)
    middle, reach = [n // 2 for n in spot.shape], math.ceil(radius)
    cut = spot[
        max(0, middle[0] - reach) : middle[0] + reach + 1,
        max(0, middle[1] - reach) : middle[1] + reach + 1,
    ]
    y, x = (np.arange(n) - min(m, reach) for n, m in zip(cut.shape, middle, strict=True))
    inside: Floats = np.where(x[None, :] ** 2 + y[:, None] ** 2 <= radius**2, cut, 0.0)
    return inside


def _worst_direction(spot: Floats, trail_px: Floats, against_degrees: Floats) -> int:
    """Index of the trail that makes the spot longest, by the larger second moment."""
    y, x = (np.arange(n) - n // 2 for n in spot.shape)
    light = np.maximum(spot, 0.0)
    light = light / light.sum()
    mx, my = float(light.sum(axis=0) @ x), float(light.sum(axis=1) @ y)
    xx, yy = float(light.sum(axis=0) @ (x - mx) ** 2), float(light.sum(axis=1) @ (y - my) ** 2)
    xy = float((y - my) @ light @ (x - mx))
    angle = np.radians(against_degrees)
    spread = trail_px**2 / 12
    a, b = xx + spread * np.cos(angle) ** 2, yy + spread * np.sin(angle) ** 2
    c = xy + spread * np.sin(angle) * np.cos(angle)
    return int(np.argmax((a + b) / 2 + np.sqrt(((a - b) / 2) ** 2 + c**2)))


@lru_cache(maxsize=64)
def _gauss_legendre(count: int) -> tuple[Floats, Floats]:
    nodes, weights = np.polynomial.legendre.leggauss(count)
    return nodes, weights


def _autocorrelation(stamp: Floats, farthest: int) -> Floats:
    """The stamp's autocorrelation for lags up to `farthest`: lag 0 in the middle."""
    shape = tuple(next_fast_len(n + max(n, farthest) + 1, real=True) for n in stamp.shape)
    whole = irfft2(np.abs(rfft2(stamp, shape)) ** 2, shape)
    lags = np.arange(-farthest, farthest + 1)
    return whole[np.ix_(lags % shape[0], lags % shape[1])]
