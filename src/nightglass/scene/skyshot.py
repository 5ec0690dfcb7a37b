"""One frame of the club's night: catalogue stars through a lens of the club, and the dark sky.

The spots come from the very wavefronts that the bench's star went through (scene.club); light
falls off toward the corners as cos(angle off axis), times the projection's solid angle for the
sky's.
"""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

from nightglass.frame.record import Metadata
from nightglass.light.aperture import cosine_falloff, pupil_area_mm2
from nightglass.light.atmosphere import extinction_mag
from nightglass.light.counts import stars_per_square_degree
from nightglass.light.defaults import EARTH_ROTATION_RAD_S, EXTINCTION, V_MINUS_G
from nightglass.light.photons import (
    SQUARE_DEGREES_PER_SR,
    LightPath,
    star_e_per_s,
    surface_e_per_s_px,
)
from nightglass.optics.projection import off_axis_degrees, pixel_solid_angle_sr
from nightglass.optics.wavefront import blurred, spot
from nightglass.scene.club import BLACK, BODY, CLIPPING, HOT_PIXELS, field_point, pupil
from nightglass.scene.fieldspots import FINE, LensSpots
from nightglass.scene.skylight import RGGB, exposed
from nightglass.scene.skyplan import AIRMASS, EXPOSURE_MARKED_S, EXPOSURE_TRUE_S, SkyShot
from nightglass.scene.star import WAVELENGTHS_UM
from nightglass.scene.strokes import draw_stars
from nightglass.sky.camera import Camera, places_px, plain_camera, pole_of_date, turned
from nightglass.sky.camera import unit_vectors, vectors_at
from nightglass.sky.catalogue import load_stars

Array = NDArray[np.float64]

SKY_ISO = 1600
"""Where the loan body reads out with its least noise."""
SKY_V_MAG = 21.5
"""Brightness of the sky in mid-frame, V magnitudes per square arcsecond: a dark site."""
HORIZON_GLOW = 0.4
"""Share by which the sky is brighter at the bottom of the frame than at the top."""
COLOURS = (0.5, 1.0, 0.6)
"""Red, green and blue light of stars and sky, green 1."""
COLOUR_SCATTER = 0.12
CATALOGUE_G, FAINTEST_G = 9.5, 11.5
"""Beyond the catalogue, stars by the table of counts at random places."""
GRID = (7, 11)
"""Spots over the frame; in between they are blended."""
SPOT_PX = 45
PATH_PLACES = 5


def render_sky(shot: SkyShot) -> NDArray[np.uint16]:
    """Return the counts of a frame of the sky (RGGB)."""
    rng = shot.random(1)
    camera = camera_of(shot)
    vectors, magnitude = _stars(camera, shot.rotation, rng)
    paths = _paths(shot, camera, vectors)
    middle = PATH_PLACES // 2
    x, y = paths[0][:, middle], paths[1][:, middle]
    seen = np.isfinite(paths[0] + paths[1]).all(axis=1)
    seen &= (np.abs(x - camera.centre_x_px) < camera.width_px / 2 + 10) & (
        np.abs(y - camera.centre_y_px) < camera.height_px / 2 + 10
    )
    x, y, paths = x[seen], y[seen], (paths[0][seen], paths[1][seen])
    counts = star_counts(shot, magnitude[seen], x, y)
    tint = rng.normal(0, COLOUR_SCATTER, (len(counts), 1)) * np.array([[1.0, 0.0, -1.0]])
    flux = counts[:, None] * np.array([COLOURS]) * np.exp(tint)
    light = _sky(shot)
    for colour in range(3):
        own = np.zeros_like(flux)
        own[:, colour] = flux[:, colour]
        draw_stars(light, paths, own, spots_of(shot, colour), smooth=True)
    gain = BODY.gain_e_per_count[SKY_ISO]
    noise = BODY.read_noise_e[SKY_ISO] / gain
    return exposed(light, gain, noise, HOT_PIXELS, (BLACK, CLIPPING), rng)


def camera_of(shot: SkyShot) -> Camera:
    """Return the club's body behind a lens without distortion."""
    focal_px = shot.focal_mm * 1000 / BODY.pitch_um
    return plain_camera(BODY.width_px, BODY.height_px, focal_px, shot.club.lens.projection)


def spots_of(shot: SkyShot, colour: int, grid: tuple[int, int] = GRID) -> LensSpots:
    """Return the spots of a shot in one colour over a grid (rows, columns), lateral colour in."""
    stamps = np.empty((*grid, SPOT_PX * FINE, SPOT_PX * FINE), dtype=np.float32)
    wavelength = WAVELENGTHS_UM[colour][1]
    terms = shot.club.by_focal[shot.focal_mm]
    lateral = (terms.lateral_red_px, 0.0, terms.lateral_blue_px)[colour] * BODY.pitch_um
    step = BODY.pitch_um / FINE
    for row, column in np.ndindex(grid):
        where = field_point(
            (column + 0.5) / grid[1] * BODY.width_px, (row + 0.5) / grid[0] * BODY.height_px
        )
        leaving = pupil(shot.club, shot.focal_mm, shot.f_number, where, shot.focus_error_um)
        turn = math.radians(where.azimuth_degrees)
        out = lateral * where.radius
        shift = out * math.cos(turn), out * math.sin(turn)
        finer = max(1, math.ceil(step / (0.49 * wavelength * leaving.f_number)))
        samples = SPOT_PX * FINE * finer
        sharp = spot(leaving, wavelength, step / finer, samples, shift)
        seen = blurred(sharp, step / finer, BODY.pitch_um)
        first = samples // 2 - (SPOT_PX * FINE // 2) * finer
        picked = seen[first::finer, first::finer][: SPOT_PX * FINE, : SPOT_PX * FINE]
        stamps[row, column] = np.maximum(picked, 0) / picked.sum()
    return LensSpots(stamps)


