"""Words of every code of the sky: all are there, and none shows a hole where a number belongs."""

from __future__ import annotations

import math
import re
from dataclasses import replace
from enum import StrEnum

import pytest

from nightglass.show.sky.words.developed import DEVELOPED
from nightglass.show.sky.words.field import FALLOFF_REASONS, HINTS, SIDE_VERDICTS, ZONE_REASONS
from nightglass.show.sky.words.filter import FILTER_REASONS, VERDICTS
from nightglass.show.sky.words.moment import LIGHTS
from nightglass.show.sky.words.motion import MOTIONS, NOT_APART, UNCHECKED, motion_words
from nightglass.show.sky.words.night import (
    GAIN_REASONS,
    LIMIT_SOURCES,
    NIGHT_NOTES,
    NOISE_SOURCES,
    gain_reason_words,
    night_note_words,
)
from nightglass.show.sky.words.place import AIR_REASONS, CLOCK_NOTES, air_reason_words
from nightglass.show.sky.words.unsolved import (
    ADVICE,
    FRAME_NOTES,
    UNSOLVED_REASONS,
    frame_note_words,
    tried_words,
    unsolved_words,
)
from nightglass.sky.astrometry.airless import AirTaken
from nightglass.sky.astrometry.attempt import Attempt
from nightglass.sky.astrometry.codes import Advice, AirReason, UnsolvedReason
from nightglass.sky.astrometry.solve import Unsolved
from nightglass.sky.codes import ALL_CODES, FrameNote, FrameNoteCode
from nightglass.sky.photometry.codes import GainReason, LimitSource, NightNote, NoiseSource
from nightglass.sky.photometry.conditions import Night
from nightglass.sky.zones.codes import MotionKind
from nightglass.sky.zones.motion import Motion

TABLES = (
    DEVELOPED,
    FALLOFF_REASONS, HINTS, SIDE_VERDICTS, ZONE_REASONS, FILTER_REASONS, VERDICTS, LIGHTS, MOTIONS,
    GAIN_REASONS, LIMIT_SOURCES, NIGHT_NOTES, NOISE_SOURCES, AIR_REASONS, CLOCK_NOTES, ADVICE,
    FRAME_NOTES, UNSOLVED_REASONS,
)  # fmt: skip


@pytest.mark.parametrize("kind", ALL_CODES, ids=lambda kind: kind.__name__)
def test_every_code_has_its_words(kind: type[StrEnum]) -> None:
    (table,) = (table for table in TABLES if set(table) & set(kind) == set(kind))
    assert set(table) == set(kind)
    assert len(set(table.values())) == len(table)


def whole(words: str) -> str:
    assert not re.search(r"[{}]|\bNone\b|\bnan\b|  ", words), words
    return words


def motion(kind: MotionKind, rate: float | None, unclear: bool = False) -> Motion:
    err = None if rate is None else 0.02
    return Motion((), (2.4, -1.8), (0.3, 0.2), kind, rate, err, unclear, 0.11)


def test_each_kind_of_motion_is_worded_with_its_numbers() -> None:
    assert motion_words(motion(MotionKind.TRIPOD, 1.013)) == (
        "the sky's own motion explains the stars (their trails are 1.013 ± 0.020 times as long as "
        "the sky's)"
    )
    mount = "a tracking mount: the stars moved at 0.130 ± 0.020 of the sky's rate"
    assert motion_words(motion(MotionKind.MOUNT, 0.13)) == mount
    # 2.4 right and 1.8 up: 3 px toward 360 - 36.87 degrees.
    drift = (
        "the camera moved the stars by 3.00 ± 0.11 px toward 323 degrees (0 right, 90 down) beyond "
        "what the sky explains: a tripod that slipped, wind or a bump"
    )
    assert motion_words(motion(MotionKind.DRIFT, None)) == drift
    assert motion_words(motion(MotionKind.MOUNT_AND_DRIFT, 0.13)) == f"{mount}; {drift}"


def test_a_rate_that_is_not_clear_is_said() -> None:
    assert motion_words(motion(MotionKind.TRIPOD, 1.0, unclear=True)) == UNCHECKED
    for kind in (MotionKind.MOUNT, MotionKind.MOUNT_AND_DRIFT):
        assert motion_words(motion(kind, 0.4, unclear=True)).endswith(f"; {NOT_APART}")


def test_no_shutter_is_known_to_a_thousandth() -> None:
    known = replace(motion(MotionKind.MOUNT, 0.13), rate_err=1e-6)
    assert "0.1300 ± 0.0010 of" in motion_words(known)


def test_notes_of_a_frame_have_their_numbers() -> None:
    known = {"hot_pixels": 3, "samples": 24_000_000, "clipped_share": 0.0123, "points": 5}
    words = {c: whole(frame_note_words(FrameNote(c, **known, length_px=43.2)))
             for c in FrameNoteCode}  # fmt: skip
    assert words[FrameNoteCode.CLIPPED].startswith("1.2 % of the frame is clipped")
    assert words[FrameNoteCode.FEW_POINTS].startswith("only 5 points of light")
    assert "only 3 single hot pixels in 24 million" in words[FrameNoteCode.FEW_HOT_PIXELS]


def test_a_search_that_ran_out_of_time_says_so() -> None:
    tried = (Attempt("equisolid", 120.4, 18),)
    failed = Unsolved(UnsolvedReason.NO_PATTERN_FITS, 40, Advice.NAME_THE_CAMERA, tried)
    assert tried_words(failed) == "1 camera, equisolid, 120 degrees wide, 18 stars and onward"
    assert tried_words(replace(failed, timed_out=True)).endswith("; time ran out")
    assert tried_words(replace(failed, tried=())) == ""
    assert "the 40 brightest stars" in whole(unsolved_words(failed))


def test_the_night_has_its_numbers_and_each_note_once() -> None:
    night = Night(
        *(None,) * 3, 0, *(None,) * 5, LimitSource.TOO_FEW_STARS, 12, 0.24, *(None,) * 3,
        NoiseSource.UNKNOWN, tuple(NightNote), gain_reason=GainReason.NOT_TOLD_APART,
        gain_share_err=0.45, patchy_mag=0.123, side_to_side_mag=0.46,
    )  # fmt: skip
    lines = [whole(line) for line in night_note_words(night)]
    assert len(set(lines)) == 1 + len(NightNote)
    for part in ("known to 45 %", "only 24 % of the frame", "by 0.12 mag", "by 0.5 mag"):
        assert sum(part in line for line in lines) == 1
    assert "known to 999 %" in gain_reason_words(GainReason.NOT_TOLD_APART, math.inf)


def test_air_that_was_left_in_says_why_with_its_numbers() -> None:
    for reason in AirReason:
        air = AirTaken(False, reason, stars=90, stars_below=70, fitting_clock_minutes=-61.2,
                       fitting_clock_minutes_err=0.4)  # fmt: skip
        words = whole(air_reason_words(air))
        assert ("70 of the frame's 90 stars" in words) == (reason is AirReason.STARS_BELOW_HORIZON)
        assert ("61 ± 1 minutes fast" in words) == (reason is AirReason.ANOTHER_CLOCK_FITS)
    assert air_reason_words(AirTaken(True)) == ""
