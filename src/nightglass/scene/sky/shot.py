"""One frame of the club's night: catalogue stars through a lens of the club, and the dark sky.

The spots come from the very wavefronts that the bench's star went through (scene.club); light
falls off toward the corners as cos(angle off axis), times the projection's solid angle for the
sky's.
"""

from __future__ import annotations

import math

import numpy as np

from nightglass.frame.record import Metadata
from nightglass.light.aperture import cosine_falloff, lens_transmission, pupil_area_mm2
from nightglass.light.atmosphere import extinction_mag
from nightglass.light.counts import stars_per_square_degree
from nightglass.light.defaults import EARTH_ROTATION_RAD_S, EXTINCTION, V_MINUS_G
from nightglass.light.photons import (
    SQUARE_DEGREES_PER_SR,
    LightPath,
    star_e_per_s,
    surface_e_per_s_px,
)
from nightglass.optics.arrays import Counts, Floats, Floats32
from nightglass.optics.extent import trailed
from nightglass.optics.projection import off_axis_degrees, pixel_solid_angle_sr
from nightglass.optics.wavefront import blurred, spot
from nightglass.scene.club import BLACK, BODY, CLIPPING, HOT_PIXELS, field_point, pupil
from nightglass.scene.sky.fieldspots import FINE, LensSpots
from nightglass.scene.sky.light import RGGB, exposed
from nightglass.scene.sky.plan import AIRMASS, EXPOSURE_MARKED_S, EXPOSURE_TRUE_S, SkyShot
from nightglass.scene.sky.strokes import draw_stars
from nightglass.sky.astrometry.camera import (
    Camera,
    places_px,
    plain_camera,
    turned,
    unit_vectors,
    vectors_at,
)
from nightglass.sky.astrometry.catalogue import load_stars

SKY_ISO = 1600
"""Where the loan body reads out with its least noise."""
SKY_V_MAG = 21.5
"""Brightness of the sky in mid-frame, V magnitudes per square arcsecond: a dark site."""
HORIZON_GLOW = 0.4
"""Share by which the sky is brighter at the bottom of the frame than at the top."""
COLOURS = (0.5, 1.0, 0.6)
"""Red, green and blue light of stars and sky, green 1."""
COLOUR_SCATTER = 0.12
COLOURED_G = 8.5
"""No frame of this body shows the colours of fainter stars apart."""
CATALOGUE_G, FAINTEST_G = 10.0, 10.8
"""Beyond the catalogue, stars by the table of counts at random places, as many times the mean
sky's as the field's catalogue stars are."""
GRID = (7, 9)
"""Spots over the frame; in between they are blended."""
SPOT_PX = 45
WAVELENGTH_UM = 0.54
"""One for all: these spots are far wider than diffraction makes them."""


def render_sky(shot: SkyShot) -> Counts:
    """Return the counts of a frame of the sky (RGGB)."""
    rng = shot.random(1)
    camera = camera_of(shot)
    vectors, magnitude = _stars(camera, shot.rotation, rng)
    x, y = places_px(camera, shot.rotation, shot.seen(vectors))
    seen = np.abs(x - camera.centre_x_px) < camera.width_px / 2 + 10
    seen &= np.abs(y - camera.centre_y_px) < camera.height_px / 2 + 10
    x, y, magnitude = x[seen], y[seen], magnitude[seen]
    tint = rng.normal(0, COLOUR_SCATTER, (len(x), 1)) * np.array([[1.0, 0.0, -1.0]])
    counts = star_counts(shot, magnitude, x, y)[:, None] * np.array([COLOURS]) * np.exp(tint)
    light = sky_light(shot)
    _draw(light, shot, (x, y), counts, magnitude)
    gain = BODY.gain_e_per_count[SKY_ISO]
    noise = BODY.read_noise_e[SKY_ISO] / gain
    return exposed(light, gain, noise, HOT_PIXELS, (BLACK, CLIPPING), rng)


def _draw(
    light: Floats32, shot: SkyShot, places: tuple[Floats, Floats], counts: Floats, g: Floats
) -> None:
    camera, spots = camera_of(shot), trailed_spots(shot, lens_spots(shot))
    x, y = (place[:, None] for place in places)
    terms = shot.club.by_focal[shot.focal_mm]
    bright = g <= COLOURED_G
    for colour, lateral in enumerate((terms.lateral_red_px, 0.0, terms.lateral_blue_px)):
        # Lateral colour grows in proportion to the distance from the middle.
        out = lateral / camera.half_diagonal_px
        there = x + out * (x - camera.centre_x_px), y + out * (y - camera.centre_y_px)
        own = np.where(np.arange(3) == colour, counts, 0.0)
        draw_stars(light, (there[0][bright], there[1][bright]), own[bright], spots, True, 0.2)
    for low, high, least in ((COLOURED_G, 9.5, 0.5), (9.5, FAINTEST_G, 1.0)):
        some = (g > low) & (g <= high)
        draw_stars(light, (x[some], y[some]), counts[some], spots, True, least)


def camera_of(shot: SkyShot) -> Camera:
    """Return the club's body behind a lens without distortion."""
    focal_px = shot.focal_mm * 1000 / BODY.pitch_um
    return plain_camera(BODY.width_px, BODY.height_px, focal_px, shot.club.lens.projection)


