"""The field card as a record: everything that one card says, before it is drawn.

Values come from the verdict's records unchanged; what nobody measured stays None and is drawn as
"not tested".
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date

from nightglass.bench.records import SettingResult
from nightglass.gear.benchfile import LimitChoice, TimeChoice
from nightglass.gear.body import Body
from nightglass.gear.lens import Lens
from nightglass.show.ranking.note_words import note_words
from nightglass.verdict.records import Ranking, Standing, Worth, ZoomJump
from nightglass.verdict.times import longest_times

FALLBACK_FOCALS_MM = (12.0, 14.0, 16.0, 18.0, 20.0, 24.0, 28.0, 35.0, 50.0)
"""Common marks of wide lenses, for the row "any other lens"."""


@dataclass(frozen=True)
class NightHour:
    """The Milky Way's centre at one hour of the night."""

    local_time: str
    core_altitude_degrees: float
    core_direction: str


@dataclass(frozen=True)
class NightStrip:
    """One night at one place, worked out beforehand; times are local, the zone is named."""

    place: str
    night_of: date
    zone: str
    dark: str
    """From-to with no sun and no moon, or why there is none."""
    moon: str
    core: str = ""
    """Whether and from when the Milky Way's centre is up in the dark, else when next."""
    hours: tuple[NightHour, ...] = ()
    """Hours at which it is up in the dark."""


@dataclass(frozen=True)
class PanoramaLine:
    """A panorama plan in one line."""

    frames_per_row: int
    rows: int
    step_degrees: float
    overlap_percent: float
    total_minutes: float
    row_order: str
    rows_in_turn: tuple[tuple[int, float, float], ...] = ()
    """(frames, height, step; both in degrees) of each row, the lowest first; else all rows are
    alike."""
    held: str = ""
    """How the camera is held and how wide the panorama is."""


@dataclass(frozen=True)
class StackLine:
    """A stack plan in one line."""

    frames: int
    dark_frames: bool
    interval_s: float


@dataclass(frozen=True)
class LensExtras:
    """What is known of one lens beside its bench: None is drawn as "not tested"."""

    focus_method: str | None = None
    panorama: PanoramaLine | None = None
    stack: StackLine | None = None
    too_blurred_percent: float | None = None
    """The largest blur that a panorama may have, where the lens's middle is over it."""


@dataclass(frozen=True)
class CardContext:
    """What all cards of one bag share."""

    body: Body
    made: date
    night: NightStrip | None = None
    extras: Mapping[str, LensExtras] = field(default_factory=dict)
    """By lens name."""


@dataclass(frozen=True)
class ZoneMark:
    """Blur at one place of the frame, for the small drawing of the frame."""

    place: str
    x_share: float
    """0 left edge, 1 right edge."""
    y_share: float
    """0 top edge, 1 bottom edge."""
    blur_percent: float | None
    """length of the spot, % of picture height; the upper bound where at_limit."""
    at_limit: bool


@dataclass(frozen=True)
class ZoomPosition:
    """The best setting at one zoom position."""

    worth: Worth
    jump: ZoomJump | None


@dataclass(frozen=True)
class FallbackTime:
    """The dial time of the working rule for a lens that nobody tested."""

    focal_mm: float
    dial_marked_s: float


@dataclass(frozen=True)
class LensCard:
    """One card: a lens on a body. standing is None where nothing could be judged."""

    lens: Lens
    context: CardContext
    standing: Standing | None
    reason_not_ranked: str | None
    lenses_ranked: int
    limit: LimitChoice | None
    positions: tuple[ZoomPosition, ...]
    zones: tuple[ZoneMark, ...]
    sessions: int | None
    fallback: tuple[FallbackTime, ...]

    @property
    def extras(self) -> LensExtras:
        """What is known of this lens beside its bench."""
        return self.context.extras.get(self.lens.name, LensExtras())


def lens_card(
    lens: Lens, ranking: Ranking, results: Sequence[SettingResult], context: CardContext
) -> LensCard:
    """Return the card of one lens; a lens without a standing gets a card that says so."""
    standing = next((s for s in ranking.standings if s.worth.setting.lens == lens.name), None)
    setting = standing.worth.setting if standing else None
    result = next((r for r in results if r.setting == setting), None)
    return LensCard(
        lens=lens,
        context=context,
        standing=standing,
        reason_not_ranked=None if standing else _reason(lens, ranking),
        lenses_ranked=len(ranking.standings),
        limit=ranking.limit,
        positions=_positions(lens, ranking),
        zones=_zones(result, context.body),
        sessions=result.sessions if result else None,
        fallback=fallback_times(context.body),
    )


def bag_cards(
    lenses: Sequence[Lens],
    ranking: Ranking,
    results: Sequence[SettingResult],
    context: CardContext,
) -> tuple[LensCard, ...]:
    """Return a card for each lens of the bag: ranked ones by place, then the others as listed.

    Raises ValueError for an empty bag.
    """
    if not lenses:
        raise ValueError("the bag has no lens; name at least one under [[lens]] in bench.toml")
    cards = [lens_card(lens, ranking, results, context) for lens in lenses]
    order = [standing.worth.setting.lens for standing in ranking.standings]
    last = len(order)
    return tuple(sorted(cards, key=lambda c: order.index(c.lens.name) if c.standing else last))


def best_worth(worths: Sequence[Worth]) -> Worth:
    """Return the setting to use among some: the highest score of those within the person's
    limit, else of all (the rule of the ranking, docs/glossary.md)."""
    return max(worths, key=lambda w: (w.eligible, w.score.value))


def fallback_times(body: Body) -> tuple[FallbackTime, ...]:
    """Return dial times by focal length for any other lens: the default trail at the frame
    centre, on the dial's own steps, as for the lenses of the bench."""
    default = TimeChoice()
    return tuple(
        FallbackTime(focal_mm, longest_times(default, body, focal_mm, 2.8).centre.dial_marked_s)
        for focal_mm in FALLBACK_FOCALS_MM
    )


def _reason(lens: Lens, ranking: Ranking) -> str:
    for one in ranking.not_ranked:
        if one.lens == lens.name:
            return note_words(one.reason)
    return "no frames of it on record"


def _positions(lens: Lens, ranking: Ranking) -> tuple[ZoomPosition, ...]:
    if not lens.is_zoom:
        return ()
    worths = [w for w in ranking.worths if w.setting.lens == lens.name]
    jumps = ranking.jumps_of(lens.name)
    focals = sorted({w.setting.focal_mm for w in worths})
    return tuple(
        ZoomPosition(
            best_worth([w for w in worths if w.setting.focal_mm == focal_mm]),
            jumps.get(focal_mm),
        )
        for focal_mm in focals
    )


def _zones(result: SettingResult | None, body: Body) -> tuple[ZoneMark, ...]:
    if result is None:
        return ()
    marks = []
    for zone in result.zones:
        at_limit = zone.length_px.value is None and zone.length_px.at_most is not None
        length_px = zone.length_px.bound
        blur = None if length_px is None else 100 * length_px / body.picture_height_px
        x_share = min(max(zone.x_px / body.width_px, 0.0), 1.0)
        y_share = min(max(zone.y_px / body.height_px, 0.0), 1.0)
        marks.append(ZoneMark(zone.place, x_share, y_share, blur, at_limit))
    return tuple(marks)
