"""Frames of the real sky with known truth: catalogue stars, exact trails, spots of a real lens.

Counts are those of a linear raw file: black, photon noise by the gain, read noise, clipping. The
lens is a grid of spots worked out from wavefronts that change over the field; a star is drawn
with the spot of its cell along its own path. Everything is seeded: the same scene is the same
frame.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from nightglass.frame.record import Frame, Metadata
from nightglass.light.counts import stars_per_square_degree
from nightglass.light.defaults import EARTH_ROTATION_RAD_S
from nightglass.optics.compiled import compiled
from nightglass.optics.extent import Extent, extent
from nightglass.optics.wavefront import Pupil, blurred, seidel, spot
from nightglass.sky.camera import Camera, places_px, pole_of_date, turned, unit_vectors, vectors_at
from nightglass.sky.catalogue import load_stars

Array = NDArray[np.float64]

FINE = 4
"""Samples of a spot per pixel."""
RGGB = ((0, 1), (1, 2))


@dataclass(frozen=True)
class LensSpots:
    """Spots over a grid of the frame: (rows, columns, samples, samples), FINE per pixel, sum 1.

    The pixel's own blur is in them; the light of the ideal image lies in the middle.
    """

    stamps: NDArray[np.float32]

    def truth(self, row: int, column: int) -> Extent:
        """Return the measures of the spot of one cell [px], without any trail."""
        stamp = self.stamps[row, column].astype(np.float64)
        return extent(stamp, step_px=1 / FINE)


@dataclass(frozen=True)
class Aberrations:
    """Wavefront terms [um] at the corner of the field; see optics.wavefront.seidel.

    Coma grows with the field radius, astigmatism and field curvature with its square.
    """

    defocus_um: float = 0.3
    spherical_um: float = 0.3
    coma_um: float = 2.0
    astigmatism_um: float = 1.5
    curvature_um: float = 1.0
    decentre_um: float = 0.0
    """Tilt of the image plane: defocus at the right edge, its opposite at the left."""


def lens_spots(
    camera: Camera,
    pitch_um: float,
    f_number: float,
    aberrations: Aberrations,
    grid: tuple[int, int] = (5, 7),
    size_px: int = 41,
) -> LensSpots:
    """Return the spots of a lens over a grid (rows, columns) of equal cells of the frame."""
    step = pitch_um / FINE
    finer = max(1, math.ceil(step / (0.5 * 0.53 * f_number)))
    samples = size_px * FINE
    stamps = np.empty((*grid, samples, samples), dtype=np.float32)
    for row in range(grid[0]):
        for column in range(grid[1]):
            x = ((column + 0.5) / grid[1] - 0.5) * camera.width_px
            y = ((row + 0.5) / grid[0] - 0.5) * camera.height_px
            r = math.hypot(x, y) / camera.half_diagonal_px
            a = aberrations
            terms = seidel(
                w020_um=a.defocus_um
                + a.curvature_um * r * r
                + a.decentre_um * 2 * x / camera.width_px,
                w040_um=a.spherical_um,
                w131_um=a.coma_um * r,
                w222_um=a.astigmatism_um * r * r,
                azimuth_degrees=math.degrees(math.atan2(y, x)),
            )
            light = spot(Pupil(f_number, terms), 0.53, step / finer, samples * finer)
            seen = blurred(light, step / finer, pitch_um)
            middle = seen.shape[0] // 2
            first = middle - (samples // 2) * finer
            picked = seen[first::finer, first::finer][:samples, :samples]
            stamps[row, column] = picked / picked.sum()
    return LensSpots(stamps)


@dataclass(frozen=True)
class Scene:
    """A sky, a camera aimed at it, an exposure; everything that the truth consists of."""

    camera: Camera
    rotation: Array
    spots: LensSpots
    exposure_s: float = 15.0
    year: float = 2026.0
    zero_counts_per_s: float = 2.0e5
    """Green counts per second of a G 0 star, if all pixels were green."""
    faintest_g: float = 10.0
    sky_counts: tuple[float, float, float] = (60.0, 120.0, 80.0)
    """Red, green, blue counts per pixel over the exposure, above black, at the frame's middle."""
    glow: float = 0.5
    """Share by which the sky is brighter at the bottom than at the top."""
    colour_shares: tuple[float, float, float] = (0.5, 1.0, 0.6)
    gain_e_per_count: float = 1.0
    read_noise_counts: float = 3.0
    black: int = 512
    clipping: int = 16000
    hot_pixels: int = 2000
    land: float = 0.0
    """Share of the frame, from the bottom, that trees and ground cover."""
    satellites: int = 1
    drift_px: tuple[float, float] = (0.0, 0.0)
    """Even motion of the camera during the exposure (x, y): a slipping tripod."""
    rate: float = 1.0
    """Sky's motion as seen by the camera: 1 on a tripod, 0 on a perfect tracking mount."""
    seed: int = 1
    metadata: Metadata = field(default_factory=Metadata)


