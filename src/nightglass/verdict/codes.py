"""What a verdict says in codes; nightglass.show.ranking words them."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from enum import StrEnum


class NoteCode(StrEnum):
    """What a reader must know of a setting, or why it was not ranked."""

    BODY_ASSUMED = "body_assumed"
    LARGE_SOURCE = "large_source"
    SESSION_DRIFTED = "session_drifted"
    SESSION_OFFSET = "session_offset"
    SESSION_NOT_TIED = "session_not_tied"
    AT_LIMIT = "at_limit"
    AT_LIMIT_IN_PLACES = "at_limit_in_places"
    ONE_REPEAT = "one_repeat"
    PLACES_WITHOUT_SIZE = "places_without_size"
    FRAME_PARTLY_UNTESTED = "frame_partly_untested"
    CROWDED = "crowded"
    BEYOND_STAR_COUNTS = "beyond_star_counts"
    LENS_NOT_IN_BENCH_FILE = "lens_not_in_bench_file"
    OTHER_BODY = "other_body"
    NO_SIZE_ANYWHERE = "no_size_anywhere"
    NOT_TESTED = "not_tested"
    ON_OTHER_BODY_ONLY = "on_other_body_only"


@dataclass(frozen=True)
class Note:
    """A code with its numbers and names; nightglass.show.ranking.note_words makes the sentence."""

    code: NoteCode
    values: Mapping[str, float | str | tuple[str, ...]] = field(default_factory=dict)


@dataclass(frozen=True)
class NotRanked:
    """A lens, or one setting of it, that could not be judged, and why."""

    lens: str
    reason: Note
    focal_mm: float | None = None
    f_number: float | None = None
    """None where the whole lens was not judged."""


class NotTested(StrEnum):
    """What a ranking says nothing about."""

    OTHER_COPIES = "other_copies"
    OTHER_DISTANCES = "other_distances"
    OTHER_SESSIONS = "other_sessions"
    DRIFT = "drift"
    SESSIONS_NOT_TIED = "sessions_not_tied"


class AssumptionCode(StrEnum):
    """What entered a result as a default or a choice."""

    LONGEST_TIME = "longest_time"
    AIM = "aim"
    VIEWING = "viewing"
    LIMIT = "limit"
    SCORE = "score"
    FAINTEST_STAR = "faintest_star"
    CROWDING = "crowding"
    SKY_BRIGHTNESS = "sky_brightness"
    MILKY_WAY = "milky_way"
    EXTINCTION = "extinction"
    AIRMASS = "airmass"
    STAR_COUNTS = "star_counts"
    V_MINUS_G = "v_minus_g"
    ZERO_POINT = "zero_point"
    EFFICIENCY = "efficiency"
    RED_SHARE = "red_share"
    BLUE_SHARE = "blue_share"
    READ_NOISE = "read_noise"
    ISO = "iso"
    TRANSMISSION = "transmission"
    FALLOFF = "falloff"
    MARKS = "marks"
    BLUR_BETWEEN_PLACES = "blur_between_places"
    SCATTER = "scatter"
    SESSIONS = "sessions"
    FOCUS = "focus"
    VISIBLE_GAIN = "visible_gain"
    INTERVALS = "intervals"


class AssumptionSource(StrEnum):
    """Where an assumption comes from."""

    BENCH_FILE = "bench_file"
    DEFAULT = "default"
    GLOSSARY = "glossary"
    FRAMES = "frames"
    MEASURED = "measured"
    COMMON_PRACTICE = "common_practice"
    STANDARD = "standard"


@dataclass(frozen=True)
class Assumption:
    """A default or a choice that entered the result; show.ranking.assumption_words words it."""

    code: AssumptionCode
    source: AssumptionSource
    values: Mapping[str, float | str | bool | tuple[str, ...] | None] = field(default_factory=dict)
    could_change_order: bool | None = None
    """Whether another value within its range puts the lenses in another order; None: not tried."""


class LossReason(StrEnum):
    """Why a lens's widest opening is not its best setting."""

    STREAKS = "streaks"
    DRAWN_OUT = "drawn_out"
    BLUR = "blur"
    OVER_LIMIT = "over_limit"
