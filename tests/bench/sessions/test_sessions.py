"""Drift and sessions: planted changes come back, are taken out, and their errors go along."""

import dataclasses
import math
from datetime import datetime, timedelta

import numpy as np
import pytest
from bench_fakes import BENCH_TOML, HEIGHT_PX, WIDTH_PX

from nightglass.bench.codes import BenchNoteCode
from nightglass.bench.combined.stamp import magnified
from nightglass.bench.store.rows import FrameOnRecord
from nightglass.bench.store.store import Store
from nightglass.bench.study.repeats import setting_results
from nightglass.bench.study.sessions import sessions_on_record
from nightglass.frame.record import Metadata
from nightglass.gear.bag import parse_bench
from nightglass.spot.record import Measured, Spot, SpotImage

START = datetime(2027, 5, 6, 20)
A_YEAR = 24 * 365.0
WITH_REFERENCE = BENCH_TOML + '[plan]\nreference = "Wren"\n'


@pytest.fixture
def store():
    opened = Store("sqlite://", "")
    yield opened
    opened.close()


def keep(store, path, hours, size, f_number=2.8, x=1935.5, y=1295.5):
    recorded = Metadata(
        body="Loan body", lens="Wren", focal_mm=12.0, f_number=f_number, iso=800,
        exposure_true_s=0.5, taken_at=START + timedelta(hours=hours),
    )  # fmt: skip
    frame = FrameOnRecord(
        path, path, path, 1, 1, "measured", kind="mosaic", width_px=WIDTH_PX, height_px=HEIGHT_PX,
        metadata=recorded,
    )  # fmt: skip
    spot = Spot(
        path, "green", x_px=x, y_px=y, length_px=size, length_px_err=0.03 * size,
        length_px_err_noise=0.005 * size, width_px=0.8 * size, width_px_err=0.1, aperture_px=12.0,
        noise_area_px=0.9 * size**2, peak_share=0.5,
    )  # fmt: skip
    rows, columns = np.indices((41, 41))
    sigma = size / 3.29
    light = np.exp(-((columns - 20.0) ** 2 + (rows - 20.0) ** 2) / (2 * sigma**2))
    image = SpotImage(light.astype(np.float32), round(x) - 20, round(y) - 20)
    store.keep(frame, Measured((spot,), {"green": image}))


def session(store, rng, name, start, change, lenses, scatter=0.01, visits=3):
    """Reference (f/2.8, 6.2 px) at start, middle and end; others between, by f-number and size.

    change: ln of what all sizes are multiplied with, by the share of the session that has passed.
    """
    span = 3.0
    times = np.linspace(0, span, len(lenses) + visits)
    others, reference = list(lenses.items()), (2.8, 6.2)
    half = len(others) // 2 if visits > 2 else len(others)
    order = [reference, *others[:half], reference, *others[half:], reference][: len(times)]
    for number, (at, (f_number, size)) in enumerate(zip(times, order, strict=True)):
        for k in range(3):
            hours = at + 0.02 * k
            log = math.log(size) + change(hours / span) + rng.normal(0, scatter)
            keep(store, f"{name} {number} {k}.dng", start + hours, math.exp(log), f_number)


def length_of(results, f_number):
    result = next(r for r in results if r.setting.f_number == f_number)
    return result, result.zones[0]


def test_drift_over_a_session_is_found_taken_out_and_said(store):
    lenses = {4.0: 5.1, 5.6: 4.7, 8.0: 4.3, 11.0: 4.9}
    session(store, np.random.default_rng(1), "a", 0.0, lambda t: 0.10 * (t - 0.5), lenses)
    bench = parse_bench(WITH_REFERENCE)
    (one,) = sessions_on_record(store, bench)
    assert one.name == "2027-05-06"
    assert one.hours == pytest.approx(3.04, abs=0.01)
    assert [s.f_number for s in one.reference] == [2.8]
    # ln 0.10 from end to end, on frames that scatter by 1 %.
    assert abs(one.drift.percent - 100 * math.expm1(0.10)) < 3 * one.drift.err_percent < 6
    assert one.drift.told
    results = setting_results(store, bench)
    for f_number, size in lenses.items():
        result, zone = length_of(results, f_number)
        assert zone.length_px.value == pytest.approx(size, rel=0.025)
        (note,) = (n for n in result.notes if n.code is BenchNoteCode.SESSION_DRIFTED)
        assert (note.session, note.percent) == ("2027-05-06", one.drift.percent)
        assert zone.shared.degrees_of_freedom >= 1
    # The first and the last lens were shot at the ends: their error by the drift is the largest.
    ends, middle = (abs(length_of(results, f)[1].shared.length[0]) for f in (4.0, 5.6))
    assert ends > middle


def test_a_session_without_frames_shot_again_is_left_as_it_is(store):
    rng = np.random.default_rng(2)
    for k in range(4):
        keep(store, f"{k}.dng", 0.1 * k, 6 * math.exp(rng.normal(0, 0.02)), 2.8 if k < 2 else 4.0)
    bench = parse_bench(WITH_REFERENCE)
    (one,) = sessions_on_record(store, bench)
    assert (one.drift, one.offset, one.reference, one.tied) == (None, None, (), True)
    for result in setting_results(store, bench):
        assert result.notes == ()
        assert result.zones[0].shared is None


