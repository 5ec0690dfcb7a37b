"""From a first identification to the camera: more stars, tighter places, the right projection."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from functools import lru_cache

import numpy as np

from nightglass.optics.arrays import Floats, Indices
from nightglass.optics.projection import PROJECTIONS
from nightglass.sky.astrometry.attempt import Attempt
from nightglass.sky.astrometry.camera import (
    Camera,
    catalogue_rotation,
    places_px,
    roll_degrees,
    sky_degrees,
    unit_vectors,
    vectors_at,
    width_degrees,
)
from nightglass.sky.astrometry.catalogue import load_stars
from nightglass.sky.astrometry.identify import Identified
from nightglass.sky.astrometry.matching import (
    Fit,
    Match,
    chance_log10,
    fit_camera,
    pair_up,
    with_projection,
)
from nightglass.sky.stars.find import FoundStars

WHOLE = 1.01
"""Field radius from which a round takes the whole frame."""
ROUNDS = (
    (0.012, 0.45, 60),
    (0.007, 0.6, 80),
    (0.005, 0.75, 120),
    (0.004, 0.9, 160),
    (0.0025, WHOLE, 200),
    (0.0015, WHOLE, 250),
)
"""Tolerance over the long side, field radius and most stars of the first rounds: from the middle,
where distortion is small, outward."""
ROUNDS_PX = (6.0, 4.0, 3.0)
MOST_STARS = 800
STEADY_SNR, STEADY_STARS = 60.0, 150
"""The centre of a fainter star is weighted toward its core and misses what the lens throws to one
side: in the corners that would count as focal length."""
STRAY = 4.0
"""Pairs that miss by more than so many medians do not tell the camera."""
WORST_RMS_PX = 2.0
USUAL_K1 = 0.15
"""Distortion beyond which a lens is no rectilinear one, if another kind fits with less."""
CROWDING = 0.12
"""Catalogue stars expected by chance inside a tolerance: sets how deep each round goes."""
DEEPER = 6
"""Catalogue stars per found star, at most."""
AIR, COMA = 0.0005, 0.0004
"""Of the focal length. The air where it is not taken out: 0.05 % too short as a rule.
Coma of 2 um of wavefront at the corner moves centres of light by 4 N um there: 0.04 % of a full
frame at f/2."""
CHECK_STARS = 200
"""Brightest found stars on which the false-alarm test stands."""


@dataclass(frozen=True)
class Solution:
    """A solved frame."""

    camera: Camera
    rotation: Floats
    fit: Fit
    match: Match
    """Indices into the found stars and into the catalogue."""
    rms_px: float
    chance_log10: float
    """log10 of the probability of this agreement by chance."""
    projection_known: bool
    """False if another projection with its own distortion fits as well."""
    tried: tuple[Attempt, ...] = ()

    @property
    def ra_degrees(self) -> float:
        """Right ascension (ICRS) of what stands in the middle of the frame [degrees]."""
        return self._middle()[0]

    @property
    def dec_degrees(self) -> float:
        """Declination (ICRS) of what stands there [degrees]."""
        return self._middle()[1]

    @property
    def focal_err_px(self) -> float:
        """1-sigma of the lens's own focal length [px]: coma, and the air where it is still in.

        fit.errors[0] is that of the centres of light: coma lengthens it by up to 0.04 %, and the
        air, where it was not taken out (Camera.apparent), shortens it by 0.02 to 0.12 %.
        """
        air = AIR if self.camera.apparent is None else 0.0
        focal_px = self.camera.focal_px
        return math.hypot(float(self.fit.errors[0]), air * focal_px, COMA * focal_px)

    @property
    def roll_degrees(self) -> float:
        """Position angle of the frame's "up" among catalogue directions [degrees]."""
        return roll_degrees(catalogue_rotation(self.camera, self.rotation))

    @property
    def width_degrees(self) -> float:
        """Angle that the middle row spans [degrees]."""
        return width_degrees(self.camera)

    def _middle(self) -> tuple[float, float]:
        x, y = (self.camera.width_px - 1) / 2, (self.camera.height_px - 1) / 2
        ra, dec = sky_degrees(vectors_at(self.camera, self.rotation, x, y))
        return float(ra), float(dec)


@lru_cache(maxsize=1)
def catalogue_vectors() -> tuple[Floats, Floats]:
    """Return unit vectors (n, 3) and G magnitudes (n) of the catalogue, brightest first."""
    stars = load_stars()
    order = np.argsort(stars.magnitude, kind="stable")
    vectors = unit_vectors(stars.ra_degrees[order], stars.dec_degrees[order])
    return vectors, np.asarray(stars.magnitude[order], dtype=np.float64)