@dataclass(frozen=True)
class Truth:
    """Stars drawn: catalogue index (-1 beyond it), middle of the path, magnitude, trail."""

    index: NDArray[np.intp]
    x_px: Array
    y_px: Array
    magnitude: Array
    trail_x_px: Array
    trail_y_px: Array
    """End minus start of the path."""
    hidden: NDArray[np.bool_]
    """Behind land."""


def render(scene: Scene) -> tuple[Frame, Truth]:
    """Return the frame of a scene (Bayer RGGB, uint16) and what was drawn."""
    rng = np.random.default_rng(scene.seed)
    camera = scene.camera
    index, vectors, magnitude = _stars(scene, rng)
    shares = np.linspace(-0.5, 0.5, _steps(scene))
    paths_x, paths_y = star_paths(scene, vectors, shares)
    middle = len(shares) // 2
    inside = np.isfinite(paths_x).all(axis=1) & np.isfinite(paths_y).all(axis=1)
    inside &= (paths_x[:, middle] > -10) & (paths_x[:, middle] < camera.width_px + 9)
    inside &= (paths_y[:, middle] > -10) & (paths_y[:, middle] < camera.height_px + 9)
    paths_x, paths_y = paths_x[inside], paths_y[inside]
    index, magnitude = index[inside], magnitude[inside]
    light = _sky(scene)
    counts = scene.zero_counts_per_s * scene.exposure_s * 10 ** (-0.4 * magnitude)
    tint = rng.normal(0, 0.12, size=(len(counts), 1)) * np.array([[1.0, 0.0, -1.0]])
    flux = counts[:, None] * np.array([scene.colour_shares]) * np.exp(tint)
    pattern = np.array(RGGB, dtype=np.uint8)
    _draw(light, paths_x, paths_y, flux, scene.spots.stamps, pattern)
    ridge = _ridge(scene, rng)
    _satellites(light, scene, rng)
    _land(light, ridge, rng)
    samples = _exposed(light, scene, rng)
    frame = Frame(
        samples=samples,
        pattern=pattern,
        black=np.full((2, 2), float(scene.black)),
        clipping=np.full((2, 2), float(scene.clipping)),
        kind="mosaic",
        metadata=scene.metadata,
        file=f"scene {scene.seed}",
    )
    x, y = paths_x[:, middle], paths_y[:, middle]
    column = np.clip(x.astype(int), 0, camera.width_px - 1)
    truth = Truth(
        index=index,
        x_px=x,
        y_px=y,
        magnitude=magnitude,
        trail_x_px=paths_x[:, -1] - paths_x[:, 0],
        trail_y_px=paths_y[:, -1] - paths_y[:, 0],
        hidden=y > ridge[column],
    )
    return frame, truth


def star_paths(scene: Scene, vectors: Array, shares: Array) -> tuple[Array, Array]:
    """Return places (stars, shares) of stars at shares of the exposure, 0 being its middle."""
    pole = pole_of_date(scene.year)
    angle = EARTH_ROTATION_RAD_S * scene.exposure_s * scene.rate * shares
    # Seen from the turning Earth the stars go round the pole clockwise, westward.
    moved = turned(vectors[:, None, :], pole, -angle[None, :])
    x, y = places_px(scene.camera, scene.rotation, moved)
    return x + scene.drift_px[0] * shares, y + scene.drift_px[1] * shares


