"""The eye's blur in a viewed picture: a Gaussian as wide as what the purpose lets an eye separate.

Its full width at half height is 1 arcminute at the viewing distance (a screen: one line), so
phone 0.128, screen 0.093, print 60 cm wide seen from 1 m 0.073 % of picture height.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from nightglass.gear.benchfile import Purpose
from nightglass.gear.body import Body
from nightglass.verdict.purpose import limit_from_words, purpose_limit

WIDTH_PER_SIGMA = 2 * math.sqrt(2 * math.log(2))
"""Full width at half height of a Gaussian over its standard deviation: 2.355."""
SCREEN = "screen"
PURPOSES = ("phone", SCREEN, "print 60 cm wide seen from 1 m")
"""The three for which `look` is told side by side, from lenient to strict."""


@dataclass(frozen=True)
class Eye:
    """The eye's blur in the picture of one purpose."""

    words: str
    eye_percent: float
    """Full width at half height [% of picture height]."""

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


def eye_of(words: str, frame_shape: float = 1.5) -> Eye:
    """Return the eye's blur for a purpose in words, such as "phone".

    frame_shape: long over short side. Raises ValueError for words that are not understood.
    """
    found = limit_from_words(words, frame_shape)
    return Eye(found.words, found.limit_percent)


def eye_of_purpose(purpose: Purpose, frame_shape: float = 1.5) -> Eye:
    """Return the eye's blur for the purpose of a bench file; a screen where it names none.

    A typed limit says how much blur is allowed, not how the picture is looked at: it does not
    count here. Raises ValueError for a print without a size or a distance.
    """
    if purpose.kind == "limit":
        return eye_of(SCREEN)
    bare = Purpose(
        purpose.kind,
        purpose.words,
        None,
        purpose.print_long_side_m,
        purpose.print_short_side_m,
        purpose.viewing_distance_m,
    )
    found = purpose_limit(bare, frame_shape)
    return Eye(found.words, found.limit_percent)


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
    return Eye(eye.words, 100 * width_mm * 1000 / body.pitch_um / body.picture_height_px)
