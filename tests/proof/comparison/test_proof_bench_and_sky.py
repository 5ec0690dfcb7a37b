"""Bench against sky: planted ratios, orders and causes."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest

from nightglass.bench.records import Combined, SettingResult, ZoneResult
from nightglass.gear.body import Body
from nightglass.gear.lens import LensSetting
from nightglass.proof.codes import FrameReasonCode, PlaceReasonCode
from nightglass.proof.comparison.bench_and_sky import compare_bench_and_sky
from nightglass.proof.reasons import FrameReason, PlaceReason
from nightglass.proof.records import (
    RedrawnSize,
    SkyFrame,
)
from nightglass.show.proof.causes import cause_words
from nightglass.show.proof.reasons import place_reason_words
from nightglass.show.proof.verdict import verdict_words
from nightglass.sky.astrometry.codes import SkyLight
from nightglass.sky.zones.codes import ZoneReason
from nightglass.sky.zones.zone import Zone

BODY = Body("Loan body", pitch_um=6.0, width_px=1500, height_px=1000)
NONE = Combined(None, None)
PLACES = {"centre": (749.5, 499.5), "corner": (150.0, 150.0)}
CELLS = {"centre": (1, 2, 749.5, 499.5), "corner": (0, 0, 149.5, 166.2)}


def gaussian(length_px, width_px=None, fine=1, half=18):
    """Make a spot of known length and width, long axis along x."""
    across = width_px or length_px
    y, x = np.mgrid[-half * fine : half * fine + 1, -half * fine : half * fine + 1] / fine
    spot = np.exp(-0.5 * ((x * 3.29 / length_px) ** 2 + (y * 3.29 / across) ** 2))
    return (spot / spot.sum()).astype(np.float32)


def radius(x, y):
    return math.hypot(x - 749.5, y - 499.5) / math.hypot(750, 500)


def bench_zone(place, length_px, width_px=None, scatter=0.02):
    values = tuple(length_px * (1 + k * scatter) for k in (-1, 0, 1))
    return ZoneResult(
        place, *PLACES[place], radius(*PLACES[place]), 3, 0, 0,
        Combined(length_px, 0.1, None, values), NONE, NONE, NONE, NONE,
        Combined(20.0, 1.0, None, (19.0, 20.0, 21.0)), NONE, NONE, NONE, NONE, NONE, "repeats",
        gaussian(length_px, width_px),
    )  # fmt: skip


def sky_zone(place, length_px, width_px=None, trail=(4.0, 0.0), err=0.03, stars=40):
    row, column, x, y = CELLS[place]
    width = width_px or length_px
    return Zone(
        row, column, x, y, radius(x, y), stars, length_px=length_px,
        length_px_err=err * length_px, width_px=width, width_px_err=err * width,
        trail_expected_px=trail, trail_seen_px=trail, image=gaussian(length_px, width_px, fine=4),
    )  # fmt: skip


def setting(name):
    return LensSetting("Loan body", name, 24.0, 2.0)


def case(sizes):
    """Make bench and sky of lens -> place -> (bench, sky) sizes."""
    results = tuple(
        SettingResult(setting(name), tuple(bench_zone(p, b) for p, (b, _) in places.items()))
        for name, places in sizes.items()
    )
    frames = tuple(
        SkyFrame(
            f"sky/{name}.dng", setting(name), tuple(sky_zone(p, s) for p, (_, s) in places.items())
        )
        for name, places in sizes.items()
    )
    return results, frames


def test_a_planted_ratio_comes_back_with_its_interval():
    (result,), (frame,) = case({"Wren": {"centre": (5.0, 6.0)}})
    (proof,) = compare_bench_and_sky([result], [frame], BODY).settings
    (place,) = proof.places
    assert place.bench_px == pytest.approx(5.0, rel=5e-3)
    assert place.sky_px == pytest.approx(6.0, rel=5e-3)
    assert place.ratio.value == pytest.approx(1.2, rel=5e-3)
    # By hand: the bench's ln-scatter of 0.98, 1, 1.02 is 0.0200 with 2 degrees of freedom, over
    # the root of 3; the sky's error 0.03 counts as known. Satterthwaite: (0.0001333 +
    # 0.0009)^2 / (0.0001333^2 / 2) = 120 degrees, t = 1.980.
    half = 1.980 * math.sqrt(0.02**2 / 3 + 0.03**2)
    assert math.log(place.ratio.high / place.ratio.value) == pytest.approx(half, rel=0.01)
    assert place.ratio.high / place.ratio.value == pytest.approx(
        place.ratio.value / place.ratio.low
    )
    assert place.differs == 1


def redrawn_size(place, ratio, err=0.03, stars=40):
    return RedrawnSize(place, stars, math.log(ratio), err, 30.0, 7.0, 7.0 * ratio)


def test_stars_drawn_alike_stand_beside_the_lens_alone_and_decide_what_differs():
    (result,), (frame,) = case({"Wren": {"centre": (5.0, 5.0)}})
    (proof,) = compare_bench_and_sky(
        [result], [replace(frame, redrawn_sizes=(redrawn_size("centre", 1.2),))], BODY
    ).settings
    (place,) = proof.places
    assert place.ratio.value == pytest.approx(1.0, rel=5e-3)
    assert place.as_measured_ratio.value == pytest.approx(1.2)
    assert (place.as_measured_bench_px, place.as_measured_sky_px) == pytest.approx((7.0, 8.4))
    assert place.as_measured_stars == 40
    assert (place.differs, place.lens_alone_differs) == (1, 0)
    # A bench error of 0.02 / sqrt(3) counts by the lens's share of the trailed area, 25 / 49; the
    # stars' 0.03 has 30 degrees of freedom: t = 2.02 for the 38 of both together.
    half = 2.02 * math.hypot(0.02 / math.sqrt(3) * 25 / 49, 0.03)
    assert math.log(place.as_measured_ratio.high / 1.2) == pytest.approx(half, rel=0.02)


def test_a_place_without_a_zone_is_compared_by_its_stars_alone():
    (result,), (frame,) = case({"Wren": {"centre": (5.0, 5.0)}})
    frame = replace(frame, zones=(), redrawn_sizes=(redrawn_size("centre", 1.0),))
    (proof,) = compare_bench_and_sky([result], [frame], BODY).settings
    assert proof.places[0].compared
    assert proof.places[0].ratio is None
    reason = proof.places[0].reason
    assert reason == PlaceReason(PlaceReasonCode.ZONE_NOT_MEASURED)
    assert place_reason_words(reason) == "no zone of the sky there was measured"


def test_the_sky_s_size_is_carried_to_the_bench_s_place_by_the_zones_beside_it():
    result = SettingResult(setting("Wren"), (bench_zone("corner", 6.0),))
    # ln(size) falls by 0.2 from the corner's zone to each of its neighbours inward.
    corner = sky_zone("corner", 6.0)
    right = replace(corner, column=1, x_px=449.5, length_px=6 * math.exp(-0.2))
    right = replace(right, width_px=right.length_px)
    below = replace(right, column=0, row=1, x_px=149.5, y_px=499.5)
    frame = SkyFrame("a", setting("Wren"), (corner, right, below))
    (place,) = compare_bench_and_sky([result], [frame], BODY).settings[0].places
    # The place is 0.5 px right of the zone's middle and 16.2 px above it, of 333.3 px.
    change = -0.2 * 0.5 / 300 + 0.2 * 16.2 / 333.3
    assert place.sky_px == pytest.approx(6 * math.exp(change), rel=1e-3)


def test_round_spots_are_compared_by_the_root_of_length_times_width():
    result = SettingResult(setting("Wren"), (bench_zone("centre", 6.0, 3.0),))
    long = SkyFrame("a", setting("Wren"), (sky_zone("centre", 6.0, 3.0),))
    round_ = SkyFrame("a", setting("Wren"), (sky_zone("centre", 6.0, 6.0),))
    (place,) = compare_bench_and_sky([result], [long], BODY).settings[0].places
    assert place.bench_px == pytest.approx(6.0, rel=5e-3)
    (place,) = compare_bench_and_sky([result], [round_], BODY).settings[0].places
    assert place.bench_px == pytest.approx(math.sqrt(18), rel=5e-3)


def test_the_scatter_of_frames_widens_the_interval_and_is_pooled():
    result = SettingResult(setting("Wren"), (bench_zone("centre", 5.0), bench_zone("corner", 5.0)))
    alike = [
        SkyFrame(n, setting("Wren"), (sky_zone("centre", 5.0), sky_zone("corner", 5.0)))
        for n in "abc"
    ]
    apart = [
        SkyFrame(n, setting("Wren"), (sky_zone("centre", s), sky_zone("corner", 5.0)))
        for n, s in (("a", 4.0), ("b", 5.0), ("c", 6.2))
    ]
    one, other = (
        compare_bench_and_sky([result], f, BODY).settings[0].places[0] for f in (alike, apart)
    )
    assert (one.frames, one.stars) == (3, 120)
    assert one.sky_log_err == pytest.approx(0.03 / math.sqrt(3))
    assert one.sky_freedom == math.inf
    # Two places with two degrees of freedom each, one of them without any scatter.
    pooled = math.sqrt(np.log([4.0, 5.0, 6.2]).var(ddof=1) / 2)
    assert other.sky_log_err == pytest.approx(pooled / math.sqrt(3), rel=0.02)
    assert other.sky_freedom == 4
    assert other.ratio.high > one.ratio.high


@pytest.mark.parametrize(
    ("sizes", "verdict"),
    [
        (
            {"Wren": (4, 4.2), "Dipper": (6, 6.3), "Pipit": (9, 9)},
            "the bench order holds, judged at centre",
        ),
        (
            {"Wren": (4, 12.0), "Dipper": (6, 6.3), "Pipit": (9, 9)},
            "the bench order holds but for Wren, 24 mm, f/2, judged at centre",
        ),
        (
            {"Wren": (9, 4.0), "Dipper": (6, 6.0), "Pipit": (4, 9)},
            "the bench order does not hold: the sky contradicts it for",
        ),
        (
            {"Wren": (4, 4.0), "Dipper": (4.04, 4.0), "Pipit": (4.08, 4)},
            "can't tell: the settings lie closer together than the errors of bench and sky",
        ),
        (
            {"Wren": (4, 4.0), "Pipit": (9, 9.0)},
            "can't tell: 2 settings have both bench and sky: too few to tell an order",
        ),
    ],
)
def test_verdicts(sizes, verdict):
    results, frames = case({name: {"centre": pair} for name, pair in sizes.items()})
    assert verdict_words(compare_bench_and_sky(results, frames, BODY).verdict).startswith(verdict)


def test_pairs_that_disagree_are_named():
    results, frames = case(
        {n: {"centre": p} for n, p in {"A": (4, 12.0), "B": (6, 6.3), "C": (9, 9)}.items()}
    )
    proof = compare_bench_and_sky(results, frames, BODY)
    assert proof.pairs_against == ((setting("A"), setting("B")), (setting("A"), setting("C")))
    assert (proof.pairs_held, proof.pairs_open) == (1, ())
    # One pair of three in the same order, two in the other.
    assert proof.tau.value == pytest.approx(-1 / 3)


def test_no_frame_is_dropped_and_what_is_missing_is_named():
    results, frames = case({"Wren": {"centre": (5.0, 50.0)}, "Pipit": {"centre": (5.0, 5.0)}})
    lost = SkyFrame("sky/cloud.dng", None, reason=FrameReason(FrameReasonCode.NOT_SOLVED))
    proof = compare_bench_and_sky(results, [frames[0], lost], BODY)
    assert [frame.file for frame in proof.frames] == ["sky/Wren.dng", "sky/cloud.dng"]
    assert proof.not_on_sky == (setting("Pipit"),)


def test_what_can_not_be_compared_has_a_reason_and_no_number():
    good = bench_zone("corner", 5.0)
    limit = replace(bench_zone("centre", 3.0), length_px=Combined(None, None, at_most=2.9))
    untested = replace(
        sky_zone("corner", 5.0),
        length_px=None,
        image=None,
        stars=2,
        reason=ZoneReason.TOO_FEW_STARS,
    )
    frame = SkyFrame("a", setting("Wren"), (sky_zone("centre", 5.0), untested))
    (proof,) = compare_bench_and_sky(
        [SettingResult(setting("Wren"), (limit, good))], [frame], BODY
    ).settings
    first, second = (place.reason for place in proof.places)
    assert first == PlaceReason(PlaceReasonCode.BENCH_AT_LIMIT, at_most_px=2.9)
    assert place_reason_words(first) == "at limit on the bench (at most 2.9 px): no ratio"
    assert place_reason_words(second) == (
        "no zone of the sky there was measured (2 single unclipped stars stand out here; it takes "
        "five clear ones)"
    )
    assert all(place.ratio is None for place in proof.places)
    assert (proof.bench_worst, proof.causes) == (None, ())


def test_a_zone_in_another_part_of_the_frame_stands_in_and_says_so():
    result = SettingResult(setting("Wren"), (bench_zone("corner", 5.0),))
    other = replace(sky_zone("corner", 6.0), x_px=1349.5, y_px=832.8, column=4, row=2)
    (place,) = (
        compare_bench_and_sky([result], [SkyFrame("a", setting("Wren"), (other,))], BODY)
        .settings[0]
        .places
    )
    assert place.zone_kind == "elsewhere"
    assert place.ratio.value == pytest.approx(1.2, rel=5e-3)


def place_by(*zones):
    result = SettingResult(setting("Wren"), (bench_zone("centre", 5.0),))
    frames = [SkyFrame("a", setting("Wren"), zones)]
    return compare_bench_and_sky([result], frames, BODY).settings[0].places[0]


def test_a_zone_beside_the_place_and_joined_zones_are_told():
    held = place_by(sky_zone("centre", 5.0))
    assert (held.zone_kind, held.zone_joined) == ("here", False)
    assert held.zone_away_percent == pytest.approx(0.0)
    # The column to the right: 300 px of a height of 1000 px.
    beside = place_by(replace(sky_zone("centre", 5.0), column=3, x_px=1049.5))
    assert (beside.zone_kind, beside.zone_away_percent) == ("beside", pytest.approx(30.0))
    joined = place_by(replace(sky_zone("centre", 5.0), column=1, columns=2, x_px=599.5))
    assert (joined.zone_kind, joined.zone_joined) == ("here", True)
    # One that holds the place goes before one whose middle is nearer.
    both = place_by(
        replace(sky_zone("centre", 9.0), row=0, y_px=166.2),
        replace(sky_zone("centre", 5.0), column=1, columns=2, x_px=599.5),
    )
    assert both.sky_px == pytest.approx(5.0)


def test_growth_of_the_error_when_a_size_is_carried():
    # A corner's neighbour to the right, a quarter of a zone away from it: by hand, ln(size) is
    # that of the corner plus a quarter of the difference, so 1.25 and 0.25 of equal errors.
    corner, result = sky_zone("corner", 6.0), bench_zone("corner", 6.0)
    corner = replace(corner, x_px=225.0, y_px=150.0)
    right = replace(corner, column=1, x_px=525.0, length_px=6.6, width_px=6.6)
    frame = SkyFrame("a", setting("Wren"), (corner, right))
    proof = compare_bench_and_sky([SettingResult(setting("Wren"), (result,))], [frame], BODY)
    (place,) = proof.settings[0].places
    assert place.sky_px == pytest.approx(6.0 * 1.1**-0.25, rel=1e-6)
    assert place.sky_log_err == pytest.approx(0.03 * math.hypot(1.25, 0.25), rel=1e-6)


def test_few_repeats_take_student_s_t_in_the_ratio():
    # One place, three repeats, a sky that is known: 2 degrees of freedom, t = 4.303 (any handbook
    # of statistics), not 1.96.
    result = SettingResult(setting("Wren"), (bench_zone("centre", 5.0),))
    frame = SkyFrame("a", setting("Wren"), (sky_zone("centre", 5.0, err=1e-6),))
    (place,) = compare_bench_and_sky([result], [frame], BODY).settings[0].places
    half = 4.303 * 0.02 / math.sqrt(3)
    assert math.log(place.ratio.high / place.ratio.value) == pytest.approx(half, rel=0.01)
    assert math.log(place.bench_span.high / place.bench_px) == pytest.approx(half, rel=0.01)


def test_the_sky_is_ranked_by_its_own_largest_place():
    results, frames = case({"Wren": {"centre": (6.0, 9.0), "corner": (8.0, 7.0)}})
    (one,) = compare_bench_and_sky(results, frames, BODY).settings
    assert (one.bench_worst.place, one.sky_worst.place) == ("corner", "centre")


def three(wren_corner, seen=True):
    """Make settings whose order by the corner is Lark, Finch, Wren, by the centre Wren first."""
    sizes = {
        "Lark": {"centre": (5.0, 5.0), "corner": (6.0, 6.0)},
        "Finch": {"centre": (7.0, 7.0), "corner": (8.0, 8.0)},
        "Wren": {"centre": (4.0, 4.0), "corner": (wren_corner, wren_corner)},
    }
    results, frames = case(sizes)
    if not seen:
        frames = (*frames[:2], replace(frames[2], zones=frames[2].zones[:1]))
    return compare_bench_and_sky(results, frames, BODY)


def test_the_order_rests_on_places_that_all_settings_share():
    whole = three(12.0)
    assert verdict_words(whole.verdict) == "the bench order holds, judged at centre and corner"
    assert whole.shared_places == ("centre", "corner")
    # Wren's corner, the largest of all, is not on the sky: no order of corners beside a centre.
    lost = three(12.0, seen=False)
    assert lost.shared_places == ("centre",)
    assert [one.bench_worst.place for one in lost.settings] == ["centre"] * 3
    assert lost.verdict.undecided
    assert verdict_words(lost.verdict) == (
        "can't tell: corner of Finch, 24 mm, f/2; corner of Lark, 24 mm, f/2; corner of Wren, "
        "24 mm, f/2, largest on the bench, has no size on the sky with every setting; judged at "
        "centre alone, the bench order holds"
    )


def test_a_place_that_is_not_larger_on_the_bench_is_not_missed():
    sizes = {
        n: {"centre": (s, s), "corner": (3.5, 3.5)} for n, s in zip("ABC", (4, 6, 9), strict=1)
    }
    results, frames = case(sizes)
    frames = (replace(frames[0], zones=frames[0].zones[:1]), *frames[1:])
    proof = compare_bench_and_sky(results, frames, BODY)
    assert verdict_words(proof.verdict) == "the bench order holds, judged at centre"
    # Nor is one that is larger by less than the bench can tell: 1 % of 2 % a frame.
    sizes = {
        n: {"centre": (s, s), "corner": (1.01 * s, s)} for n, s in zip("ABC", (4, 6, 9), strict=1)
    }
    results, frames = case(sizes)
    frames = (replace(frames[0], zones=frames[0].zones[:1]), *frames[1:])
    assert (
        verdict_words(compare_bench_and_sky(results, frames, BODY).verdict)
        == "the bench order holds, judged at centre"
    )


def test_settings_without_a_common_place_have_no_order():
    results, frames = case({n: {"centre": (5, 5.0), "corner": (8, 8.0)} for n in "ABC"})
    frames = (
        replace(frames[0], zones=frames[0].zones[:1]),
        replace(frames[1], zones=frames[1].zones[1:]),
        frames[2],
    )
    assert verdict_words(compare_bench_and_sky(results, frames, BODY).verdict) == (
        "can't tell: no place has a size on both bench and sky with every setting; A, 24 mm, f/2 "
        "has only centre"
    )


@pytest.mark.parametrize("names", ["ABC", "BAC", "CBA", "CAB"])
def test_the_verdict_does_not_hang_on_names(names):
    # One pair contradicted, clearly; the third setting far from both.
    pairs = dict(zip(names, ((4, 6.0), (5, 4.0), (12, 12)), strict=True))
    proof = compare_bench_and_sky(*case({n: {"centre": p} for n, p in pairs.items()}), BODY)
    one, other = sorted(names[:2])
    assert verdict_words(proof.verdict) == (
        f"the bench order holds but for the pair {one}, 24 mm, f/2 and {other}, 24 mm, f/2, "
        "judged at centre"
    )


@pytest.mark.parametrize(
    ("sizes", "cause"),
    [
        ({"centre": (5, 7.0), "corner": (8, 11.0)}, "focus: every place"),
        ({"centre": (5, 5.0), "corner": (8, 11.0)}, "distance or field curvature: only outer"),
        ({"centre": (7, 5.0), "corner": (11, 8.0)}, "the bench: every place is smaller"),
        ({"centre": (5, 3.5), "corner": (8, 8.0)}, "raw filtering of small stars"),
    ],
)
def test_causes_that_fit(sizes, cause):
    results, frames = case({"Wren": sizes})
    (proof,) = compare_bench_and_sky(results, frames, BODY).settings
    assert any(cause_words(found).startswith(cause) for found in proof.causes)


def test_causes_of_the_night_are_named_only_where_something_differs():
    results, frames = case({"Wren": {"centre": (5.0, 8.0)}})
    night = replace(
        frames[0], moved=True, conditions=(SkyLight.TWILIGHT, SkyLight.MOONLIGHT), clipped_share=0.2
    )
    causes = compare_bench_and_sky(results, [night], BODY).settings[0].causes
    words = " / ".join(cause_words(cause) for cause in causes)
    for expected in ("trail: the camera moved", "moonlight and twilight", "clipped stars left out"):
        assert expected in words
    results, frames = case({"Wren": {"centre": (5.0, 5.0)}})
    assert (
        compare_bench_and_sky(results, [replace(frames[0], moved=True)], BODY).settings[0].causes
        == ()
    )