def refine(stars: FoundStars, trusted: Indices, first: Identified) -> Solution | None:
    """Return the camera refined in rounds from the brightest stars to all; None if it falls apart.

    trusted: indices of the found stars to go by, brightest first. The first rounds stay near the
    place where the first camera holds.
    """
    camera, rotation = first.camera, first.rotation
    start = first.x_px, first.y_px
    near, vectors = _neighbourhood(camera, rotation)
    xy = np.column_stack([stars.x_px, stars.y_px])
    err = np.hypot(stars.x_px_err, stars.y_px_err) / math.sqrt(2)
    long_px = max(camera.width_px, camera.height_px)
    rounds = [(t * long_px, r, n) for t, r, n in ROUNDS if t * long_px > ROUNDS_PX[0]]
    rounds += [(t, WHOLE, 400) for t in ROUNDS_PX]
    fit: Fit | None = None
    for tolerance, field_radius, most in rounds:
        if fit is not None:
            # Never tighter than what the last round left.
            tolerance = max(tolerance, 3 * fit.rms_px)
        found, match = _round(
            vectors, xy, trusted, (camera, rotation), (tolerance, field_radius, most), start
        )
        if len(match.found) < 5:
            return None
        pairs = found[match.found]
        fit = fit_camera(camera, rotation, vectors[match.catalogue], xy[pairs], err[pairs])
        camera, rotation = fit.camera, fit.rotation
        if not _sound(camera):
            return None
    if fit is None or fit.rms_px > WORST_RMS_PX:
        return None
    final = max(2.0, 4 * fit.rms_px)
    reach = (final, WHOLE, MOST_STARS)
    found, match = _round(vectors, xy, trusted, (camera, rotation), reach, start)
    if len(match.found) < 5:
        return None
    pairs = found[match.found]
    use = steady(stars.snr[pairs])
    for _ in range(2):
        chosen, places = vectors[match.catalogue[use]], xy[pairs[use]]
        fit = fit_camera(camera, rotation, chosen, places, err[pairs[use]])
        camera, rotation = fit.camera, fit.rotation
        # A lamp on the land beside a hidden star, or one star on the skirt of another.
        x, y = places_px(camera, rotation, chosen)
        miss = np.hypot(x - places[:, 0], y - places[:, 1])
        use = use[miss < STRAY * np.median(miss)]
    return Solution(
        camera=fit.camera,
        rotation=fit.rotation,
        fit=fit,
        match=Match(pairs, near[match.catalogue], match.miss_px),
        rms_px=fit.rms_px,
        chance_log10=_chance(vectors, xy, trusted, fit, final),
        projection_known=False,
    )


def best_projection(stars: FoundStars, trusted: Indices, solution: Solution) -> Solution:
    """Return the solution under the projection that fits best, and whether others are ruled out.

    Each projection gets its own focal length, centre and distortion for the same pairs of stars;
    one whose robust sum of squares is larger by 25 is ruled out (5 deviations). A kind that needs
    much distortion may have lost the stars near the corners: then the one that matches the most
    stars comes first.
    """
    fits = _fits(stars, solution)
    if abs(solution.camera.k1) > USUAL_K1:
        others = (_again(stars, trusted, fits[k]) for k in fits if k != solution.camera.projection)
        all_kinds = [solution, *(found for found in others if found is not None)]
        solution = max(all_kinds, key=lambda found: (len(found.match.found), -found.rms_px))
        fits = _fits(stars, solution)
    costs = {kind: fit.cost for kind, fit in fits.items()}
    best = min(costs, key=lambda kind: costs[kind])
    # Where nothing tells them apart the simplest is meant: a rectilinear lens of usual distortion,
    # else the kind that needs the least distortion.
    equal = [kind for kind in costs if costs[kind] < costs[best] + 25]
    if "rectilinear" in equal and abs(fits["rectilinear"].camera.k1) < USUAL_K1:
        best = "rectilinear"
    else:
        best = min(equal, key=lambda kind: abs(fits[kind].camera.k1) + abs(fits[kind].camera.k2))
    known = len(equal) == 1
    if best == solution.camera.projection:
        return replace(solution, projection_known=known)
    again = _again(stars, trusted, fits[best])
    if again is None or again.chance_log10 > solution.chance_log10 / 2:
        return replace(solution, projection_known=False)
    return replace(again, projection_known=known)


def _fits(stars: FoundStars, solution: Solution) -> dict[str, Fit]:
    """Cameras of every kind for the pairs of a solution."""
    vectors, _ = catalogue_vectors()
    use = steady(stars.snr[solution.match.found])
    pairs, chosen = solution.match.found[use], solution.match.catalogue[use]
    xy = np.column_stack([stars.x_px[pairs], stars.y_px[pairs]])
    err = np.hypot(stars.x_px_err[pairs], stars.y_px_err[pairs]) / math.sqrt(2)
    fits: dict[str, Fit] = {}
    for kind in PROJECTIONS:
        start = solution.camera
        if kind != start.projection:
            start = with_projection(start, kind)
        fits[kind] = fit_camera(start, solution.rotation, vectors[chosen], xy, err)
    return fits


def _again(stars: FoundStars, trusted: Indices, fit: Fit) -> Solution | None:
    """The solution from a fitted camera on, from its optical centre outward."""
    middle = fit.camera.centre_x_px, fit.camera.centre_y_px
    return refine(stars, trusted, Identified(fit.camera, fit.rotation, *middle))