def star_counts(shot: SkyShot, magnitude_g: Array, x_px: Array, y_px: Array) -> Array:
    """Return the green counts of stars over the exposure, were all samples green."""
    falloff, _ = _falloff(shot, x_px, y_px)
    air = extinction_mag(AIRMASS, EXTINCTION.value)
    light = star_e_per_s(magnitude_g + V_MINUS_G.value, _path(shot), falloff, air)
    return np.asarray(light * EXPOSURE_TRUE_S / BODY.gain_e_per_count[SKY_ISO])


def sky_metadata(shot: SkyShot) -> Metadata:
    """Return what the camera writes: marks, names and time, nothing of the truth."""
    return Metadata(
        exposure_marked_s=EXPOSURE_MARKED_S,
        exposure_true_s=EXPOSURE_TRUE_S,
        f_number=shot.f_number,
        focal_mm=shot.focal_mm,
        iso=SKY_ISO,
        taken_at=shot.taken_at,
        zone_known=True,
        body=BODY.name,
        body_serial=BODY.serial,
        lens=shot.club.lens.name,
        lens_serial=shot.club.lens.serial,
        firmware=BODY.firmware,
        exposure_mode="manual",
    )


def _path(shot: SkyShot) -> LightPath:
    area = pupil_area_mm2(shot.focal_mm, shot.f_number)
    return LightPath(area, 1.0, BODY.efficiency or 1.0)


def _falloff(shot: SkyShot, x_px: Array, y_px: Array) -> tuple[Array, Array]:
    """Pupil falloff and solid angle of a pixel [sr] at places of the frame."""
    x_mm = (x_px - (BODY.width_px - 1) / 2) * BODY.pitch_um / 1000
    y_mm = (y_px - (BODY.height_px - 1) / 2) * BODY.pitch_um / 1000
    kind = shot.club.lens.projection
    theta = off_axis_degrees(np.hypot(x_mm, y_mm), shot.focal_mm, kind)
    solid = pixel_solid_angle_sr(x_mm, y_mm, BODY.pitch_um, shot.focal_mm, kind)
    return np.asarray(cosine_falloff(theta)), np.asarray(solid)


def _sky(shot: SkyShot) -> NDArray[np.float32]:
    """The sky's counts in the mosaic; worked out every 16 px and drawn smoothly between."""
    coarse = 16
    y = np.arange(0, BODY.height_px + coarse, coarse, dtype=np.float64)
    x = np.arange(0, BODY.width_px + coarse, coarse, dtype=np.float64)
    falloff, solid = _falloff(shot, *np.meshgrid(x, y))
    electrons = surface_e_per_s_px(SKY_V_MAG, _path(shot), solid, falloff) * EXPOSURE_TRUE_S
    level = electrons / BODY.gain_e_per_count[SKY_ISO]
    level *= 1 + HORIZON_GLOW * (y[:, None] / BODY.height_px - 0.5)
    rows = np.empty((BODY.height_px, x.size))
    for k in range(x.size):
        rows[:, k] = np.interp(np.arange(BODY.height_px), y, level[:, k])
    columns = np.arange(BODY.width_px)
    left = columns // coarse
    part = (columns % coarse) / coarse
    light = (rows[:, left] * (1 - part) + rows[:, left + 1] * part).astype(np.float32)
    for row in range(2):
        for column in range(2):
            light[row::2, column::2] *= np.float32(COLOURS[RGGB[row][column]])
    return light


def _stars(
    camera: Camera, rotation: Array, rng: np.random.Generator
) -> tuple[Array, Array]:
    """Catalogue stars about the frame, and random fainter ones by the table of counts."""
    stars = load_stars().brighter_than(CATALOGUE_G)
    vectors = unit_vectors(stars.ra_degrees, stars.dec_degrees)
    corner = vectors_at(camera, rotation, np.array([-12.0]), np.array([-12.0]))
    least = float(corner[0] @ rotation[2])
    near = vectors @ rotation[2] > least
    cap = 2 * math.pi * (1 - least) * SQUARE_DEGREES_PER_SR
    edges = np.arange(CATALOGUE_G, FAINTEST_G + 1e-9, 0.1)
    numbers = rng.poisson(np.diff(stars_per_square_degree(edges)) * cap)
    faint = np.repeat(edges[:-1], numbers)
    faint = faint + rng.uniform(0, 0.1, faint.size)
    z = rng.uniform(least, 1.0, faint.size)
    turn = rng.uniform(0, 2 * math.pi, faint.size)
    flat = np.sqrt(1 - z * z)
    own = np.stack([flat * np.cos(turn), flat * np.sin(turn), z], axis=1) @ rotation
    both = np.concatenate([stars.magnitude[near], faint])
    return np.concatenate([vectors[near], own]), np.asarray(both, dtype=np.float64)


def _paths(shot: SkyShot, camera: Camera, vectors: Array) -> tuple[Array, Array]:
    """Places (stars, PATH_PLACES) during the exposure; a trail of 5 px is straight in between."""
    shares = np.linspace(-0.5, 0.5, PATH_PLACES)
    year = shot.taken_at.year + shot.taken_at.timetuple().tm_yday / 365.25
    angle = EARTH_ROTATION_RAD_S * EXPOSURE_TRUE_S * shares
    moved = turned(vectors[:, None, :], pole_of_date(year), -angle[None, :])
    return places_px(camera, shot.rotation, moved)
