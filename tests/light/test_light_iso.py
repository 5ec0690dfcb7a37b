"""The working ISO of a body."""

import math

import pytest

from nightglass.gear.body import Body
from nightglass.light.defaults import READ_NOISE
from nightglass.light.iso import IsoReason, NoiseSource, read_noise_at, working_iso
from nightglass.show.iso_words import iso_reason_words, read_noise_words

NOISE = {200: 9.0, 800: 4.0, 1600: 3.0, 3200: 2.5}


def body_of(**more):
    return Body("loan", 6.05, 3872, 2592, **more)


def test_lowest_step_within_five_percent_of_the_best_total_noise():
    body = body_of(read_noise_e=NOISE)
    # Best step: 2.5 e. With S of sky, 4 e stays within 5 % where
    # (S + 16) / (S + 6.25) <= 1.1025, so from S = 88.87 on; 9 e from 722.9, 3 e from 20.6 on.
    for sky_e, iso in ((89.0, 800), (88.7, 1600), (20.7, 1600), (20.5, 3200), (724, 200)):
        assert working_iso(body, sky_e).iso == iso
    found = working_iso(body, 89.0)
    best = math.sqrt(89.0 + 2.5**2)
    assert found.noise_over_best_percent == pytest.approx(100 * (math.sqrt(89.0 + 16) / best - 1))
    assert (found.next_iso, found.next_costs_stops) == (1600, 1.0)
    assert found.reason is IsoReason.LOW_NOISE
    assert iso_reason_words([found]) == (
        "5.0 % over the least noise under this sky; ISO 1600 would cost 1 stop of headroom in "
        "bright stars"
    )


def test_the_highest_step_has_no_next_one():
    found = working_iso(body_of(read_noise_e=NOISE), 1.0)
    assert (found.iso, found.next_iso, found.next_costs_stops) == (3200, None, None)
    assert iso_reason_words([found]) == "the least noise of all steps under this sky"


def test_without_read_noise_the_second_gain_and_without_both_nothing():
    found = working_iso(body_of(second_gain_iso=640), 10.0)
    assert (found.iso, found.reason) == (640, IsoReason.SECOND_GAIN)
    nothing = working_iso(body_of(), 100.0)
    assert (nothing.iso, nothing.reason) == (None, IsoReason.NOT_KNOWN)
    assert iso_reason_words([nothing]) == (
        "read noise not known: nightglass sensor measures it from dark and evenly lit frames"
    )


def test_read_noise_at_an_iso():
    body = body_of(read_noise_e=NOISE)
    assert read_noise_at(body, 800).electrons == 4.0
    between = read_noise_at(body, 1000)
    assert (between.electrons, between.source, between.iso) == (4.0, NoiseSource.LOWER_STEP, 800)
    assert read_noise_at(body, 100).electrons == READ_NOISE.value
    assert read_noise_at(body, None).source is NoiseSource.DEFAULT


def test_bad_input():
    with pytest.raises(ValueError, match="sky_e is -1; sky electrons per sample can't be negative"):
        working_iso(body_of(), -1)


def test_measured_steps_are_told_from_typed_ones():
    body = body_of(read_noise_e=NOISE, read_noise_err_e={800: 0.05, 1600: 0.04})
    at = {iso: read_noise_at(body, iso) for iso in (200, 800, 1000)}
    assert [one.source for one in at.values()] == [
        NoiseSource.BODY_FILE, NoiseSource.MEASURED, NoiseSource.MEASURED_LOWER_STEP,
    ]  # fmt: skip
    assert [one.err_e for one in at.values()] == [None, 0.05, 0.05]
    assert [read_noise_words(one, iso) for iso, one in at.items()] == [
        "bench.toml, ISO 200", "measured, ISO 800", "measured, ISO 800 (not measured for 1000)",
    ]  # fmt: skip