def steady(snr: Floats) -> Indices:
    """Return indices of the stars whose centres tell the camera: the strong ones, if enough."""
    strong = np.flatnonzero(snr >= STEADY_SNR)
    return strong if strong.size >= STEADY_STARS else np.arange(snr.size)


def stars_in_frame(
    camera: Camera, rotation: Floats, faintest_g: float = math.inf
) -> tuple[Indices, Floats, Floats]:
    """Return catalogue indices (brightest first) and places (x_px, y_px) of the stars in frame."""
    vectors, magnitude = catalogue_vectors()
    until = int(np.searchsorted(magnitude, faintest_g, side="right"))
    return _inside(camera, rotation, vectors[:until])


def _inside(camera: Camera, rotation: Floats, vectors: Floats) -> tuple[Indices, Floats, Floats]:
    x0, y0 = (camera.width_px - 1) / 2, (camera.height_px - 1) / 2
    middle = vectors_at(camera, rotation, x0, y0)
    least = _least_cosine(camera, rotation) - 0.01
    near = np.flatnonzero(vectors @ middle > least)
    x, y = places_px(camera, rotation, vectors[near])
    with np.errstate(invalid="ignore"):
        inside = (x > -0.5) & (x < camera.width_px - 0.5)
        inside &= (y > -0.5) & (y < camera.height_px - 0.5)
    return near[inside], x[inside], y[inside]


def _neighbourhood(camera: Camera, rotation: Floats) -> tuple[Indices, Floats]:
    """Indices and vectors of the catalogue stars that the rounds may need, brightest first."""
    vectors, _ = catalogue_vectors()
    # A first camera is off by some percent, in its aim and focal length.
    least = math.cos(min(1.15 * math.acos(_least_cosine(camera, rotation)) + 0.05, math.pi))
    middle = vectors_at(camera, rotation, (camera.width_px - 1) / 2, (camera.height_px - 1) / 2)
    near = np.flatnonzero(vectors @ middle > least)
    return near, vectors[near]


def _least_cosine(camera: Camera, rotation: Floats) -> float:
    """Cosine of the largest angle between the frame's middle and a corner."""
    x, y = (camera.width_px - 1) / 2, (camera.height_px - 1) / 2
    middle = vectors_at(camera, rotation, x, y)
    corner = vectors_at(
        camera, rotation, x + np.array([-x, x, -x, x]), y + np.array([-y, -y, y, y])
    )
    # A corner outside the image circle has no direction: then all of the sky is looked at.
    least = float(np.min(corner @ middle))
    return max(least, -1.0) if math.isfinite(least) else -1.0


def _round(
    vectors: Floats,
    xy: Floats,
    trusted: Indices,
    view: tuple[Camera, Floats],
    reach: tuple[float, float, int],
    start: tuple[float, float],
) -> tuple[Indices, Match]:
    """Pair the brightest found with the brightest catalogue stars, no deeper than is safe.

    reach: tolerance [px], distance from start [px] over half of the diagonal, most found stars.
    """
    camera, rotation = view
    tolerance_px, field_radius, most = reach
    radius_px = field_radius * camera.half_diagonal_px if field_radius < WHOLE else math.inf
    area = min(camera.width_px * camera.height_px, math.pi * radius_px**2)
    depth = int(max(30, CROWDING * area / (math.pi * tolerance_px**2)))
    # Land and cloud hide many, but those found are not fainter than that.
    depth = min(depth, DEEPER * most)
    # The frame is at least a fifth of the neighbourhood: these hold its brightest.
    deepest = int(min(len(vectors), 5 * depth + 1000))
    index, x, y = _inside(camera, rotation, vectors[:deepest])
    near = np.hypot(x - start[0], y - start[1]) < radius_px
    chosen = index[near][:depth]
    places = xy[trusted]
    close = np.hypot(places[:, 0] - start[0], places[:, 1] - start[1])
    found = trusted[close < radius_px][: min(max(depth, 30), most)]
    match = pair_up(camera, rotation, vectors[chosen], xy[found], tolerance_px)
    return found, Match(match.found, chosen[match.catalogue], match.miss_px)


def _chance(vectors: Floats, xy: Floats, trusted: Indices, fit: Fit, tolerance_px: float) -> float:
    """False-alarm test on the brightest found stars and twice as many catalogue stars."""
    tested = trusted[:CHECK_STARS]
    index, _, _ = _inside(fit.camera, fit.rotation, vectors[: 10 * len(tested) + 1000])
    chosen = index[: 2 * len(tested)]
    match = pair_up(fit.camera, fit.rotation, vectors[chosen], xy[tested], tolerance_px)
    return chance_log10(len(tested), len(match.found), len(chosen), tolerance_px, fit.camera)


def _sound(camera: Camera) -> bool:
    """Whether the distortion leaves the picture unfolded and the camera is within what is made."""
    q = np.linspace(0, 1, 21)
    grows = 1 + 3 * camera.k1 * q**2 + 5 * camera.k2 * q**4
    ratio = camera.focal_px / max(camera.width_px, camera.height_px)
    return bool(np.all(grows > 0.2)) and 0.1 < ratio < 20
