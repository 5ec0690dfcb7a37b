"""The club's night out: which frames of the sky are taken, where, when and toward what.

The same lenses at the same settings as on the bench, focused afresh before each frame as there.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from datetime import datetime, timedelta, timezone

import numpy as np

from nightglass.light.defaults import EARTH_ROTATION_RAD_S
from nightglass.optics.arrays import Floats
from nightglass.scene.club import HERON, PLOVER, ClubLens
from nightglass.scene.plan import FOCUS_SPREAD_UM, SEED, Shot, plan
from nightglass.scene.sky.airpath import ray_lifted
from nightglass.scene.sky.standing import velocity_of_earth, zenith_of
from nightglass.sky.astrometry.camera import look_at, pole_of_date, turned

SITE_NAME = "the club's meadow"
SITE_PLACE = "44.2 N 6.1 E"
SITE_DEGREES = (44.2, 6.1)
"""Latitude and longitude of that."""
SITE_ZONE = "Europe/Paris"
STARTED_AT = datetime(2026, 3, 19, 22, 10, 0, tzinfo=timezone(timedelta(hours=1)))
"""The night of the new moon, three hours after sunset there."""
SECONDS_A_FRAME = 75
AIM_DEGREES = (105.0, 15.0, 38.5)
"""Right ascension, declination and roll of the first frame: 48 degrees up in the south-west, the
winter Milky Way in it, the long side level (tests/scene/test_scene_skyshot.py)."""
AIRMASS = 1.35
SKY_FRAMES: tuple[tuple[ClubLens, float, float, int], ...] = (
    (PLOVER, 24, 2.2, 1),
    (HERON, 20, 1.8, 1),
    (HERON, 20, 2.5, 1),
)
"""Lens, focal length [mm], marked f-number, frames: the best lens and the decentred one, and a
third setting, because an order takes three."""
EXPOSURE_MARKED_S, EXPOSURE_TRUE_S = 15.0, 16.0
"""What the 360 rule gives for both lenses on this body."""


@dataclass(frozen=True)
class SkyShot:
    """One frame of the sky. Where the focus really was is the truth."""

    number: int
    club: ClubLens
    focal_mm: float
    f_number: float
    focus_error_um: float

    @property
    def file_name(self) -> str:
        """Name as the camera's counter gives it."""
        return f"HLCS{self.number:04d}.DNG"

    @property
    def taken_at(self) -> datetime:
        """When the shutter opened, zone known."""
        return STARTED_AT + timedelta(seconds=SECONDS_A_FRAME * (self.number - 1))

    @property
    def rotation(self) -> Floats:
        """ICRS to the camera's axes in the middle of the exposure: the tripod stands still."""
        elapsed_s = SECONDS_A_FRAME * (self.number - 1)
        return turned(look_at(*AIM_DEGREES), self.pole, EARTH_ROTATION_RAD_S * elapsed_s)

    @property
    def pole(self) -> Floats:
        """ICRS vector of the pole about which the sky turns."""
        return pole_of_date(self.taken_at.year + self.taken_at.timetuple().tm_yday / 365.25)

    def seen(self, vectors: Floats) -> Floats:
        """Return catalogue directions (..., 3) as the tripod sees them: moving earth, and air."""
        moved = vectors + velocity_of_earth(self.taken_at)
        moved = moved / np.linalg.norm(moved, axis=-1, keepdims=True)
        middle = self.taken_at + timedelta(seconds=EXPOSURE_TRUE_S / 2)
        return ray_lifted(moved, zenith_of(*SITE_DEGREES, middle))

    def random(self, purpose: int) -> np.random.Generator:
        """Return this frame's generator; purposes are independent of each other."""
        return np.random.default_rng([SEED, 2, self.number, purpose])


def sky_plan() -> tuple[SkyShot, ...]:
    """Return the frames of the sky, in the order of the camera's counter."""
    wanted = [row[:3] for row in SKY_FRAMES for _ in range(row[3])]
    return tuple(_shot(number, *row) for number, row in enumerate(wanted, start=1))


def bench_plan() -> tuple[Shot, ...]:
    """Return those frames of the club's evening whose settings were under the sky too."""
    settings = {(club.lens.name, focal, f_number) for club, focal, f_number, _ in SKY_FRAMES}
    return tuple(s for s in plan() if (s.club.lens.name, s.focal_mm, s.f_number) in settings)


def _shot(number: int, club: ClubLens, focal_mm: float, f_number: float) -> SkyShot:
    rng = np.random.default_rng([SEED, 2, number])
    return SkyShot(number, club, focal_mm, f_number, float(rng.normal(0.0, FOCUS_SPREAD_UM)))


def airmass_note() -> str:
    """Return how high the aim stands, in words for the demo."""
    return f"{math.degrees(math.asin(1 / AIRMASS)):.0f} degrees up"
