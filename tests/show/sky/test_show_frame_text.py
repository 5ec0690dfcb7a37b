"""An observed frame in words, in plain data and as a report's facts, from made-up observations."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest

from nightglass.frame.record import Frame, Metadata
from nightglass.show.digits import chance_words
from nightglass.show.sky.frame_text import as_data, in_words
from nightglass.show.sky.report import section_of
from nightglass.show.sky.sheet import sheet_of
from nightglass.show.sky.words.motion import NO_ZONE
from nightglass.sky.astrometry.camera import look_at, plain_camera
from nightglass.sky.astrometry.codes import Advice, UnsolvedReason
from nightglass.sky.astrometry.matching import Fit, Match
from nightglass.sky.astrometry.refine import Solution
from nightglass.sky.astrometry.solve import Unsolved
from nightglass.sky.codes import FrameNote, FrameNoteCode
from nightglass.sky.observe import Observation
from nightglass.sky.photometry.codes import LimitSource, NightNote, NoiseSource
from nightglass.sky.photometry.conditions import Night
from nightglass.sky.stars.find import COLUMNS, Detections, FoundStars
from nightglass.sky.zones.codes import MotionKind, ZoneReason
from nightglass.sky.zones.motion import Motion
from nightglass.sky.zones.zone import Zone

NIGHT = Night(
    zero_point_mag=15.5, zero_point_err=0.003, zero_point_scatter=0.29, zero_point_stars=900,
    falloff=None, sky_mag_arcsec2=21.0, sky_err=0.06, limiting_mag=8.3, limiting_err=0.1,
    limiting_from=LimitSource.HALF_FOUND, stars_recorded=1200, open_sky=0.97,
    sky_noise_counts=19.0, gain_e_per_count=0.6, read_noise_counts=3.0,
    limited_by=NoiseSource.SKY, notes=(), noise_times_sky=1.012,
)  # fmt: skip


def zones(length_px: float | None = 4.0, reason: ZoneReason | None = None) -> tuple[Zone, ...]:
    """Return the 15 zones of a frame of 1500 x 900 px, all alike."""
    return tuple(
        Zone(
            row, column, (column + 0.5) * 300 - 0.5, (row + 0.5) * 300 - 0.5,
            math.hypot(300 * (column - 2), 300 * (row - 1)) / math.hypot(750, 450), 20,
            length_px=length_px, length_px_err=0.1, width_px=3.0, width_px_err=0.1,
            trail_expected_px=(4.0, 1.0), trail_seen_px=(4.0, 1.0), trail_err_px=(0.1, 0.1),
            reason=reason,
        )
        for row, column in np.ndindex(3, 5)
    )  # fmt: skip


def observed(motion: Motion | None, solved: bool = True, **more) -> Observation:
    """Return an observation of three stars with what is given."""
    samples = np.full((900, 1500), 1000, np.uint16)
    known = Metadata(exposure_true_s=16.0, exposure_marked_s=15.0, focal_mm=20.0)
    frame = Frame(
        samples, np.array([[0, 1], [1, 2]], np.uint8), np.full((2, 2), 1000.0),
        np.full((2, 2), 16000.0), "mosaic", known, file="a.raw",
    )  # fmt: skip
    stars = FoundStars(**{name: np.full(3, 30.0) for name in COLUMNS})
    camera, rotation = plain_camera(1500, 900, 1000.0), look_at(83.6, 22.0)
    none = np.empty(0, dtype=np.intp)
    fit = Fit(camera, rotation, np.zeros(5), 0.0, 0.0, 0.0)
    solution = Solution(camera, rotation, fit, Match(none, none, np.empty(0)), 0.1, -100.0, True)
    failed = Unsolved(UnsolvedReason.TOO_FEW_STARS, 3, Advice.MORE_LIGHT)
    seen = Observation(
        "a.raw", frame, Detections(stars, None, 1.5, 7, 0), solution if solved else failed, motion,
        None, (),
    )  # fmt: skip
    return replace(seen, **more)


def moving(known: tuple[Zone, ...] | None = None, **more) -> Motion:
    """Return a tripod's motion of the zones."""
    motion = Motion(
        zones() if known is None else known, (0.01, 0.0), (0.05, 0.04), MotionKind.TRIPOD,
        1.0, 0.01,
    )  # fmt: skip
    return replace(motion, **more)


def facts(seen: Observation) -> dict[str, tuple[str, str]]:
    """Return all facts of a report by name."""
    groups = sheet_of(seen).groups
    return {fact.name: (fact.value, fact.source) for _, found in groups for fact in found}


def test_a_frame_without_a_field_says_why_at_a_glance():
    assert section_of(sheet_of(observed(None, solved=False)), {}).glance[1] == "not solved"
    no_time = observed(None, notes=(FrameNote(FrameNoteCode.NO_EXPOSURE),))
    assert section_of(sheet_of(no_time), {}).glance[1] == "exposure time not known"
    assert section_of(sheet_of(observed(moving())), {}).glance[1] == "0.444 ± 0.011"


