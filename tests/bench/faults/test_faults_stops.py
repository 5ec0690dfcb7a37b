"""Blur over f-numbers: planted powers, what is taken off, what can't be told; lateral colour."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
from faulty_zones import spot_zone

from nightglass.bench.faults.colours import colours_of
from nightglass.bench.faults.report import find_faults
from nightglass.bench.faults.stops import (
    PIXEL_LENGTH,
    SOURCE_LENGTH,
    Cause,
    Stop,
    stops_finding,
)
from nightglass.bench.records import Combined, SettingResult
from nightglass.gear.body import Body
from nightglass.gear.dial import exact_f_number
from nightglass.gear.lens import LensSetting
from nightglass.optics.extent import extent
from nightglass.optics.wavefront import Pupil, blurred, samples_needed, seidel, spot

BODY = Body("Loan body", pitch_um=6.05, width_px=3872, height_px=2592)
MARKS = (1.4, 2.0, 2.8, 4.0)
SHAPES = {
    "line": {"line": 0.95, "round": 0.04, "one_sided": 0.01},
    "side": {"one_sided": 0.95, "round": 0.04, "line": 0.01},
    "round": {"round": 0.96, "line": 0.02, "one_sided": 0.02},
}


def falling(power, length_px=40.0, err=0.02, shapes=None, marks=MARKS):
    stops = []
    for mark in marks:
        exact = exact_f_number(mark)
        lens = length_px * (exact / exact_f_number(marks[0])) ** -power
        diffraction = 2.0 * 0.54 * exact / BODY.pitch_um
        seen = math.sqrt(lens**2 + PIXEL_LENGTH**2 + diffraction**2)
        stops.append(Stop(mark, exact, seen, err, shapes or {}))
    return stops_finding(12.0, "corner", stops, BODY.pitch_um)


@pytest.mark.parametrize(
    ("power", "shape", "cause"),
    [
        (1, "line", Cause.FIRST_POWER),
        (1, "round", Cause.FIRST_POWER),
        (2, "side", Cause.SECOND_POWER),
        (3, "round", Cause.THIRD_POWER),
    ],
)
def test_planted_powers_come_back(power, shape, cause):
    found = falling(power, shapes=SHAPES[shape])
    assert found.slope == pytest.approx(-power, abs=0.02)
    assert found.slope_low < -power < found.slope_high
    assert found.left_per_stop == pytest.approx(2 ** (-power / 2), rel=0.02)
    assert found.cause is cause
    assert found.probability >= 0.9


def test_lengths_alone_say_less():
    """Coma lies between the others: a mixture of both falls as it does."""
    assert falling(2).cause is Cause.CANT_TELL
    assert falling(1).cause is Cause.FIRST_POWER
    assert falling(2).slope == falling(2, shapes=SHAPES["side"]).slope


@pytest.mark.parametrize(
    ("terms", "power"),
    [
        (lambda x: seidel(w020_um=12.0 / x**2), 1),
        (lambda x: {8: 2.4 / x**3}, 2),
        (lambda x: {11: 2.6 / x**4}, 3),
    ],
    ids=["defocus", "coma", "spherical"],
)
def test_wavefronts_fall_as_the_theory_of_primary_aberrations_says(terms, power):
    """Transverse size as N^-1, N^-2, N^-3: telescope-optics.net, 3.5, and any text of optics."""
    stops = []
    for mark in (1.4, 2.0, 2.8):
        exact = exact_f_number(mark)
        pupil = Pupil(exact, terms(exact / exact_f_number(1.4)))
        step = 0.35
        light = blurred(spot(pupil, 0.54, step, samples_needed(pupil, step, 60.0)), step, 6.05)
        stops.append(Stop(mark, exact, extent(light, step / 6.05).length_px, 0.02))
    assert stops_finding(12.0, "corner", stops, 6.05).slope == pytest.approx(-power, abs=0.17)


def test_pixel_and_source_add_in_square_as_their_variances():
    """Standard deviations by the definition: a pixel 1 / root 12, an even disc a quarter."""
    assert pytest.approx(3.2897 / math.sqrt(12), rel=1e-4) == PIXEL_LENGTH
    assert pytest.approx(3.2897 / 4, rel=1e-4) == SOURCE_LENGTH
    stops = [Stop(n, n, math.hypot(30 / n, 3.2897 / 4 * 6.0), 0.02, {}, 6.0) for n in (1.5, 2, 3)]
    with_source = stops_finding(12.0, "corner", stops, 60.0)
    without = stops_finding(12.0, "c", [replace(s, source_px=0.0) for s in stops], 60.0)
    assert with_source.slope == pytest.approx(-1, abs=0.03)
    assert without.slope > with_source.slope + 0.1


def test_short_lengths_and_near_f_numbers_are_not_enough():
    assert falling(2, length_px=9.0).f_numbers == (1.4,)
    assert falling(2, length_px=9.0).cause is Cause.TOO_FEW
    assert falling(1, marks=(2.0, 2.2)).cause is Cause.TOO_FEW
    assert falling(1, marks=(2.0, 2.2)).slope is None
    assert stops_finding(12.0, "corner", [], 6.0).cause is Cause.TOO_FEW


def test_intervals_hold_the_planted_slope():
    rng = np.random.default_rng(5)
    held = 0
    for _ in range(300):
        stops = [
            Stop(n, n, 60 / n**2 * math.exp(rng.normal(0, math.hypot(0.03, 0.05))), 0.03)
            for n in (1.0, 1.414, 2.0, 2.828)
        ]
        found = stops_finding(12.0, "corner", stops, 1e4)
        held += found.slope_low < -2 < found.slope_high
    assert held / 300 >= 0.93


def bench_of(terms_at):
    results = []
    for mark in (2.0, 2.8, 4.0):
        x = exact_f_number(mark) / 2
        zone = spot_zone(Pupil(2 * x, terms_at(x)), refocused=True)
        results.append(SettingResult(LensSetting("Loan body", "Wren", 12.0, mark), (zone,)))
    return results


def test_a_comatic_lens_from_spots_to_finding():
    (lens,) = find_faults(bench_of(lambda x: {7: 1.6 / x**3, 8: 1.2 / x**3}), BODY)
    (found,) = lens.stops
    assert (found.cause, found.place, found.refocused) == (Cause.SECOND_POWER, "corner", True)
    assert found.left_per_stop == pytest.approx(0.5, abs=0.06)


def test_lateral_colour_is_shown_beyond_its_error_off_the_centre():
    (one,) = bench_of(lambda x: {8: 1.0})[:1]
    far = replace(
        one.zones[0],
        colour_offset_red_px=Combined(2.4, 0.2),
        colour_offset_blue_px=Combined(0.4, 0.2),
    )
    near = replace(far, place="centre", field_radius=0.01)
    (found,) = colours_of([replace(one, zones=(near, far))])
    assert (found.place, found.red_px, found.shown) == ("corner", 2.4, True)
    weak = replace(far, colour_offset_red_px=Combined(2.4, 1.0))
    assert not colours_of([replace(one, zones=(weak,))])[0].shown
    assert colours_of([one]) == ()
