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

from nightglass.frame.record import Frame, Metadata
from nightglass.light.counts import stars_per_square_degree
from nightglass.light.defaults import EARTH_ROTATION_RAD_S
from nightglass.optics.arrays import Flags, Floats, Floats32, Indices
from nightglass.scene.sky.airpath import ray_lifted
from nightglass.scene.sky.fieldspots import Aberrations, LensSpots, lens_spots
from nightglass.scene.sky.land import add_land, ridge
from nightglass.scene.sky.light import RGGB, add_aircraft, add_satellites, exposed, sky_light
from nightglass.scene.sky.strokes import draw_stars
from nightglass.sky.astrometry.camera import (
    Camera,
    places_px,
    pole_of_date,
    turned,
    unit_vectors,
    vectors_at,
)
from nightglass.sky.astrometry.catalogue import load_stars

__all__ = ["Aberrations", "LensSpots", "Scene", "Truth", "lens_spots", "render", "star_paths"]


NODE_PX = 8.0
"""Places along a path at most this far apart; between them it is straight to 0.01 px."""


@dataclass(frozen=True)
class Scene:
    """A sky, a camera aimed at it, an exposure; everything that the truth consists of."""

    camera: Camera
    rotation: Floats
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
    aircraft: int = 0
    drift_px: tuple[float, float] = (0.0, 0.0)
    """Even motion of the camera during the exposure (x, y): a slipping tripod."""
    rate: float = 1.0
    """Sky's motion as seen by the camera: 1 on a tripod, 0 on a perfect tracking mount."""
    seed: int = 1
    metadata: Metadata = field(default_factory=Metadata)
    zenith: Floats | None = None
    """ICRS vector of the zenith at the middle of the exposure: then the air lifts stars near the
    horizon, and none stand below it. None: no air."""
    air: tuple[float, float] = (1013.25, 15.0)
    """Pressure [hPa] and temperature [°C] at the camera."""
    velocity: Floats | None = None
    """Of the earth over that of light, ICRS axes; None: at rest, no aberration."""
    smooth: bool = False
    """Whether spots are blended between the cells of the lens's grid, so that each star has its
    own; a cell's truth then holds at its middle. False: every star has its cell's spot."""


@dataclass(frozen=True)
class Truth:
    """Stars drawn: catalogue index (-1 beyond it), middle of the path, magnitude, trail."""

    index: Indices
    x_px: Floats
    y_px: Floats
    magnitude: Floats
    trail_x_px: Floats
    trail_y_px: Floats
    """End minus start of the path."""
    hidden: Flags
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
    light = sky_light(camera.height_px, camera.width_px, scene.sky_counts, scene.glow)
    counts = scene.zero_counts_per_s * scene.exposure_s * 10 ** (-0.4 * magnitude)
    tint = rng.normal(0, 0.12, size=(len(counts), 1)) * np.array([[1.0, 0.0, -1.0]])
    flux = counts[:, None] * np.array([scene.colour_shares]) * np.exp(tint)
    draw_stars(light, (paths_x, paths_y), flux, scene.spots, scene.smooth)
    top = ridge(camera.height_px, camera.width_px, scene.land, rng)
    add_satellites(light, scene.satellites, rng)
    add_aircraft(light, scene.aircraft, rng)
    add_land(light, top, rng)
    x, y = paths_x[:, middle], paths_y[:, middle]
    column = np.clip(x.astype(int), 0, camera.width_px - 1)
    truth = Truth(
        index=index,
        x_px=x,
        y_px=y,
        magnitude=magnitude,
        trail_x_px=paths_x[:, -1] - paths_x[:, 0],
        trail_y_px=paths_y[:, -1] - paths_y[:, 0],
        hidden=y > top[column],
    )
    return _frame(scene, light, rng), truth


def _frame(scene: Scene, light: Floats32, rng: np.random.Generator) -> Frame:
    return Frame(
        samples=exposed(
            light,
            scene.gain_e_per_count,
            scene.read_noise_counts,
            scene.hot_pixels,
            (scene.black, scene.clipping),
            rng,
        ),
        pattern=np.array(RGGB, dtype=np.uint8),
        black=np.full((2, 2), float(scene.black)),
        clipping=np.full((2, 2), float(scene.clipping)),
        kind="mosaic",
        metadata=scene.metadata,
        file=f"scene {scene.seed}",
    )


def star_paths(scene: Scene, vectors: Floats, shares: Floats) -> tuple[Floats, Floats]:
    """Return places (stars, shares) of stars at shares of the exposure, 0 being its middle."""
    pole = pole_of_date(scene.year)
    if scene.velocity is not None:
        vectors = vectors + scene.velocity
        vectors = vectors / np.linalg.norm(vectors, axis=-1, keepdims=True)
    angle = EARTH_ROTATION_RAD_S * scene.exposure_s * scene.rate * shares
    # Seen from the turning Earth the stars go round the pole clockwise, westward.
    moved = turned(vectors[:, None, :], pole, -angle[None, :])
    if scene.zenith is not None:
        moved = ray_lifted(moved, scene.zenith, *scene.air)
    x, y = places_px(scene.camera, scene.rotation, moved)
    return x + scene.drift_px[0] * shares, y + scene.drift_px[1] * shares


def _steps(scene: Scene) -> int:
    """How many places along each path: an odd number."""
    longest = 3.3 * scene.camera.focal_px * EARTH_ROTATION_RAD_S * scene.exposure_s * scene.rate
    longest += math.hypot(*scene.drift_px)
    return 2 * math.ceil(longest / NODE_PX / 2) + 1


def _stars(scene: Scene, rng: np.random.Generator) -> tuple[Indices, Floats, Floats]:
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
