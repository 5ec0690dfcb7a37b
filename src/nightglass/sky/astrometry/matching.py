"""Which found star is which catalogue star, and the camera that makes them agree."""

from __future__ import annotations

import math
from dataclasses import dataclass, field, replace

import numpy as np
from scipy.spatial import cKDTree
from scipy.spatial.transform import Rotation
from scipy.special import bdtrc

from nightglass.optics.arrays import Floats, Indices
from nightglass.optics.extent import MAD_TO_SIGMA
from nightglass.sky.astrometry.camera import Camera, places_px, turned, with_parameters, without_air
from nightglass.sky.astrometry.refraction import Apparent, seen_directions
from nightglass.sky.astrometry.robust import robust_covariance, robust_least_squares

PRIOR_CENTRE_SHARE = 0.02
"""One deviation of the optical centre from the frame's middle, over half of the diagonal: half a
millimetre on a full frame. Holds the centre where few stars cannot tell it from the aim."""
PRIOR_K1, PRIOR_K2 = 0.15, 0.08
"""One deviation of the distortion terms: a strong wide lens has 0.1 at the corner."""
LEAST_LOG10 = -300.0
"""Below it the floating-point logarithm ends."""
PLACE_FLOOR_PX = 0.15
"""Error of a star's place that does not fall with its light: mosaic, air, catalogue epoch."""


@dataclass(frozen=True)
class Match:
    """Pairs of indices: found star `found[k]` is catalogue star `catalogue[k]`."""

    found: Indices
    catalogue: Indices
    miss_px: Floats


@dataclass(frozen=True)
class Fit:
    """A camera fitted to matched stars."""

    camera: Camera
    rotation: Floats
    errors: Floats
    """1-sigma of focal_px, centre_x_px, centre_y_px, k1, k2."""
    aim_err_degrees: float
    rms_px: float
    cost: float
    """Sum of the robust squares, to compare projections with."""
    air: Floats = field(default_factory=lambda: np.empty(0))
    """Where the air was fitted (AirDoubt): turn of the zenith [rad], strength; else empty."""
    air_errors: Floats = field(default_factory=lambda: np.empty(0))
    """1-sigma of both."""


@dataclass(frozen=True)
class AirDoubt:
    """The air to fit through, and how well it is known."""

    apparent: Apparent
    """As place and clock say."""
    pole: Floats
    """About which a wrong clock turns the zenith, eastward if the clock is slow."""
    turn_err_rad: float
    strength_err: float

    def turned(self, angle_rad: float) -> AirDoubt:
        """Return the same doubt about the air of a clock that is changed."""
        x, y, z = turned(np.array(self.apparent.zenith), self.pole, angle_rad).tolist()
        return replace(self, apparent=replace(self.apparent, zenith=(x, y, z)))

    def camera(self, camera: Camera, values: Floats) -> Camera:
        """Return the camera under an air of values: turn of the zenith [rad], strength."""
        air = self.turned(float(values[0])).apparent
        return replace(camera, apparent=replace(air, strength=float(values[1])))


def pair_up(
    camera: Camera,
    rotation: Floats,
    vectors: Floats,
    found_xy: Floats,
    tolerance_px: float,
) -> Match:
    """Return the pairs that are each other's nearest within a tolerance.

    vectors: (n, 3) of catalogue stars; found_xy: (m, 2) places.
    """
    # A star behind the camera or far outside is no neighbour of anything.
    near = vectors @ rotation[2] > -0.2
    x, y = places_px(camera, rotation, vectors[near])
    margin = 50.0
    with np.errstate(invalid="ignore"):
        inside = (x > -margin) & (x < camera.width_px + margin)
        inside &= (y > -margin) & (y < camera.height_px + margin)
    index = np.flatnonzero(near)[inside]
    if index.size == 0 or found_xy.shape[0] == 0:
        empty = np.empty(0, dtype=np.intp)
        return Match(empty, empty, np.empty(0))
    predicted = np.stack([x[inside], y[inside]], axis=1)
    nearest = cKDTree(predicted).query(found_xy, distance_upper_bound=tolerance_px)
    distance, star = np.asarray(nearest[0]), np.asarray(nearest[1])
    close = np.flatnonzero(np.isfinite(distance))
    _, back = cKDTree(found_xy).query(predicted[star[close]])
    mutual = close[back == close]
    return Match(mutual, index[star[mutual]], distance[mutual])


