"""One frame of the club's evening: the room in front of the lens, the shutter, the counts."""

from __future__ import annotations

import math

import numpy as np

from nightglass.frame.record import Metadata
from nightglass.gear.dial import DialStep, dial_steps
from nightglass.optics.arrays import Counts
from nightglass.optics.defocus import source_image_um
from nightglass.scene.club import (
    BLACK,
    BODY,
    CLIPPING,
    DISTANCE_M,
    HOT_PIXELS,
    PATTERN,
    PINHOLE_MM,
    field_point,
    pupil,
)
from nightglass.scene.plan import Shot
from nightglass.scene.sensor import Background, Sensor, Window, expose, in_mosaic
from nightglass.scene.star import LED_COLOUR, FineSpot, Star, fine_spot

BENCH_ISO = 100
LED_E_PER_S_MM2 = 2.5e4
"""Green electrons a second for each mm2 of clear aperture: a dim pinhole at 10 m."""
PEAK_AIM = 0.53
"""The person sets the shutter so that the peak comes nearest to this share of full scale; with
thirds of stops that stays between 40 and 70 %."""
LEAST_STEP_S, LONGEST_STEP_S = 1 / 100, 5.0
SECOND_LIGHT_SHARE, SECOND_LIGHT_SIGMA_PX = 0.05, 3.0
GHOST_SHARE, GHOST_RADIUS_PX, GHOST_CLEARANCE_PX = 0.004, 18, 250
FLOOR_E = 30.0
DRAWN_S = (1 / 200, 1 / 100, 1 / 50, 1 / 25, 1 / 13, 1 / 6, 1 / 3, 0.6, 1.3, 2.5)
"""Marked times of frames that show a star alone."""


def sensor() -> Sensor:
    """Return the loan body's sensor at the ISO step of the bench."""
    return Sensor(
        width_px=BODY.width_px,
        height_px=BODY.height_px,
        pitch_um=BODY.pitch_um,
        pattern=PATTERN,
        black=BLACK,
        clipping=CLIPPING,
        gain_e_per_count=BODY.gain_e_per_count[BENCH_ISO],
        read_noise_e=BODY.read_noise_e[BENCH_ISO],
        hot_pixels=HOT_PIXELS,
        hot_seed=417,
    )


def star(shot: Shot) -> Star:
    """Return the star of a frame with the aberrations of its setting and place."""
    where = field_point(shot.x_px, shot.y_px)
    terms = shot.club.by_focal[shot.focal_mm]
    turn = math.radians(where.azimuth_degrees)
    outward = np.array([math.cos(turn), math.sin(turn)]) * where.radius
    red, blue = outward * terms.lateral_red_px, outward * terms.lateral_blue_px
    return Star(
        pupil=pupil(shot.club, shot.focal_mm, shot.f_number, where, shot.focus_error_um),
        x_px=shot.x_px,
        y_px=shot.y_px,
        red_shift_px=(float(red[0]), float(red[1])),
        blue_shift_px=(float(blue[0]), float(blue[1])),
        source_um=source_image_um(PINHOLE_MM, shot.focal_mm, DISTANCE_M),
    )


def render(shot: Shot) -> tuple[Counts, DialStep]:
    """Return the counts of a frame and the shutter step that was set for it."""
    chip = sensor()
    fine = fine_spot(star(shot), BODY.pitch_um)
    unit = star_window(chip, fine)
    step = _shutter(shot, float(unit.light_e.max()), chip)
    light_e = electrons_per_s(shot) * step.true_s
    windows = [
        Window(unit.light_e * np.float32(light_e), unit.left_px, unit.top_px),
        second_light(chip, shot, light_e),
        _floor(chip, shot),
        *ghost(chip, shot, light_e),
    ]
    rng = shot.random(1)
    background = Background(6.0, float(rng.normal(0, 3)), float(rng.normal(0, 3)))
    return expose(chip, windows, background, rng), step


def star_window(chip: Sensor, fine: FineSpot) -> Window:
    """Return the star in the mosaic for one green electron of light in all."""
    by_colour = {c: fine.on_pixels(c) * np.float32(LED_COLOUR[c]) for c in fine.light}
    return in_mosaic(chip, by_colour, fine.left_px, fine.top_px)


def drawn_star(
    chip: Sensor, star: Star, peak_share: float, rng: np.random.Generator
) -> tuple[Counts, float]:
    """Return a frame that shows a star alone, and the marked exposure [s] that belongs to it.

    peak_share: of full scale in the star's brightest sample. The LED is as dim as on the bench: it
    gives 10,000 electrons in 1/50 s.
    """
    unit = star_window(chip, fine_spot(star, chip.pitch_um))
    light_e = peak_share * chip.full_scale_e / float(unit.light_e.max())
    drawn = Window(unit.light_e * np.float32(light_e), unit.left_px, unit.top_px)
    counts = expose(chip, [drawn], Background(5.0), rng)
    return counts, min(DRAWN_S, key=lambda t: abs(math.log(t * 5e5 / light_e)))


