"""What bench.toml says, as records: gear, places, conditions and what matters to the person."""

from __future__ import annotations

import math
from dataclasses import dataclass, field
from pathlib import Path
from typing import Literal

from nightglass.gear.body import Body
from nightglass.gear.lens import Lens, LensSetting

RuleName = Literal[
    "360 rule", "500 rule", "300 rule", "npf simple", "npf full", "pixels", "share of blur", "trail"
]
ReleaseName = Literal["dial", "remote"]
PurposeKind = Literal["limit", "phone", "screen", "print"]

DEFAULT_LIMIT_PERCENT = 0.25
"""Largest blur that counts as eligible, % of picture height, unless the person says otherwise."""
DEFAULT_WITHIN_PERCENT = 15.0
"""How far from a named place a star may stand and still belong to it, % of picture height."""


@dataclass(frozen=True)
class Place:
    """A named place of the star in the frame, in raw coordinates (never turned).

    Given as percent of width and height, or as field radius and direction from the centre.
    """

    name: str
    x_percent: float
    """Of the frame's width, 0 left, 100 right."""
    y_percent: float
    """Of the frame's height, 0 top, 100 bottom."""
    within_percent: float = DEFAULT_WITHIN_PERCENT


def place_by_radius(
    name: str, field_radius: float, direction_degrees: float, body: Body, within_percent: float
) -> Place:
    """Return the place at a field radius (1 = corner) in a direction (0 right, 90 down)."""
    reach = field_radius * math.hypot(body.width_px, body.height_px) / 2
    dx = reach * math.cos(math.radians(direction_degrees))
    dy = reach * math.sin(math.radians(direction_degrees))
    return Place(
        name, 50 + 100 * dx / body.width_px, 50 + 100 * dy / body.height_px, within_percent
    )


@dataclass(frozen=True)
class FrameRule:
    """What the person says of some frames; it wins over what the camera wrote."""

    match: str
    """Pattern of names below frames/; `*` also passes folders, capitals do not matter."""
    lens: str | None = None
    focal_mm: float | None = None
    f_number: float | None = None
    place: str | None = None
    iso: int | None = None
    exposure_s: float | None = None
    near_px: tuple[float, float] | None = None
    """Where the star stands, raw pixels."""
    body: str | None = None
    session: str | None = None
    leave_out: str | None = None
    """Reason to keep these frames out of the results; they stay on record."""
    line: int = 0
    """Line in bench.toml, for messages."""


@dataclass(frozen=True)
class BenchNotes:
    """How the star was set up."""

    name: str | None = None
    distance_m: float | None = None
    source_diameter_mm: float | None = None
    session: str | None = None
    notes: str = ""
    store: str | None = None
    """Address of another database than bench.sqlite."""


@dataclass(frozen=True)
class Purpose:
    """What the pictures are for: it sets the largest blur that counts as eligible."""

    kind: PurposeKind = "limit"
    words: str = ""
    """As typed: "phone", "screen", "print 60 cm wide seen from 1 m"; empty for a bare limit."""
    limit_percent: float | None = None
    """As typed, % of picture height; None when only words were typed."""
    print_long_side_m: float | None = None
    print_short_side_m: float | None = None
    """Height of the print, if that is what was typed instead of the width."""
    viewing_distance_m: float | None = None


@dataclass(frozen=True)
class TimeChoice:
    """Which rule limits the exposure time, and how the shutter is released."""

    rule: RuleName = "360 rule"
    release: ReleaseName = "dial"
    declination_degrees: float = 0.0
    trail_percent: float | None = None
    """Longest trail, % of picture height, for the rule "trail"."""
    pixels: float | None = None
    """Longest trail for the rule "pixels"."""
    share: float | None = None
    """Longest trail over the lens's own blur, for the rule "share of blur"."""


@dataclass(frozen=True)
class ScoreChoice:
    """How light and glow are weighed: score = stars^a x glow^b against the reference."""

    a: float = 0.5
    b: float = 0.5
    reference: LensSetting | None = None


@dataclass(frozen=True)
class SkyChoice:
    """The sky for which settings are compared; None takes the stated default."""

    brightness_mag_per_arcsec2: float | None = None
    extinction_mag: float | None = None
    airmass: float | None = None


@dataclass(frozen=True)
class Site:
    """Where the person goes; read by the night planner."""

    place: str | None = None
    zone: str | None = None
    height_m: float | None = None
    horizon_degrees: float | tuple[tuple[float, float], ...] | None = None
    """One height, or (azimuth, height) pairs."""
    name: str = ""
    """What the person calls the place."""


@dataclass(frozen=True)
class BenchFile:
    """Everything that bench.toml says, checked."""

    body: Body
    lenses: tuple[Lens, ...]
    places: tuple[Place, ...] = ()
    frames: tuple[FrameRule, ...] = ()
    bench: BenchNotes = field(default_factory=BenchNotes)
    purpose: Purpose = field(default_factory=Purpose)
    time: TimeChoice = field(default_factory=TimeChoice)
    score: ScoreChoice = field(default_factory=ScoreChoice)
    sky: SkyChoice = field(default_factory=SkyChoice)
    site: Site = field(default_factory=Site)
    path: Path | None = None

    @property
    def folder(self) -> Path:
        """The bench folder; the current one for a file that was never read from disk."""
        return self.path.parent if self.path else Path()

    def lens(self, name: str) -> Lens | None:
        """Return the lens of that name, or None."""
        return next((lens for lens in self.lenses if lens.name == name), None)
