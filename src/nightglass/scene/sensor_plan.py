"""The club's evening with the second body: caps on, then a white screen, at every ISO step.

A small invented sensor with two gains, a last step that only multiplies, and a few frames that a
hurried member got wrong.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from datetime import UTC, datetime, timedelta

import numpy as np

from nightglass.frame.record import Metadata
from nightglass.gear.body import Body
from nightglass.gear.dial import true_time_s
from nightglass.optics.arrays import Counts
from nightglass.scene.club import PATTERN
from nightglass.scene.flats import DARK, Chip, Light, expose_flat

SECOND_BODY = Body(
    name="Harbour Lane second body",
    pitch_um=5.9,
    width_px=960,
    height_px=640,
    serial="HL-0932",
    firmware="2.10",
    iso_steps=(100, 200, 400, 800, 1600, 3200, 6400),
    efficiency=0.42,
)
BLACK, CLIPPING = 512, 16383
GAIN_AT_100 = 3.1
"""Electrons per count."""
READ_NOISE_E = {100: 6.1, 200: 4.9, 400: 4.5, 800: 1.9, 1600: 1.7, 3200: 1.63, 6400: 1.63}
SECOND_GAIN_ISO, MULTIPLIED_ISO = 800, 6400
LEVELS = (0.66, 0.35, 0.16, 0.06, 0.012)
DARK_ISOS = (800, 1600)
DARK_MARKED_S, BIAS_MARKED_S = 30.0, 1 / 4000
SCREEN_S = 0.5
STARTED_AT = datetime(2026, 3, 7, 19, 30, tzinfo=UTC)
BETWEEN_FRAMES_S = 20


@dataclass(frozen=True)
class SensorShot:
    """One frame of the evening."""

    number: int
    iso: int
    exposure_marked_s: float
    light: Light
    file_name: str
    body: str = SECOND_BODY.name
    leak: float = 0.0
    """Light on one side of a frame that should be dark [e]."""
    cap_rows: float = 0.0
    """Share of the frame that a slipping cap covers."""


def chip_at(iso: int) -> Chip:
    """Return the second body's sensor at an ISO step."""
    multiplied = 2.0 if iso == MULTIPLIED_ISO else 1.0
    return Chip(
        width_px=SECOND_BODY.width_px,
        height_px=SECOND_BODY.height_px,
        pattern=PATTERN,
        black=BLACK,
        clipping=CLIPPING,
        gain_e_per_count=GAIN_AT_100 * 100 / iso * multiplied,
        read_noise_e=READ_NOISE_E[iso],
        row_noise_e=0.05 * READ_NOISE_E[iso],
        dark_pattern_e=0.4,
        response_pattern=0.007,
        bend=0.008,
        dark_e_per_s=0.06,
        hot_share=1.2e-4,
        multiplied=multiplied,
        seed=932,
    )


def sensor_plan() -> tuple[SensorShot, ...]:
    """Return the frames of the evening in their order, the wrong ones among them."""
    shots = [*_right_ones(), *_wrong_ones()]
    return tuple(
        replace(shot, number=k, file_name=f"HL2_{k:04d}{shot.file_name}.dng")
        for k, shot in enumerate(shots, start=1)
    )


def _right_ones() -> Iterator[SensorShot]:
    for iso in SECOND_BODY.iso_steps:
        for _ in range(2):
            yield SensorShot(0, iso, BIAS_MARKED_S, DARK, "")
        if iso in DARK_ISOS:
            for _ in range(2):
                yield SensorShot(0, iso, DARK_MARKED_S, DARK, "")
        for share in LEVELS:
            for _ in range(2):
                yield _screen(iso, share)
    for iso in (SECOND_BODY.iso_steps[0], SECOND_GAIN_ISO):
        yield _screen(iso, 4.0)


def _wrong_ones() -> Iterator[SensorShot]:
    yield SensorShot(0, 800, DARK_MARKED_S, DARK, "", leak=9.0)
    yield replace(_screen(400, 0.3), cap_rows=0.45)
    yield replace(_screen(800, 0.2), exposure_marked_s=1 / 15)
    yield replace(_screen(1600, 0.3), body="Harbour Lane loan body 10 MP")
    yield SensorShot(0, 1600, BIAS_MARKED_S, DARK, "_ISO3200")


def _screen(iso: int, share: float) -> SensorShot:
    """A frame of the white screen at a share of full scale: the shutter makes the level."""
    chip = chip_at(iso)
    seconds = SCREEN_S * share / LEVELS[0]
    green_e = share * chip.full_scale_e / chip.multiplied
    return SensorShot(0, iso, seconds, Light(green_e, falloff=0.45), "")


def render_sensor(shot: SensorShot) -> Counts:
    """Return the counts of a frame, (rows, columns) uint16. The screen flickers a little."""
    rng = np.random.default_rng([shot.number, 0x5E])
    light, chip = shot.light, chip_at(shot.iso)
    if light.green_e:
        level = light.green_e * (1 + 0.006 * rng.standard_normal())
        light = replace(light, green_e=level, flicker=0.01, phase=6.28 * rng.random())
    counts = expose_flat(chip, light, true_time_s(shot.exposure_marked_s), rng)
    if shot.leak:
        side = np.linspace(1, 0, chip.width_px)[None, :] ** 2 * shot.leak
        share = np.array([1.0, 0.6, 0.25])[chip.pattern]
        tiled = np.tile(share, (chip.height_px // 2, chip.width_px // 2))
        added = rng.poisson(side * tiled) / chip.gain_e_per_count
        counts = np.minimum(counts + np.rint(added), CLIPPING).astype(np.uint16)
    if shot.cap_rows:
        covered = round(shot.cap_rows * chip.height_px)
        dark = expose_flat(chip, DARK, shot.exposure_marked_s, rng)
        counts[:covered] = dark[:covered]
    return counts


def sensor_metadata(shot: SensorShot) -> Metadata:
    """Return what the camera writes: marks, names and time, nothing of the truth."""
    return Metadata(
        exposure_marked_s=shot.exposure_marked_s,
        exposure_true_s=true_time_s(shot.exposure_marked_s),
        f_number=5.6,
        focal_mm=24,
        iso=shot.iso,
        taken_at=STARTED_AT + timedelta(seconds=BETWEEN_FRAMES_S * shot.number),
        zone_known=True,
        body=shot.body,
        body_serial=SECOND_BODY.serial if shot.body == SECOND_BODY.name else "HL-0417",
        lens="Plover 24 mm f/2.2",
        firmware=SECOND_BODY.firmware,
        exposure_mode="manual",
    )