def lens_spots(shot: SkyShot, grid: tuple[int, int] = GRID) -> LensSpots:
    """Return the spots of a shot's lens over a grid (rows, columns), no trail."""
    stamps = np.empty((*grid, SPOT_PX * FINE, SPOT_PX * FINE), dtype=np.float32)
    step = BODY.pitch_um / FINE
    for row, column in np.ndindex(grid):
        where = field_point(*_middle(row, column, grid))
        leaving = pupil(shot.club, shot.focal_mm, shot.f_number, where, shot.focus_error_um)
        finer = max(1, math.ceil(step / (0.49 * WAVELENGTH_UM * leaving.f_number)))
        samples = SPOT_PX * FINE * finer
        sharp = spot(leaving, WAVELENGTH_UM, step / finer, samples)
        seen = blurred(sharp, step / finer, BODY.pitch_um)
        first = samples // 2 - (SPOT_PX * FINE // 2) * finer
        picked = seen[first::finer, first::finer][: SPOT_PX * FINE, : SPOT_PX * FINE]
        stamps[row, column] = np.maximum(picked, 0) / picked.sum()
    return LensSpots(stamps)


def trailed_spots(shot: SkyShot, spots: LensSpots) -> LensSpots:
    """Return the spots drawn along the path of a star through the middle of each cell.

    Blended between the cells the trail of each star is its own to a hundredth of a pixel, and no
    star has to be drawn step by step.
    """
    grid = spots.stamps.shape[:2]
    stamps = np.empty_like(spots.stamps)
    for row, column in np.ndindex(*grid):
        dx, dy = trail_px(shot, *_middle(row, column, (grid[0], grid[1])))
        drawn = trailed(
            spots.stamps[row, column], FINE * math.hypot(dx, dy), math.degrees(math.atan2(dy, dx))
        )
        cut = (drawn.shape[0] - stamps.shape[2]) // 2
        stamps[row, column] = drawn[cut : cut + stamps.shape[2], cut : cut + stamps.shape[3]]
    return LensSpots(np.maximum(stamps, 0))


def trail_px(shot: SkyShot, x_px: float, y_px: float) -> tuple[float, float]:
    """Return end minus start (x, y) of the path of a star whose middle is at a place."""
    camera = camera_of(shot)
    vector = vectors_at(camera, shot.rotation, np.array([x_px]), np.array([y_px]))
    half = EARTH_ROTATION_RAD_S * EXPOSURE_TRUE_S / 2
    # Westward: against the right-handed sense about the pole.
    ends = turned(vector[0][None, :], shot.pole, np.array([half, -half]))
    x, y = places_px(camera, shot.rotation, ends)
    return float(x[1] - x[0]), float(y[1] - y[0])


def star_counts(shot: SkyShot, magnitude_g: Floats, x_px: Floats, y_px: Floats) -> Floats:
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
    return LightPath(area, lens_transmission(shot.club.lens).share, BODY.efficiency or 1.0)


def _falloff(shot: SkyShot, x_px: Floats, y_px: Floats) -> tuple[Floats, Floats]:
    """Pupil falloff and solid angle of a pixel [sr] at places of the frame."""
    x_mm = (x_px - (BODY.width_px - 1) / 2) * BODY.pitch_um / 1000
    y_mm = (y_px - (BODY.height_px - 1) / 2) * BODY.pitch_um / 1000
    kind = shot.club.lens.projection
    theta = off_axis_degrees(np.hypot(x_mm, y_mm), shot.focal_mm, kind)
    solid = pixel_solid_angle_sr(x_mm, y_mm, BODY.pitch_um, shot.focal_mm, kind)
    return np.asarray(cosine_falloff(theta)), np.asarray(solid)


def sky_light(shot: SkyShot) -> Floats32:
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
    # Taken and not indexed: that would lay columns first, and every loop over the frame would be
    # compiled a second time.
    near, next_ = np.take(rows, left, axis=1), np.take(rows, left + 1, axis=1)
    light = (near * (1 - part) + next_ * part).astype(np.float32)
    for row in range(2):
        for column in range(2):
            light[row::2, column::2] *= np.float32(COLOURS[RGGB[row][column]])
    return light


def _stars(camera: Camera, rotation: Floats, rng: np.random.Generator) -> tuple[Floats, Floats]:
    """Catalogue stars about the frame, and random fainter ones by the table of counts."""
    stars = load_stars().brighter_than(CATALOGUE_G)
    vectors = unit_vectors(stars.ra_degrees, stars.dec_degrees)
    corner = vectors_at(camera, rotation, np.array([-12.0]), np.array([-12.0]))
    least = float(corner[0] @ rotation[2])
    near = vectors @ rotation[2] > least
    cap = 2 * math.pi * (1 - least) * SQUARE_DEGREES_PER_SR
    edges = np.arange(CATALOGUE_G, FAINTEST_G + 1e-9, 0.1)
    magnitude = stars.magnitude[near]
    rich = np.count_nonzero(magnitude > CATALOGUE_G - 1) / cap
    rich /= float(np.diff(stars_per_square_degree(np.array([CATALOGUE_G - 1, CATALOGUE_G])))[0])
    numbers = rng.poisson(np.diff(stars_per_square_degree(edges)) * cap * rich)
    faint = np.repeat(edges[:-1], numbers)
    faint = faint + rng.uniform(0, 0.1, faint.size)
    z = rng.uniform(least, 1.0, faint.size)
    turn = rng.uniform(0, 2 * math.pi, faint.size)
    flat = np.sqrt(1 - z * z)
    own = np.stack([flat * np.cos(turn), flat * np.sin(turn), z], axis=1) @ rotation
    both = np.concatenate([magnitude, faint])
    return np.concatenate([vectors[near], own]), np.asarray(both, dtype=np.float64)


def _middle(row: int, column: int, grid: tuple[int, int]) -> tuple[float, float]:
    return (column + 0.5) / grid[1] * BODY.width_px, (row + 0.5) / grid[0] * BODY.height_px