def _steps(scene: Scene) -> int:
    """Steps along the paths, at most a third of a pixel apart at the corner."""
    longest = 3.3 * scene.camera.focal_px * EARTH_ROTATION_RAD_S * scene.exposure_s * scene.rate
    longest += math.hypot(*scene.drift_px)
    return 2 * math.ceil(1.5 * longest) + 1


def _stars(scene: Scene, rng: np.random.Generator) -> tuple[NDArray[np.intp], Array, Array]:
    """Catalogue stars near the frame, and random fainter ones by the counts table."""
    stars = load_stars().brighter_than(min(scene.faintest_g, 9.5))
    vectors = unit_vectors(stars.ra_degrees, stars.dec_degrees)
    camera = scene.camera
    corners = vectors_at(
        camera,
        scene.rotation,
        np.array([0.0, camera.width_px - 1.0, 0.0, camera.width_px - 1.0]),
        np.array([0.0, 0.0, camera.height_px - 1.0, camera.height_px - 1.0]),
    )
    axis = scene.rotation[2]
    least = float(np.nanmin(corners @ axis)) - 0.02
    near = np.flatnonzero(vectors @ axis > least)
    index, chosen, magnitude = near, vectors[near], stars.magnitude[near]
    if scene.faintest_g > 9.5:
        cap = 2 * math.pi * (1 - least) * (180 / math.pi) ** 2
        edges = np.arange(9.5, scene.faintest_g + 1e-9, 0.1)
        counts = np.diff(stars_per_square_degree(edges)) * cap
        drawn = np.repeat(edges[:-1], rng.poisson(counts))
        faint = drawn + rng.uniform(0, 0.1, size=drawn.size)
        z = rng.uniform(least, 1.0, size=faint.size)
        turn = rng.uniform(0, 2 * math.pi, size=faint.size)
        flat = np.sqrt(1 - z * z)
        own = np.stack([flat * np.cos(turn), flat * np.sin(turn), z], axis=1) @ scene.rotation
        index = np.concatenate([index, np.full(faint.size, -1)])
        chosen = np.concatenate([chosen, own])
        magnitude = np.concatenate([magnitude, faint])
    return index.astype(np.intp), chosen, np.asarray(magnitude, dtype=np.float64)


def _sky(scene: Scene) -> NDArray[np.float32]:
    rows, columns = scene.camera.height_px, scene.camera.width_px
    light = np.empty((rows, columns), dtype=np.float32)
    lean = (1 + scene.glow * (np.arange(rows) / rows - 0.5)).astype(np.float32)
    for y in range(2):
        for x in range(2):
            light[y::2, x::2] = np.float32(scene.sky_counts[RGGB[y][x]]) * lean[y::2, None]
    return light


def _ridge(scene: Scene, rng: np.random.Generator) -> Array:
    """Row below which land begins, per column: hills and tree tops."""
    columns = np.arange(scene.camera.width_px)
    height = scene.camera.height_px
    if scene.land <= 0:
        return np.full(columns.size, float(height))
    top = height * (1 - scene.land) + 0.05 * height * np.sin(columns / 700 + rng.uniform(0, 6))
    knots = np.arange(0, columns.size + 60, 60)
    return top + np.interp(columns, knots, rng.uniform(0, 0.04 * height, size=knots.size))