def fit_camera(
    camera: Camera,
    rotation: Floats,
    vectors: Floats,
    places: Floats,
    place_err_px: Floats,
    doubt: AirDoubt | None = None,
) -> Fit:
    """Return the camera and aim that bring (n, 3) vectors to (n, 2) places; outliers weigh little.

    Free: the aim, focal length, optical centre and two distortion terms, the last four held near
    an undistorted centred lens by a weak prior. doubt: the air to fit through, how strong it is
    and where its zenith are then free within their doubt, and in the errors; without it the
    camera's own is kept. Raises ValueError with fewer than four stars.
    """
    if len(places) < 4:
        raise ValueError(f"{len(places)} stars are matched; fitting a camera takes 4 or more")
    trial = _trial(camera, rotation, vectors, places, place_err_px, doubt)
    solved, cost = robust_least_squares(trial.residuals, trial.slopes, np.zeros(trial.scale.size))
    best, aim = trial.unpack(solved)
    r, held = trial.residuals(solved), trial.prior.size
    miss = r[:-held].reshape(-1, 2) * trial.sigma
    err = np.sqrt(np.diag(robust_covariance(trial.slopes(solved), r, held))) * trial.scale
    return Fit(
        camera=best,
        rotation=aim,
        errors=err[3:8],
        aim_err_degrees=math.degrees(math.hypot(err[0], err[1])),
        rms_px=MAD_TO_SIGMA * float(np.median(np.hypot(miss[:, 0], miss[:, 1]))) / 1.2533,
        cost=cost,
        air=trial.values(solved)[5:],
        air_errors=err[8:],
    )


@dataclass(frozen=True)
class _Trial:
    """Stars and a first camera; parameters p are steps of `scale` from it.

    In order: three turns, focal length, centre x and y, k1, k2, and with a doubt about the air the
    turn of its zenith and its strength. All but the first four are held by a prior.
    """

    camera: Camera
    rotation: Floats
    vectors: Floats
    places: Floats
    sigma: Floats
    doubt: AirDoubt | None
    start: Floats
    scale: Floats
    prior: Floats
    prior_err: Floats

    def values(self, p: Floats) -> Floats:
        """Focal length and what follows it."""
        return np.asarray(self.start + p[3:] * self.scale[3:])

    def unpack(self, p: Floats) -> tuple[Camera, Floats]:
        turned: Floats = Rotation.from_rotvec(p[:3] * self.scale[:3]).as_matrix() @ self.rotation
        values = self.values(p)
        camera = with_parameters(self.camera, values[:5])
        return camera if self.doubt is None else self.doubt.camera(camera, values[5:]), turned

    def residuals(self, p: Floats) -> Floats:
        camera, aim = self.unpack(p)
        x, y = places_px(camera, aim, self.vectors)
        miss = (np.stack([x, y], axis=1) - self.places) / self.sigma
        # A star behind a trial camera has no place: a large miss keeps the search finite.
        miss = np.nan_to_num(miss, nan=1e4)
        held = (self.values(p)[1:] - self.prior) / self.prior_err
        return np.concatenate([miss.ravel(), held])

    def slopes(self, p: Floats) -> Floats:
        camera, aim = self.unpack(p)
        moved = _slopes(camera, aim, self.vectors)
        if self.doubt is not None:
            by_air = _air_slopes(camera, aim, self.vectors, self.doubt, self.values(p)[5:])
            moved = np.concatenate([moved, by_air], axis=2)
        moved = np.nan_to_num(moved) / self.sigma[:, :, None] * self.scale
        held = np.zeros((self.prior.size, self.scale.size))
        held[:, 4:] = np.diag(self.scale[4:] / self.prior_err)
        return np.concatenate([moved.reshape(-1, self.scale.size), held])


def _trial(
    camera: Camera,
    rotation: Floats,
    vectors: Floats,
    places: Floats,
    place_err_px: Floats,
    doubt: AirDoubt | None,
) -> _Trial:
    prior, prior_err = _prior(camera, doubt)
    usual = [1e-3, 1e-3, 1e-3, camera.focal_px * 1e-3, *prior_err[:2], 0.01, 0.01]
    return _Trial(
        camera=camera,
        rotation=rotation,
        vectors=vectors,
        places=places,
        sigma=np.hypot(place_err_px, PLACE_FLOOR_PX)[:, None],
        doubt=doubt,
        start=np.concatenate([_values(camera), prior[4:]]),
        scale=np.array([*usual, *prior_err[4:]]),
        prior=prior,
        prior_err=prior_err,
    )


