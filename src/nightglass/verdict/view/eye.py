"""The eye's blur in a viewed picture: a Gaussian as wide as what the purpose lets an eye separate.

Its full width at half height is 1 arcminute at the viewing distance (a screen: one line), so
phone 0.128, screen 0.093, print 60 cm wide seen from 1 m 0.073 % of picture height.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

from nightglass.gear.benchfile import PurposeKind
from nightglass.gear.body import Body

WIDTH_PER_SIGMA = 2 * math.sqrt(2 * math.log(2))
"""Full width at half height of a Gaussian over its standard deviation: 2.355."""


@dataclass(frozen=True)
class Eye:
    """The eye's blur in the picture of one purpose."""

    words: str
    """As the person typed the purpose, else its kind."""
    eye_percent: float
    """Full width at half height [% of picture height]."""
    kind: PurposeKind = "screen"
    picture_height_m: float | None = None
    """Of a phone or a print; None for a screen, where one line counts."""
    distance_m: float | None = None

    def __post_init__(self) -> None:
        if not 0 < self.eye_percent <= 10:
            raise ValueError(
                f"eye_percent is {self.eye_percent:g}; the eye's blur is above 0 and at most 10 % "
                "of picture height, such as 0.093 on a screen"
            )

    @property
    def sigma_percent(self) -> float:
        """Standard deviation [% of picture height]."""
        return self.eye_percent / WIDTH_PER_SIGMA

    def width_px(self, body: Body) -> float:
        """Return the full width at half height in raw pixels of a body."""
        return self.eye_percent / 100 * body.picture_height_px

    def sigma_px(self, body: Body) -> float:
        """Return the standard deviation in raw pixels of a body."""
        return self.sigma_percent / 100 * body.picture_height_px


def eye_arcmin(eye: Eye, body: Body, focal_mm: float) -> float:
    """Return how much sky the eye's width covers at the centre of a picture [arcminutes]."""
    width_mm = eye.width_px(body) * body.pitch_um / 1000
    return 60 * math.degrees(math.atan(width_mm / focal_mm))


def eye_on_sky(eye: Eye, arcmin: float, body: Body, focal_mm: float) -> Eye:
    """Return the eye that covers so many arcminutes at the centre of another picture.

    For pictures shown at equal angular scale: the patch that fills the reference's screen fills
    it again. Raises ValueError where that is over 10 % of the other picture's height.
    """
    width_mm = focal_mm * math.tan(math.radians(arcmin / 60))
    percent = 100 * width_mm * 1000 / body.pitch_um / body.picture_height_px
    return replace(eye, eye_percent=percent)