def electrons_per_s(shot: Shot) -> float:
    """Return the green electrons a second through the full opening toward the shot's place."""
    where = field_point(shot.x_px, shot.y_px)
    corner_mm = math.hypot(BODY.width_mm, BODY.height_mm) / 2
    # A slanted look at the entrance pupil: its area shrinks with the cosine.
    cosine = math.cos(math.atan(where.radius * corner_mm / shot.focal_mm))
    n = pupil(shot.club, shot.focal_mm, shot.f_number, where, 0.0).f_number
    return LED_E_PER_S_MM2 * math.pi / 4 * (shot.focal_mm / n) ** 2 * cosine


def metadata(shot: Shot, step: DialStep) -> Metadata:
    """Return what the camera writes: marks, names and time, nothing of the truth."""
    return Metadata(
        exposure_marked_s=step.marked_s,
        exposure_true_s=step.true_s,
        f_number=shot.f_number,
        focal_mm=shot.focal_mm,
        iso=BENCH_ISO,
        taken_at=shot.taken_at,
        zone_known=True,
        body=BODY.name,
        body_serial=BODY.serial,
        lens=shot.club.lens.name,
        lens_serial=shot.club.lens.serial,
        firmware=BODY.firmware,
        exposure_mode="manual",
    )


def _shutter(shot: Shot, peak_share_of_light: float, chip: Sensor) -> DialStep:
    """Return the marked step whose peak comes nearest to PEAK_AIM."""
    per_s = electrons_per_s(shot) * peak_share_of_light / chip.full_scale_e
    steps = [s for s in dial_steps(LONGEST_STEP_S) if s.true_s >= LEAST_STEP_S]
    return min(steps, key=lambda s: abs(math.log(s.true_s * per_s / PEAK_AIM)))


def second_light(chip: Sensor, shot: Shot, light_e: float) -> Window:
    """A standby lamp in the room, dimmer than the star, toward the middle of the frame."""
    half = 16
    axis = np.arange(-half, half + 1)
    shape = np.exp(-(axis[:, None] ** 2 + axis[None, :] ** 2) / (2 * SECOND_LIGHT_SIGMA_PX**2))
    electrons = (shape / shape.sum() * SECOND_LIGHT_SHARE * light_e).astype(np.float32)
    side_x = -1 if shot.x_px > BODY.width_px / 2 else 1
    side_y = -1 if shot.y_px > BODY.height_px / 2 else 1
    left, top = round(shot.x_px) + side_x * 640 - half, round(shot.y_px) + side_y * 410 - half
    return in_mosaic(chip, {0: electrons, 1: electrons * 0.3, 2: electrons * 0.1}, left, top)


def ghost(chip: Sensor, shot: Shot, light_e: float) -> list[Window]:
    """A reflection between glass and sensor, opposite the star; none near the middle, where it
    would fall on the star itself."""
    x, y = BODY.width_px - shot.x_px, BODY.height_px - shot.y_px
    if math.hypot(x - shot.x_px, y - shot.y_px) < GHOST_CLEARANCE_PX:
        return []
    axis = np.arange(-GHOST_RADIUS_PX - 1, GHOST_RADIUS_PX + 2)
    disc = np.clip(GHOST_RADIUS_PX + 0.5 - np.hypot(axis[:, None], axis[None, :]), 0, 1)
    electrons = (disc / disc.sum() * GHOST_SHARE * light_e).astype(np.float32)
    left, top = round(x) - GHOST_RADIUS_PX - 1, round(y) - GHOST_RADIUS_PX - 1
    return [in_mosaic(chip, {0: electrons * 0.4, 1: electrons, 2: electrons * 0.5}, left, top)]


def _floor(chip: Sensor, shot: Shot) -> Window:
    """Floorboards in stray light at the lower edge, on the side away from the star."""
    width, height = 900, 240
    across, down = np.linspace(-1, 1, width), np.linspace(0, 1, height)
    glow = (1 - across**2) ** 2 * (0.8 + 0.2 * np.sign(np.sin(across * 40)))
    electrons = (FLOOR_E * down[:, None] * glow[None, :]).astype(np.float32)
    left = 300 if shot.x_px > BODY.width_px / 4 else BODY.width_px - 300 - width
    by_colour = {0: electrons, 1: electrons * 0.8, 2: electrons * 0.4}
    return in_mosaic(chip, by_colour, left, BODY.height_px - height)