def _values(camera: Camera) -> Floats:
    return np.array([camera.focal_px, camera.centre_x_px, camera.centre_y_px, camera.k1, camera.k2])


def _prior(camera: Camera, doubt: AirDoubt | None) -> tuple[Floats, Floats]:
    """Where optical centre, distortion and the air are held, and one deviation of each."""
    centre_err = PRIOR_CENTRE_SHARE * camera.half_diagonal_px
    middle = ((camera.width_px - 1) / 2, (camera.height_px - 1) / 2)
    air = [] if doubt is None else [0.0, doubt.apparent.strength]
    air_err = [] if doubt is None else [doubt.turn_err_rad, doubt.strength_err]
    return (
        np.array([*middle, 0.0, 0.0, *air]),
        np.array([centre_err, centre_err, PRIOR_K1, PRIOR_K2, *air_err]),
    )


def _air_slopes(
    camera: Camera, rotation: Floats, vectors: Floats, doubt: AirDoubt, values: Floats
) -> Floats:
    """Return d(x, y) / d(turn of the zenith, strength): (n, 2, 2)."""
    here = np.stack(places_px(camera, rotation, vectors), axis=1)
    steps = (1e-4, 1e-3)
    moved = (
        places_px(doubt.camera(camera, values + step * np.eye(2)[k]), rotation, vectors)
        for k, step in enumerate(steps)
    )
    slopes = [
        (np.stack(place, axis=1) - here) / step for place, step in zip(moved, steps, strict=True)
    ]
    return np.stack(slopes, axis=2)


def _slopes(camera: Camera, rotation: Floats, vectors: Floats) -> Floats:
    """Return d(x, y) / d(turns about the camera's axes, focal, centre, k1, k2): (n, 2, 8)."""
    out = np.zeros((len(vectors), 2, 8))
    if camera.apparent is not None:
        vectors, camera = seen_directions(vectors, camera.apparent), without_air(camera)
    ahead = vectors @ rotation.T
    x0, y0 = places_px(camera, np.eye(3), ahead)
    step = 1e-6
    for axis in range(3):
        # A small turn about an axis adds axis x vector.
        turned, (b, c) = ahead.copy(), ((axis + 1) % 3, (axis + 2) % 3)
        turned[:, b] -= step * ahead[:, c]
        turned[:, c] += step * ahead[:, b]
        x, y = places_px(camera, np.eye(3), turned)
        out[:, 0, axis], out[:, 1, axis] = (x - x0) / step, (y - y0) / step
    plain = replace(camera, centre_x_px=0.0, centre_y_px=0.0, k1=0.0, k2=0.0)
    ideal = np.stack(places_px(plain, np.eye(3), ahead), axis=1)
    q2 = (np.sum(ideal * ideal, axis=1) / camera.half_diagonal_px**2)[:, None]
    out[:, :, 3] = ideal / camera.focal_px * (1 + 3 * camera.k1 * q2 + 5 * camera.k2 * q2 * q2)
    out[:, 0, 4] = out[:, 1, 5] = 1.0
    out[:, :, 6], out[:, :, 7] = ideal * q2, ideal * q2 * q2
    return out


def chance_log10(
    tried: int, agreed: int, catalogue: int, tolerance_px: float, camera: Camera
) -> float:
    """Return log10 of the probability that at least `agreed` of `tried` places fit by chance.

    Each place has a chance of catalogue x pi tolerance^2 / area of lying near one of the catalogue
    stars. Four of the agreements are used up by the fit and do not count.
    """
    area = float(camera.width_px * camera.height_px)
    each = -math.expm1(-catalogue * math.pi * tolerance_px**2 / area)
    counted = agreed - 4
    if counted <= 0 or tried < agreed:
        return 0.0
    chance = float(bdtrc(counted - 1, tried - 4, each))
    return max(math.log10(chance), LEAST_LOG10) if chance > 0 else LEAST_LOG10


def with_projection(camera: Camera, kind: str) -> Camera:
    """Return the camera with another projection and no distortion, to fit anew."""
    return replace(camera, projection=kind, k1=0.0, k2=0.0)  # type: ignore[arg-type]
