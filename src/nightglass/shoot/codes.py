"""Codes of the bench plan and of the watch; their words stand in show/shoot."""

from __future__ import annotations

from enum import StrEnum


class Role(StrEnum):
    """What a block of frames is for."""

    MEASURE = "measure"
    REFERENCE_START = "reference start"
    REFERENCE_MIDDLE = "reference middle"
    REFERENCE_END = "reference end"


class DistanceFrom(StrEnum):
    """Why the source stands where it does."""

    STATED = "stated"
    ROOM = "room"
    ASSUMED = "assumed"


class DistanceProblem(StrEnum):
    """What is wrong with a lens's distance."""

    ROOM_TOO_SHORT = "room too short"
    SOURCE_TOO_LARGE = "source too large"
    NO_STAND_BACK = "no stand-back"


class AimProblem(StrEnum):
    """Why a place has no aim, or none to stand back for."""

    NOT_SHOWN = "not shown"
    BEHIND_THE_PLANE = "behind the plane"


class ScatterSource(StrEnum):
    """Where the scatter of a single repeat comes from."""

    RECORD = "record"
    STATED = "stated"
    GUESS = "guess"


class ExposureSource(StrEnum):
    """Where an exposure time comes from."""

    SAME = "same setting"
    SCALED = "other setting"
    CLIPPED = "only clipped frames"
    UNKNOWN = "no frame yet"


class CutCode(StrEnum):
    """What a short plan leaves out."""

    REPEATS = "repeats"
    F_NUMBERS = "f-numbers"
    ZOOM_MIDDLES = "zoom middles"
    ZOOM_LONG_ENDS = "zoom long ends"
    PLACES = "places"
    REFERENCE_ROUNDS = "reference rounds"
    LENSES = "lenses"


class FrameWord(StrEnum):
    """What is said of a frame as it lands."""

    GOOD = "good"
    CLIPPED = "clipped"
    FAINT = "faint"
    OUT_OF_FOCUS = "out of focus"
    MOVED = "moved"
    LOST = "lost"
    SHARPER_THAN_BEFORE = "sharper than before"
    BRIGHT = "bright"
    DIM = "dim"
    ONE_PIXEL_PLACE = "one pixel place"
    NOT_COMPARED = "not compared"
    NO_LINE = "no line"
    EXTRA = "extra"
    IN_SERIES = "in a series"
    NOT_USED = "not used"
    NOT_READ = "not read"
    SAME_AS_ANOTHER = "same as another"


SHOOT_AGAIN = frozenset(
    {
        FrameWord.CLIPPED,
        FrameWord.FAINT,
        FrameWord.OUT_OF_FOCUS,
        FrameWord.MOVED,
        FrameWord.LOST,
    }
)
"""Words after which a frame does not count for its line."""