def test_only_three_visits_make_a_reference_of_a_lens_that_nobody_named(store):
    rng = np.random.default_rng(3)
    session(store, rng, "a", 0.0, lambda t: 0.0, {4.0: 5.0, 5.6: 5.0}, visits=2)
    assert sessions_on_record(store, parse_bench(BENCH_TOML))[0].drift is None
    assert sessions_on_record(store, parse_bench(WITH_REFERENCE))[0].drift is not None


def test_a_lens_borrowed_a_year_later_stands_beside_the_old_ones(store):
    rng = np.random.default_rng(4)
    session(store, rng, "a", 0.0, lambda t: 0.0, {4.0: 5.0, 5.6: 4.6, 8.0: 4.2})
    session(store, rng, "b", A_YEAR, lambda t: 0.08, {11.0: 5.5, 16.0: 7.5})
    bench = parse_bench(WITH_REFERENCE)
    first, second = sessions_on_record(store, bench)
    assert (first.offset, first.against, second.against) == (None, None, first.name)
    assert abs(second.offset.percent - 100 * math.expm1(0.08)) < 3 * second.offset.err_percent
    assert second.offset.told
    assert first.tied
    assert second.tied
    results = setting_results(store, bench)
    borrowed, zone = length_of(results, 11.0)
    assert zone.length_px.value == pytest.approx(5.5, rel=0.03)
    codes = {note.code for note in borrowed.notes}
    assert BenchNoteCode.SESSION_OFFSET in codes
    # What was shot in the main session shares nothing of the offset's error with it.
    old = length_of(results, 4.0)[1]
    apart = math.dist(zone.shared.length, old.shared.length)
    assert apart > second.offset.err_percent / 100 * 0.9
    reference = length_of(results, 2.8)[0]
    assert reference.sessions == 2
    assert zone.stamp.sum() == pytest.approx(1.0, abs=1e-5)


def test_sessions_that_share_nothing_are_named_and_not_corrected(store):
    for k in range(3):
        keep(store, f"a{k}.dng", 0.1 * k, 6.0 + 0.1 * k, 2.8)
        keep(store, f"b{k}.dng", A_YEAR + 0.1 * k, 5.0 + 0.1 * k, 4.0)
    bench = parse_bench(BENCH_TOML)
    assert [one.tied for one in sessions_on_record(store, bench)] == [True, False]
    old, new = setting_results(store, bench)
    assert old.notes == ()
    assert [note.code for note in new.notes] == [BenchNoteCode.SESSION_NOT_TIED]
    assert new.zones[0].length_px.values == (5.0, 5.1, 5.2)


def test_visits_that_scatter_beyond_their_repeats_count_with_their_own_scatter(store):
    rng = np.random.default_rng(5)
    for visit in range(8):
        moved = 0.08 * (-1) ** (visit // 2) * (1 + visit % 2 / 2)
        for k in range(3):
            size = 6 * math.exp(moved + rng.normal(0, 0.01))
            keep(store, f"{visit} {k}.dng", visit * 0.4 + 0.02 * k, size, 2.8)
            keep(store, f"o{visit} {k}.dng", visit * 0.4 + 0.2 + 0.02 * k, 5.0, 4.0 + visit)
    bench = parse_bench(WITH_REFERENCE)
    (one,) = sessions_on_record(store, bench)
    assert one.visit_percent == pytest.approx(10.5, abs=3)
    assert one.drift.err_percent > 5


def test_a_stamp_is_magnified_with_its_light_and_its_place():
    y, x = np.indices((41, 41)) - 20.0
    stamp = np.exp(-(x**2 / 2 / 2.5**2 + y**2 / 2 / 1.7**2)).astype(np.float32)
    stamp /= stamp.sum()
    for times in (0.93, 1.08):
        wide = magnified(stamp, times)
        yy, xx = np.indices(wide.shape) - wide.shape[0] // 2
        assert wide.sum() == pytest.approx(1.0, abs=1e-5)
        assert (wide * xx).sum() == pytest.approx(0.0, abs=1e-4)
        assert math.sqrt((wide * xx**2).sum()) == pytest.approx(2.5 * times, rel=0.005)
        assert math.sqrt((wide * yy**2).sum()) == pytest.approx(1.7 * times, rel=0.01)
    assert magnified(stamp, 1.0) is stamp


def test_a_bound_at_limit_stays_as_it_was(store):
    rng = np.random.default_rng(6)
    session(store, rng, "a", 0.0, lambda t: 0.1 * t, {4.0: 5.0, 5.6: 5.0})
    path = "limit.dng"
    frame = FrameOnRecord(
        path, path, path, 1, 1, "measured", kind="mosaic", width_px=WIDTH_PX, height_px=HEIGHT_PX,
        metadata=dataclasses.replace(
            Metadata(body="Loan body", lens="Wren", f_number=16.0),
            taken_at=START + timedelta(hours=2.9),
        ),
    )  # fmt: skip
    spot = Spot(path, "green", x_px=1935.5, y_px=1295.5, length_at_most_px=3.1, flags=("at limit",))
    store.keep(frame, Measured((spot,), {}))
    results = setting_results(store, parse_bench(WITH_REFERENCE))
    assert length_of(results, 16.0)[1].length_px.at_most == 3.1
    assert length_of(results, 16.0)[1].shared is None
