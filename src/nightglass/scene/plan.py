"""The club's evening: which frames are taken, and what differs between repeats."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime, timedelta, timezone

import numpy as np

from nightglass.scene.club import BODY, CURLEW, DIPPER, HERON, PLOVER, WREN, ClubLens

SEED = 20260307
"""Of everything drawn at random in the demo; with the frame's number it fixes the frame."""
REPEATS = 2
FOCUS_SPREAD_UM = 5.0
"""Standard deviation of where a person stops turning the focus ring (a stated choice: the
tolerance f-number x pixel pitch is 12 um at f/2)."""
AIM_SPREAD_PX = 14.0
"""Repeats are aimed afresh: the star falls on other pixels, and between them."""
STARTED_AT = datetime(2026, 3, 7, 19, 4, 12, tzinfo=timezone(timedelta(hours=1)))
SECONDS_A_FRAME = 38

CENTRE = "centre"
BOTTOM_RIGHT = "corner bottom right"
TOP_LEFT = "corner top left"
PLACES_PERCENT: dict[str, tuple[float, float]] = {
    CENTRE: (50.5, 49.4),
    BOTTOM_RIGHT: (94.5, 94.2),
    TOP_LEFT: (5.5, 5.8),
}
"""Aimed places of the star, % of width and height."""

SERIES: tuple[tuple[ClubLens, float, tuple[float, ...], tuple[str, ...]], ...] = (
    (WREN, 12, (2.0, 2.8, 4.0, 5.6), (CENTRE, BOTTOM_RIGHT)),
    (HERON, 20, (1.8, 2.5, 3.5), (CENTRE, BOTTOM_RIGHT, TOP_LEFT)),
    (PLOVER, 24, (2.2, 2.8, 4.0), (CENTRE, BOTTOM_RIGHT)),
    (DIPPER, 11, (3.2, 4.0), (CENTRE, BOTTOM_RIGHT)),
    (DIPPER, 14, (3.2,), (CENTRE, BOTTOM_RIGHT)),
    (DIPPER, 18, (3.2,), (CENTRE, BOTTOM_RIGHT)),
    (CURLEW, 17, (2.5,), (CENTRE, BOTTOM_RIGHT)),
    (CURLEW, 24, (2.8,), (CENTRE, BOTTOM_RIGHT)),
    (CURLEW, 28, (3.2,), (CENTRE, BOTTOM_RIGHT)),
    (CURLEW, 35, (4.0,), (CENTRE, BOTTOM_RIGHT)),
    (CURLEW, 45, (4.5,), (CENTRE, BOTTOM_RIGHT)),
)
"""Lens, focal length [mm], marked f-numbers and places, in the order of the evening."""


@dataclass(frozen=True)
class Shot:
    """One frame of the plan. Where the focus and the star really were is the truth."""

    number: int
    club: ClubLens
    focal_mm: float
    f_number: float
    place: str
    x_px: float
    y_px: float
    focus_error_um: float

    @property
    def file_name(self) -> str:
        """Name as the camera's counter gives it."""
        return f"HLCC{self.number:04d}.DNG"

    @property
    def taken_at(self) -> datetime:
        """When the shutter opened, zone known."""
        return STARTED_AT + timedelta(seconds=SECONDS_A_FRAME * self.number)

    def random(self, purpose: int) -> np.random.Generator:
        """Return this frame's generator; purposes are independent of each other."""
        return np.random.default_rng([SEED, self.number, purpose])


def plan() -> tuple[Shot, ...]:
    """Return all frames of the demo, in the order of the camera's counter."""
    wanted = [
        (club, focal, f_number, place)
        for club, focal, f_numbers, places in SERIES
        for f_number in f_numbers
        for place in places
        for _ in range(REPEATS)
    ]
    return tuple(_shot(number, *row) for number, row in enumerate(wanted, start=1))


def _shot(number: int, club: ClubLens, focal_mm: float, f_number: float, place: str) -> Shot:
    rng = np.random.default_rng([SEED, number])
    x_percent, y_percent = PLACES_PERCENT[place]
    aim = rng.uniform(-AIM_SPREAD_PX, AIM_SPREAD_PX, 2)
    return Shot(
        number=number,
        club=club,
        focal_mm=focal_mm,
        f_number=f_number,
        place=place,
        x_px=BODY.width_px * x_percent / 100 + float(aim[0]),
        y_px=BODY.height_px * y_percent / 100 + float(aim[1]),
        focus_error_um=float(rng.normal(0.0, FOCUS_SPREAD_UM)),
    )
