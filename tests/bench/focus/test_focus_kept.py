"""Wavefronts of focus series: kept until something changes, signs as the marks run."""

import dataclasses

import pytest
from bench_fakes import BENCH_TOML

from nightglass.bench.focus.records import Value, WavefrontFault, WavefrontFit
from nightglass.bench.study import focus, listed
from nightglass.bench.study.focus import FOCUS, wavefronts_on_record
from nightglass.gear.bag import parse_bench

MARKS = (1.0, 2.0, 3.0, 4.0, 5.0, 6.0, 7.0)
FIT = WavefrontFit({8: Value(0.1, 0.01), 11: Value(-0.2, 0.02)}, Value(0.3, 0.01), Value(4, 1), 1.0)


@pytest.fixture
def fitted(monkeypatch, planted):
    """A bench with two series; returns what is asked of it and how often a fit was made."""
    planted.series(MARKS, 4.0)
    planted.series(MARKS, 4.4, name="b", rules='place = "corner"\n')
    calls = []

    def wavefront_of(place, images, bench):
        calls.append(place.place)
        return FIT if place.at_centre else WavefrontFit(fault=WavefrontFault.OFF_CENTRE)

    monkeypatch.setattr(focus, "wavefront_of", wavefront_of)
    monkeypatch.setattr(focus, "open_store", lambda bench: planted.store)
    monkeypatch.setattr(planted.store, "close", lambda: None)
    return planted, calls


def spherical(planted, towards=None, bench=None):
    bench = bench or planted.bench()
    return wavefronts_on_record(planted.report(), bench, towards)[0][1].terms[11].value


def test_fits_are_kept_and_take_their_signs_from_what_is_said(fitted):
    planted, calls = fitted
    assert spherical(planted) == 0.2
    made = len(calls)
    assert (spherical(planted, "infinity"), spherical(planted, "near")) == (-0.2, 0.2)
    assert len(calls) == made
    typed = BENCH_TOML.replace("[[lens]]", '[[lens]]\nfocus_marks_toward = "infinity"', 1)
    assert spherical(planted, bench=parse_bench(typed + "".join(planted.rules))) == -0.2
    assert len(calls) == 2 * made


def test_measuring_leaves_the_fits_to_whoever_asks():
    assert FOCUS in listed.STUDIES
    assert FOCUS.when_asked
    assert dataclasses.replace(FOCUS, name="other").table is FOCUS.table