def _land(light: NDArray[np.float32], ridge: Array, rng: np.random.Generator) -> None:
    rows, columns = light.shape
    if ridge.min() >= rows:
        return
    y = np.arange(rows)[:, None]
    dark = y > ridge[None, :]
    patches = np.kron(
        rng.uniform(0.03, 0.3, size=(rows // 8 + 1, columns // 8 + 1)), np.ones((8, 8))
    )
    light[dark] *= patches[:rows, :columns][dark].astype(np.float32)
    # A lit tent and a few lamps.
    cy, cx = rows * 0.9, columns * rng.uniform(0.2, 0.8)
    x = np.arange(columns)[None, :]
    glow = np.exp(-0.5 * (((y - cy) / 60) ** 2 + ((x - cx) / 90) ** 2))
    light += (6000 * glow * dark).astype(np.float32)
    for _ in range(12):
        ly, lx = int(rng.uniform(0.8, 0.99) * rows), int(rng.uniform(0, columns))
        if ly > ridge[lx]:
            light[max(ly - 2, 0) : ly + 3, max(lx - 2, 0) : lx + 3] += rng.uniform(300, 9000)


def _satellites(light: NDArray[np.float32], scene: Scene, rng: np.random.Generator) -> None:
    rows, columns = light.shape
    for _ in range(scene.satellites):
        x0, y0 = rng.uniform(0, columns), rng.uniform(0, rows * 0.6)
        turn = rng.uniform(0, 2 * math.pi)
        along = np.arange(0, rng.uniform(0.2, 0.6) * columns, 0.5)
        x = np.rint(x0 + along * math.cos(turn)).astype(int)
        y = np.rint(y0 + along * math.sin(turn)).astype(int)
        ok = (x >= 1) & (x < columns - 1) & (y >= 1) & (y < rows - 1)
        for dy in (-1, 0, 1):
            np.add.at(light, (y[ok] + dy, x[ok]), np.float32(20.0 if dy else 40.0))


def _exposed(
    light: NDArray[np.float32], scene: Scene, rng: np.random.Generator
) -> NDArray[np.uint16]:
    variance = light / np.float32(scene.gain_e_per_count) + np.float32(scene.read_noise_counts**2)
    noise = rng.standard_normal(light.shape, dtype=np.float32)
    noise *= np.sqrt(variance, out=variance)
    light += noise
    light += scene.black
    hot = rng.integers(0, light.size, size=scene.hot_pixels)
    light.ravel()[hot] += rng.exponential(800, size=hot.size).astype(np.float32) + 60
    return np.clip(np.rint(light, out=light), 0, scene.clipping).astype(np.uint16)


@compiled
def _draw(light, paths_x, paths_y, flux, stamps, pattern):  # type: ignore[no-untyped-def]
    """Add each star's spot along its path; the spot is read between its samples."""
    rows, columns = light.shape
    grid_rows, grid_columns, samples = stamps.shape[0], stamps.shape[1], stamps.shape[2]
    p, q = pattern.shape
    half = samples // 2
    reach = half // FINE - 1
    for s in range(paths_x.shape[0]):
        steps = paths_x.shape[1]
        mx, my = paths_x[s, steps // 2], paths_y[s, steps // 2]
        i = min(max(int(my / rows * grid_rows), 0), grid_rows - 1)
        j = min(max(int(mx / columns * grid_columns), 0), grid_columns - 1)
        stamp = stamps[i, j]
        # Half a pixel apart is enough: the spot itself is wider.
        length = math.hypot(paths_x[s, -1] - paths_x[s, 0], paths_y[s, -1] - paths_y[s, 0])
        used = min(steps, max(1, math.ceil(length * 2.5)))
        for k in range(used):
            at = (k + 0.5) / used * (steps - 1)
            a = min(int(at), steps - 2) if steps > 1 else 0
            b = min(a + 1, steps - 1)
            x = paths_x[s, a] + (at - a) * (paths_x[s, b] - paths_x[s, a])
            y = paths_y[s, a] + (at - a) * (paths_y[s, b] - paths_y[s, a])
            for v in range(max(int(y) - reach, 0), min(int(y) + reach + 1, rows)):
                fy = (v - y) * FINE + half
                iy = int(fy)
                ty = np.float32(fy - iy)
                for u in range(max(int(x) - reach, 0), min(int(x) + reach + 1, columns)):
                    fx = (u - x) * FINE + half
                    ix = int(fx)
                    tx = np.float32(fx - ix)
                    value = (1 - ty) * ((1 - tx) * stamp[iy, ix] + tx * stamp[iy, ix + 1]) + ty * (
                        (1 - tx) * stamp[iy + 1, ix] + tx * stamp[iy + 1, ix + 1]
                    )
                    c = pattern[v % p, u % q]
                    light[v, u] += flux[s, c] / used * value * (FINE * FINE)
