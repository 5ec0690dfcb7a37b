"""Places at equal radius held against each other: planted sides, repeats, bad input."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import stats

from nightglass.bench.combined.combine import Repeats, combine
from nightglass.bench.faults.copies import CopyReason, CopyVerdict, copies_of
from nightglass.bench.faults.power import chance_to_find, ratio_found
from nightglass.bench.records import Combined, SettingResult, ZoneResult
from nightglass.gear.body import Body
from nightglass.gear.lens import LensSetting

BODY = Body("Loan body", pitch_um=6.05, width_px=3872, height_px=2592)
SIDES = {"top left": (-1, -1), "top right": (1, -1), "bottom left": (-1, 1), "bottom right": (1, 1)}
HALF = math.hypot(BODY.width_px, BODY.height_px) / 2


def zone(place, side, lengths, at_most=None):
    x, y = side[0] * 0.44 * BODY.width_px, side[1] * 0.44 * BODY.height_px
    none = Combined(None, None)
    length = combine(Repeats(tuple(lengths))) if len(lengths) else Combined(None, None, at_most)
    return ZoneResult(
        place, x + 1935.5, y + 1295.5, math.hypot(x, y) / HALF, max(len(lengths), 1), 0, 0, length,
        *[none] * 10, "repeats",
    )  # fmt: skip


def setting_of(zones, f_number=2.0):
    return SettingResult(LensSetting("Loan body", "Wren", 12.0, f_number), tuple(zones))


def corners(lengths, scatter=0.1, repeats=4, seed=1, centre=5.0):
    rng = np.random.default_rng(seed)
    zones = [zone("centre", (0, 0), centre * np.exp(rng.normal(0, scatter, repeats)))]
    return zones + [
        zone(name, SIDES[name], length * np.exp(rng.normal(0, scatter, repeats)))
        for name, length in lengths.items()
    ]


def one(zones):
    return copies_of([setting_of(zones)], BODY)[setting_of(zones).setting]


def test_a_planted_side_is_found_and_named():
    lengths = {"top left": 8, "bottom left": 8, "top right": 12, "bottom right": 12}
    found = one(corners(lengths))
    assert found.verdict is CopyVerdict.UNEVEN
    assert found.chance < 0.01
    assert found.worst_place in ("top right", "bottom right")
    assert found.best_place in ("top left", "bottom left")
    assert abs((found.softer_toward_degrees + 180) % 360 - 180) < 25
    several = [one(corners(lengths, seed=k)).scatter_percent for k in range(40)]
    assert math.sqrt(np.mean(np.square(several))) == pytest.approx(10, rel=0.1)


def test_f_test_by_a_general_library():
    """One ring without an aim error: the one-way analysis of variance of ln(length)."""
    zones = corners({"top left": 800, "bottom left": 850, "top right": 900, "bottom right": 950})
    logs = [np.log(z.length_px.values) for z in zones[1:]]
    chance = one(zones).chance
    # Lengths of hundreds of pixels leave the method's 0.1 px nothing to say.
    assert chance == pytest.approx(stats.f_oneway(*logs).pvalue, rel=0.05)


def test_power_by_a_general_library():
    """scipy.stats.ncf, another code for the same distribution."""
    noncentrality = math.log(1.5) ** 2 / 2 / 0.0025
    reach = stats.f.ppf(0.95, 3, 12)
    assert chance_to_find(1.5, 0.0025, 3, 12, 0.05) == pytest.approx(
        stats.ncf.sf(reach, 3, 12, noncentrality), abs=1e-6
    )
    ratio = ratio_found(0.0025, 3, 12, 0.05)
    assert chance_to_find(ratio, 0.0025, 3, 12, 0.05) == pytest.approx(0.9, abs=1e-3)
    # No difference is found as often as a wrong alarm is raised.
    assert chance_to_find(1.0, 0.0025, 3, 12, 0.05) == pytest.approx(0.05, abs=1e-6)
    assert ratio_found(100.0, 1, 1, 0.01) is None
    with pytest.raises(ValueError, match=r"ratio 0.5 and variance 1: allowed are 1 and above 0"):
        chance_to_find(0.5, 1.0, 3, 12, 0.05)


@settings(max_examples=30, deadline=None)
@given(ratio=st.floats(1, 5), variance=st.floats(1e-4, 0.5), within=st.floats(1, 60))
def test_the_chance_to_find_grows_with_the_fault(ratio, variance, within):
    less, more = (chance_to_find(r, variance, 3, within, 0.05) for r in (ratio, 1.2 * ratio))
    assert 0.049 <= less <= more + 1e-6 <= 1 + 2e-6


def test_sound_lenses_are_seldom_called_uneven_and_faulty_ones_found():
    """The whole study: design/copies.py."""
    wrong = found = 0
    even = dict.fromkeys(SIDES, 8.0)
    bad = {**even, "bottom right": 12.0}
    for seed in range(300):
        several = [setting_of(corners(even, seed=[seed, k]), 2.0 + k) for k in range(3)]
        told = copies_of(several, BODY).values()
        wrong += any(c.verdict in (CopyVerdict.UNEVEN, CopyVerdict.SLIGHT) for c in told)
        found += one(corners(bad, seed=[seed, 9])).verdict is CopyVerdict.UNEVEN
    assert wrong <= 0.05 * 300 + 3 * math.sqrt(0.05 * 0.95 * 300)
    assert found >= 0.9 * 300


def test_the_stated_power_is_what_happens():
    scatter, repeats = 0.12, 3
    bad = {
        "top left": 8.0,
        "bottom right": 12.0,
        "top right": 8 * 1.5**0.5,
        "bottom left": 8 * 1.5**0.5,
    }
    told = [one(corners(bad, scatter, repeats, [seed, 4])) for seed in range(300)]
    happened = sum(c.chance <= 0.05 for c in told) / 300
    assert happened == pytest.approx(float(np.mean([c.power for c in told])), abs=0.09)


def test_a_place_aimed_farther_out_is_no_fault():
    """Coma: length goes with field radius."""
    zones = []
    for k, (name, side) in enumerate({"centre": (0, 0), **SIDES}.items()):
        out = 1.06 if name == "bottom right" else 1.0
        far = 12 * 0.88 * out if side[0] else 5.0
        rng = np.random.default_rng(k)
        zones.append(
            zone(name, (side[0] * out, side[1] * out), far * np.exp(rng.normal(0, 0.01, 4)))
        )
    assert one(zones).verdict is CopyVerdict.NONE_SHOWN
    assert one(zones).ratio > 1.04


def test_one_frame_a_place_tests_nothing_but_names_best_and_worst():
    found = one(corners({"top left": 8, "bottom right": 16}, repeats=1))
    assert (found.verdict, found.reason) == (CopyVerdict.NOT_TESTED, CopyReason.NO_REPEATS)
    assert (found.worst_place, found.best_place) == ("bottom right", "top left")
    assert found.chance is None


def test_centre_alone_and_one_corner_test_nothing():
    for names in ((), ("top left",)):
        found = one(corners(dict.fromkeys(names, 8.0)))
        assert (found.verdict, found.reason) == (CopyVerdict.NOT_TESTED, CopyReason.TOO_FEW_PLACES)
        assert found.ratio is None


def test_places_at_limit_count_with_what_is_known():
    sharp = zone("top left", SIDES["top left"], (), at_most=3.8)
    soft = corners({"top right": 9.0, "bottom left": 9.0, "bottom right": 9.0}, 0.05)
    found = one([sharp, *soft])
    assert (found.verdict, found.best_place) == (CopyVerdict.UNEVEN, "top left")
    assert found.at_least
    near = corners({"top right": 3.2, "bottom left": 3.2, "bottom right": 3.2}, 0.05)
    assert one([sharp, *near]).verdict is CopyVerdict.NONE_SHOWN
    every = [zone(name, side, (), at_most=3.8) for name, side in SIDES.items()]
    assert one(every).reason is CopyReason.AT_LIMIT


def test_lenses_answer_for_themselves():
    """A second lens with many settings does not change what is said of the first."""
    bad = setting_of(corners({"top left": 8, "bottom right": 12, "top right": 8, "bottom left": 8}))
    other = [
        SettingResult(
            LensSetting("Loan body", "Heron", 20.0, 2.0 + k),
            tuple(corners(dict.fromkeys(SIDES, 9.0), seed=k)),
        )
        for k in range(6)
    ]
    assert copies_of([bad, *other], BODY)[bad.setting] == copies_of([bad], BODY)[bad.setting]


def rolled(lens, room, scatter=0.06, seed=0):
    """Corners, two frames each way up; `lens` stays with the frame, `room` does not."""
    rng = np.random.default_rng([seed, 3])
    zones = []
    for name, side in SIDES.items():
        values = [
            8 * math.exp(lens * side[0] + way * room * side[0] + rng.normal(0, scatter))
            for way in (1, 1, -1, -1)
        ]
        zones.append(replace(zone(name, side, values), rolled=(False, False, True, True)))
    return zones


def test_turning_the_camera_tells_lens_from_bench():
    of_lens, of_bench = one(rolled(0.25, 0.0)), one(rolled(0.0, 0.25))
    assert (of_lens.verdict, of_lens.roll.bench_at_fault) == (CopyVerdict.UNEVEN, False)
    assert (of_bench.verdict, of_bench.roll.bench_at_fault) == (CopyVerdict.NONE_SHOWN, True)
    both = one(rolled(0.25, 0.25))
    assert (both.verdict, both.roll.bench_at_fault) == (CopyVerdict.UNEVEN, True)
    # Without knowing of the turn the bench's fault would only widen the scatter.
    blind = one([replace(z, rolled=()) for z in rolled(0.0, 0.25)])
    assert blind.roll is None
    assert blind.scatter_percent > 2 * of_bench.scatter_percent


def test_a_sound_bench_is_seldom_blamed():
    told = [one(rolled(0.0, 0.0, seed=k)) for k in range(200)]
    assert sum(c.roll.bench_at_fault for c in told) <= 0.05 * 200 + 3 * math.sqrt(0.05 * 0.95 * 200)
