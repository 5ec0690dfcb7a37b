"""What bench.toml says, as records: gear, places, conditions and what matters to the person."""

from __future__ import annotations

import math
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import Literal

from nightglass.gear.body import Body, chosen_body
from nightglass.gear.lens import Lens, LensSetting

RuleName = Literal[
    "trail", "360 rule", "500 rule", "300 rule", "npf simple", "npf full", "pixels", "share of blur"
]
ReleaseName = Literal["dial", "remote"]
HoldsAt = Literal["centre", "corners"]
"""Where in the frame the longest trail of the rule holds: at its centre, or even at its worst
place."""
PurposeKind = Literal["phone", "screen", "print"]
LimitOn = Literal["lens", "with trail"]
LimitAt = Literal["worst", "mean"]

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
    by_radius: tuple[float, float] | None = None
    """(field radius, direction in degrees) as typed; None where x and y were."""


def place_by_radius(
    name: str, field_radius: float, direction_degrees: float, body: Body, within_percent: float
) -> Place:
    """Return the place at a field radius (1 = corner) in a direction (0 right, 90 down)."""
    reach = field_radius * math.hypot(body.width_px, body.height_px) / 2
    dx = reach * math.cos(math.radians(direction_degrees))
    dy = reach * math.sin(math.radians(direction_degrees))
    x, y = 50 + 100 * dx / body.width_px, 50 + 100 * dy / body.height_px
    return Place(name, x, y, within_percent, (field_radius, direction_degrees))


def _place_on(place: Place, body: Body) -> Place:
    """The place in the frame of another body: 1 is the corner of every frame."""
    if place.by_radius is None:
        return place
    return place_by_radius(place.name, *place.by_radius, body, place.within_percent)


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
    series: str | None = None
    """Name of the study that these frames belong to; they take no part in the ranking."""
    focus_mark: float | None = None
    """Where the focus stood: ring mark, scale or step, in the person's own unit."""
    refocused: bool | None = None
    """Whether the lens was focused anew for each of these frames."""
    distance_m: float | None = None
    source_diameter_mm: float | None = None
    """Of these frames; those of [bench] otherwise."""
    roll_degrees: float | None = None
    """The camera turned about its line of sight."""
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
    """How the pictures are looked at: it says what blur a viewer sees."""

    kind: PurposeKind = "screen"
    words: str = ""
    """As typed: "phone", "screen", "print 60 cm wide seen from 1 m"; empty for the default."""
    print_width_m: float | None = None
    print_height_m: float | None = None
    """None where only the width was typed: the frame's shape gives it."""
    viewing_distance_m: float | None = None
    """None where none was typed: a print is looked at from as far as its diagonal is long."""


@dataclass(frozen=True)
class LimitChoice:
    """A limit of blur that the person sets; settings over it stand below the line."""

    percent: float
    """% of picture height."""
    on: LimitOn = "lens"
    """The lens's own blur, or that of the trailed star."""
    at: LimitAt = "worst"
    """The worst measured place, or the mean over the frame."""


@dataclass(frozen=True)
class TimeChoice:
    """Which rule limits the exposure time, and how the shutter is released."""

    rule: RuleName = "trail"
    release: ReleaseName = "dial"
    holds_at: HoldsAt = "centre"
    declination_degrees: float = 0.0
    trail_percent: float | None = None
    """Longest trail, % of picture height, for the rule "trail"; None: 0.16828."""
    pixels: float | None = None
    """Longest trail for the rule "pixels"."""
    share: float | None = None
    """Longest trail over the lens's own blur, for the rule "share of blur"."""


@dataclass(frozen=True)
class ScoreChoice:
    """How stars and glow are weighed: score = stars^2a x glow^2b over the reference, a + b = 1."""

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
class SessionChoice:
    """What bounds a session at the bench, and what it is to tell; read by the bench plan."""

    hours: float | None = None
    room_m: float | None = None
    """Longest distance from camera to source that there is."""
    tell_percent: float = 10.0
    """Difference of blur that the repeats shall tell apart."""
    scatter_percent: float | None = None
    """Scatter of a single repeat, as the person guesses it."""
    repeats: int | None = None
    pace: float = 1.0
    """Times the usual minutes: 1.5 for somebody slower."""
    f_numbers: tuple[float, ...] = ()
    """Marks to test; empty: wide open, one and two stops down."""
    reference: str | None = None
    """Lens whose frames show drift."""


@dataclass(frozen=True)
class BenchFile:
    """Everything that bench.toml says, checked."""

    body: Body
    """The main body, or the one that `on_body` chose."""
    lenses: tuple[Lens, ...]
    places: tuple[Place, ...] = ()
    frames: tuple[FrameRule, ...] = ()
    bench: BenchNotes = field(default_factory=BenchNotes)
    purpose: Purpose = field(default_factory=Purpose)
    limit: LimitChoice | None = None
    time: TimeChoice = field(default_factory=TimeChoice)
    score: ScoreChoice = field(default_factory=ScoreChoice)
    sky: SkyChoice = field(default_factory=SkyChoice)
    site: Site = field(default_factory=Site)
    plan: SessionChoice = field(default_factory=SessionChoice)
    path: Path | None = None
    other_bodies: tuple[Body, ...] = ()
    """Further bodies on which lenses of this bench were measured."""
    main_body: str | None = None
    """Name of the one of [body] where `on_body` chose another; None: it is `body`."""

    @property
    def bodies(self) -> tuple[Body, ...]:
        """Every body of the bench, `body` first."""
        return (self.body, *self.other_bodies)

    def on_body(self, name: str | None) -> BenchFile:
        """Return the bench as seen by one of its bodies: its sensor, its frames, its results.

        name: whole, or a part that no other body has; None: as it is. Raises ValueError for a name
        that fits none or several.
        """
        if name is None:
            return self
        body = chosen_body(self.bodies, name)
        if body is self.body:
            return self
        reference = self.score.reference
        if reference is not None:
            reference = replace(reference, body=body.name)
        main = self.main_body or self.body.name
        return replace(
            self,
            body=body,
            main_body=None if body.name == main else main,
            other_bodies=tuple(other for other in self.bodies if other is not body),
            places=tuple(_place_on(place, body) for place in self.places),
            score=replace(self.score, reference=reference),
        )

    @property
    def folder(self) -> Path:
        """The bench folder; the current one for a file that was never read from disk."""
        return self.path.parent if self.path else Path()

    def lens(self, name: str) -> Lens | None:
        """Return the lens of that name, or None."""
        return next((lens for lens in self.lenses if lens.name == name), None)

    def lens_of(self, setting: LensSetting) -> Lens:
        """Return the lens of a setting of this bench. Raises ValueError for another's."""
        lens = self.lens(setting.lens)
        if lens is None:
            have = ", ".join(lens.name for lens in self.lenses)
            raise ValueError(f'the lens "{setting.lens}" is not in bench.toml, which has {have}')
        return lens
