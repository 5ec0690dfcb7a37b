"""The club's evening with the small body: one lens turned through focus, then varied light.

The ring of the lens has marks; what one mark does, where best focus lies and how it moves with the
f-number are stated here, and the measuring code never sees them.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta

import numpy as np

from nightglass.frame.record import Metadata
from nightglass.gear.body import Body
from nightglass.gear.dial import true_time_s
from nightglass.optics.arrays import Counts
from nightglass.optics.defocus import source_image_um
from nightglass.scene.club import DISTANCE_M, HERON, PATTERN, PINHOLE_MM, FieldPoint, pupil
from nightglass.scene.sensor import Sensor
from nightglass.scene.shoot import drawn_star
from nightglass.scene.star import Star

FOCUS_BODY = Body(
    name="Harbour Lane small body",
    pitch_um=4.3,
    width_px=960,
    height_px=640,
    serial="HL-1180",
    firmware="1.30",
    iso_steps=(100, 200, 400),
    read_noise_e={100: 6.1, 200: 4.9, 400: 4.5},
    gain_e_per_count={100: 3.1, 200: 1.55, 400: 0.775},
    efficiency=0.42,
)
BLACK, CLIPPING = 512, 16383
ISO = 100
FOCAL_MM = 20.0
F_NUMBER, STOPPED_DOWN = 2.0, 2.8
MARKS = (1, 2, 3, 4, 5, 6, 7)
UM_PER_MARK = 30.0
BEST_MARK = 5.0
SHIFT_UM = 18.0
"""How far best focus of this lens moves from f/2 to f/2.8."""
MARK_ERR_UM = 2.0
"""How well a person sets a mark again."""
PEAK_SHARE = 0.55
STARTED_AT = datetime(2026, 3, 14, 19, 10, tzinfo=UTC)
SECONDS_A_FRAME = 30
SEED = 1180
AIM_SPREAD_PX = 6.0
PLACES_PERCENT: dict[str, tuple[float, float]] = {
    "centre": (50.3, 49.6),
    "right third": (68.0, 50.0),
    "bottom right": (78.0, 76.0),
}
FOCUS_SERIES, LIGHT_SERIES = "heron focus", "heron light"
BRIGHTER = (0.15, 0.3, 0.6)
"""Peaks of the frames with varied exposure, shares of full scale."""
LIGHT_REPEATS = 2


@dataclass(frozen=True)
class FocusShot:
    """One frame of the evening."""

    number: int
    folder: str
    f_number: float
    place: str
    mark: int
    peak_share: float = PEAK_SHARE

    @property
    def file_name(self) -> str:
        """Where the file lies below frames/."""
        return f"{self.folder}/HLS_{self.number:04d}.DNG"

    def random(self, purpose: int) -> np.random.Generator:
        """Return this frame's generator; purposes are independent of each other."""
        return np.random.default_rng([SEED, self.number, purpose])


def focus_plan() -> tuple[FocusShot, ...]:
    """Return the frames of the evening in their order."""
    return tuple(
        FocusShot(k, *row) for k, row in enumerate([*_through_focus(), *_varied_light()], start=1)
    )


def _through_focus() -> Iterator[tuple[str, float, str, int, float]]:
    for place in PLACES_PERCENT:
        for mark in MARKS:
            yield f"{FOCUS_SERIES}/mark {mark}", F_NUMBER, place, mark, PEAK_SHARE
    for mark in MARKS:
        yield f"{FOCUS_SERIES}/mark {mark}", STOPPED_DOWN, "centre", mark, PEAK_SHARE


def _varied_light() -> Iterator[tuple[str, float, str, int, float]]:
    for peak in BRIGHTER:
        for _ in range(LIGHT_REPEATS):
            yield LIGHT_SERIES, F_NUMBER, "centre", 4, peak


def focus_error_um(shot: FocusShot) -> float:
    """Return how far the sensor stands from the lens's focus at the centre, without hand error."""
    shift = SHIFT_UM if shot.f_number == STOPPED_DOWN else 0.0
    return (shot.mark - BEST_MARK) * UM_PER_MARK - shift


def _sensor() -> Sensor:
    return Sensor(
        width_px=FOCUS_BODY.width_px,
        height_px=FOCUS_BODY.height_px,
        pitch_um=FOCUS_BODY.pitch_um,
        pattern=PATTERN,
        black=BLACK,
        clipping=CLIPPING,
        gain_e_per_count=FOCUS_BODY.gain_e_per_count[ISO],
        read_noise_e=FOCUS_BODY.read_noise_e[ISO],
        hot_pixels=20,
        hot_seed=SEED,
    )


def star_of(shot: FocusShot) -> Star:
    """Return the star of a frame with the aberrations of its place."""
    rng = shot.random(0)
    x_percent, y_percent = PLACES_PERCENT[shot.place]
    aim = rng.uniform(-AIM_SPREAD_PX, AIM_SPREAD_PX, 2)
    x = FOCUS_BODY.width_px * x_percent / 100 + float(aim[0])
    y = FOCUS_BODY.height_px * y_percent / 100 + float(aim[1])
    dx, dy = x - (FOCUS_BODY.width_px - 1) / 2, y - (FOCUS_BODY.height_px - 1) / 2
    corner = math.hypot(FOCUS_BODY.width_px, FOCUS_BODY.height_px) / 2
    where = FieldPoint(math.hypot(dx, dy) / corner, math.degrees(math.atan2(dy, dx)))
    # A light series is focused once; each mark of a focus series is set by hand.
    hand = 0.0 if shot.folder == LIGHT_SERIES else float(rng.normal(0.0, MARK_ERR_UM))
    error = focus_error_um(shot) + hand
    source = source_image_um(PINHOLE_MM, FOCAL_MM, DISTANCE_M)
    return Star(pupil(HERON, FOCAL_MM, shot.f_number, where, error), x, y, source_um=source)


def render_focus(shot: FocusShot) -> tuple[Counts, float]:
    """Return the counts of a frame, (rows, columns) uint16, and its marked exposure [s]."""
    return drawn_star(_sensor(), star_of(shot), shot.peak_share, shot.random(1))


def focus_metadata(shot: FocusShot, exposure_s: float) -> Metadata:
    """Return what the camera writes: marks of dials, names and time, nothing of the ring."""
    return Metadata(
        exposure_marked_s=exposure_s,
        exposure_true_s=true_time_s(exposure_s),
        f_number=shot.f_number,
        focal_mm=FOCAL_MM,
        iso=ISO,
        taken_at=STARTED_AT + timedelta(seconds=SECONDS_A_FRAME * shot.number),
        zone_known=True,
        body=FOCUS_BODY.name,
        body_serial=FOCUS_BODY.serial,
        lens=HERON.lens.name,
        lens_serial=HERON.lens.serial,
        firmware=FOCUS_BODY.firmware,
        exposure_mode="manual",
    )