def test_a_time_that_may_be_wrong_is_a_hint_beside_the_motion_everywhere():
    slow = observed(moving(rate=0.94), exposure_s=16.0)
    hint = "the trails are the sky's own if the shutter was open 15.0 ± 0.2 s instead of 16 s"
    lines = in_words(slow, "a.raw")
    at = next(k for k, line in enumerate(lines) if line.startswith("  motion: "))
    assert lines[at + 1].startswith(f"  hint: {hint}: with a remote release")
    assert as_data(slow, "a.raw")["motion"]["shutter_hint"] == pytest.approx(
        {"open_s": 15.04, "open_s_err": 0.16, "marked_s": 15.0}
    )
    shown = sheet_of(slow)
    assert shown.notes[1].startswith(hint)
    assert shown.on_map == 2
    right = observed(moving(), exposure_s=16.0)
    assert as_data(right, "a.raw")["motion"]["shutter_hint"] is None
    assert sheet_of(right).on_map == 1


def test_the_night_in_words_with_reasons_for_what_is_not_known():
    few = replace(NIGHT, limiting_mag=None, limiting_from=LimitSource.TOO_FEW_STARS)
    seen = observed(moving(), night=few)
    lines = in_words(seen, "a.raw")
    assert lines[0] == (
        "a.raw: 3 stars, 7 single bright samples (hot pixels, or stars of one pixel) left out"
    )
    assert "  limiting magnitude: not known, too few stars near the limit" in lines
    assert facts(seen)["limiting magnitude"] == ("not known", "too few stars near the limit")
    assert "  noise set by: the sky's light (the readout makes it 1.2 % larger)" in lines
    assert "  chance of a false match: under 1 in a billion" in lines
    assert facts(seen)["chance of a false match"][0] == "under 1 in a billion"
    assert any(line.startswith("  light lost: not tested, too few") for line in lines)
    assert "    top left: 0.444 % of height, length 4.00 ± 0.10 px, width 3.00 ± 0.10, round; " in [
        line[: line.index("trail")] for line in lines if "trail as" in line
    ]


def test_a_frame_under_cloud_says_how_much_sky_it_shows():
    notes = (NightNote.LITTLE_OPEN_SKY,)
    seen = observed(moving(), night=replace(NIGHT, open_sky=0.24, notes=notes))
    note = (
        "only 24 % of the frame shows open sky, elsewhere stars that ought to show are missing "
        "(land, trees or cloud): sky brightness and limiting magnitude hold for the open part, and "
        "thin cloud may lie over it too"
    )
    assert f"  note: {note}" in in_words(seen, "a.raw")
    assert note in sheet_of(seen).notes
    clear = in_words(observed(moving(), night=NIGHT), "a.raw")
    assert not any("shows open sky" in line for line in clear)


@pytest.mark.parametrize(
    ("log10", "words"),
    [(-300.0, "under 1 in a billion"), (-9.1, "under 1 in a billion"), (-4.3, "1 in 20,000"),
     (-2.0, "1 in 100"), (0.0, "1 in 1")],
)  # fmt: skip
def test_chances_are_told_in_words(log10, words):
    assert chance_words(log10) == words


def test_a_zones_line_has_lean_and_colours_where_they_are_known():
    known = (
        replace(
            zones()[0], lean=0.3, lean_err=0.02, red_offset_px=(0.3, 0.4),
            blue_offset_px=(0.0, 0.1), offset_err_px=0.02,
        ),
        *zones()[1:],
    )  # fmt: skip
    line = next(
        line for line in in_words(observed(moving(known)), "a.raw") if "top left: 0.444" in line
    )
    assert line == (
        "    top left: 0.444 % of height, length 4.00 ± 0.10 px, width 3.00 ± 0.10, round, tail "
        "outward; lean +0.30 ± 0.02; red 0.50 ± 0.02, blue 0.10 ± 0.02 px beside green; trail as "
        "the sky's ± 0.1 px, the sky's 4.1; 20 stars"
    )


def test_a_motion_that_no_zone_shows_is_not_known():
    nothing = Motion(zones(None, ZoneReason.TOO_FEW_STARS), (0, 0), (math.inf, math.inf), None)
    seen = observed(nothing)
    assert facts(seen)["motion beyond the sky's"] == ("not known", NO_ZONE)
    data = as_data(seen, "a.raw")["motion"]
    assert data["extra_px"] is None
    assert data["extra_err_px"] is None
    assert not any("inf" in line for line in in_words(seen, "a.raw"))
    assert section_of(sheet_of(seen), {}).glance[1:4] == ("not tested",) * 3
    told = facts(observed(moving()))
    assert told["motion beyond the sky's"][0] == "0.01 ± 0.06 px, none shown"
