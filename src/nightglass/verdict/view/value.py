"""What a setting is worth in the picture as viewed: stars and glow, and the score from them."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from enum import StrEnum

from nightglass.bench.records import ZoneResult
from nightglass.gear.body import Body
from nightglass.gear.lens import Lens
from nightglass.verdict.view.eye import Eye
from nightglass.verdict.view.glow import glow_in_view, glow_on_sky
from nightglass.verdict.view.seen import StarsSeen, stars_in_view
from nightglass.verdict.worth import FrameLight


class Question(StrEnum):
    """Which picture to take, or with what to take a patch of sky."""

    PICTURE = "picture"
    SKY = "sky"


@dataclass(frozen=True)
class Value:
    """What one question counts of a setting."""

    question: Question
    stars: float
    """Per frame; for a patch of sky per 1,000 square degrees."""
    glow: float
    """In 1 % x 1 % of picture height; for a patch of sky per square degree."""
    seen: StarsSeen


def picture_value(
    light: FrameLight,
    zones: Sequence[ZoneResult],
    body: Body,
    lens: Lens,
    focal_mm: float,
    eye: Eye,
) -> Value:
    """Return what a setting is worth for the whole picture; errors as for stars_in_view."""
    seen = stars_in_view(light, zones, body, lens, focal_mm, eye)
    return Value(Question.PICTURE, seen.stars, glow_in_view(light, body), seen)


def sky_value(
    light: FrameLight,
    zones: Sequence[ZoneResult],
    body: Body,
    lens: Lens,
    focal_mm: float,
    eye: Eye,
) -> Value:
    """Return what a setting is worth for a patch of sky.

    eye: from eye.eye_on_sky, so that it covers as much sky as in the reference's picture. Errors
    as for stars_in_view.
    """
    seen = stars_in_view(light, zones, body, lens, focal_mm, eye)
    stars = seen.per_thousand_square_degrees if seen.stars > 0 else 0.0
    return Value(Question.SKY, stars, glow_on_sky(light, body), seen)


def score(value: Value, reference: Value, a: float = 0.5) -> float:
    """Return 100 x (stars / reference's)^(2a) x (glow / reference's)^(2 - 2a).

    With a = 1/2 it reads like light: half is about one stop less. Raises ValueError for a outside
    0 to 1, for a reference that shows nothing, or for values that answer different questions.
    """
    if not 0 <= a <= 1:
        raise ValueError(
            f"a is {a:g}; the weight of the stars is allowed from 0 to 1, 0.5 unless you care more "
            "for them than for the glow"
        )
    if value.question is not reference.question:
        raise ValueError(
            f"the setting answers '{value.question}' and the reference '{reference.question}'; "
            "compare what answers one question"
        )
    if not (reference.stars > 0 and reference.glow > 0):
        raise ValueError(
            "the reference shows no stars or no glow; name another reference in [score]"
        )
    stars, glow = value.stars / reference.stars, value.glow / reference.glow
    return float(100 * stars ** (2 * a) * glow ** (2 - 2 * a))
