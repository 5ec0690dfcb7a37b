"""The working ISO of a body."""

import pytest

from nightglass.gear.body import Body
from nightglass.light.defaults import READ_NOISE
from nightglass.light.iso import read_noise_at, working_iso

NOISE = {200: 9.0, 800: 4.0, 1600: 3.0, 3200: 2.5}


def test_lowest_iso_whose_read_noise_no_longer_counts():
    body = Body("loan", 6.05, 3872, 2592, read_noise_e=NOISE, second_gain_iso=800)
    # Read noise of 3 e lengthens by 5 % on 87.8 e of sky; 4 e on 156 e.
    assert working_iso(body, 87.9).iso == 1600
    assert working_iso(body, 87.7).iso == 3200
    found = working_iso(body, 157.0)
    assert found.iso == 800
    assert "4 e on 157 e of sky, 5.0 %" in found.reason
    assert working_iso(body, 1e5).iso == 200


def test_second_gain_when_nothing_is_low_enough_or_known():
    body = Body("loan", 6.05, 3872, 2592, read_noise_e=NOISE, second_gain_iso=800)
    found = working_iso(body, 10.0)
    assert (found.iso, "no step's read noise is low enough" in found.reason) == (800, True)
    unknown = Body("loan", 6.05, 3872, 2592, second_gain_iso=640)
    found = working_iso(unknown, 10.0)
    assert (found.iso, "read noise not known" in found.reason) == (640, True)


def test_lowest_read_noise_when_there_is_no_second_gain():
    found = working_iso(Body("loan", 6.05, 3872, 2592, read_noise_e=NOISE), 10.0)
    assert found.iso == 3200
    assert "still lengthens the noise by more than 5 %" in found.reason


def test_nothing_known_gives_none_and_says_why():
    found = working_iso(Body("loan", 6.05, 3872, 2592), 100.0)
    assert found.iso is None
    assert found.reason == "no read noise and no second gain in the file of loan"


def test_read_noise_at_an_iso():
    body = Body("loan", 6.05, 3872, 2592, read_noise_e=NOISE)
    assert read_noise_at(body, 800).electrons == 4.0
    between = read_noise_at(body, 1000)
    assert (between.electrons, between.source) == (4.0, "body file, ISO 800 (none given for 1000)")
    assert read_noise_at(body, 100).electrons == READ_NOISE.value
    assert read_noise_at(body, None).source.startswith("default: ")


def test_bad_input():
    with pytest.raises(ValueError, match="sky_e is -1; sky electrons per sample can't be negative"):
        working_iso(Body("loan", 6.05, 3872, 2592), -1)
