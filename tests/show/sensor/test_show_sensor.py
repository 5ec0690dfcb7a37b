"""Words and picture of a sensor: every code has its sentence, the chart shows what it says."""

from __future__ import annotations

import dataclasses
import json
import re

import pytest

from nightglass.gear.benchfile import BenchFile
from nightglass.gear.body import Body
from nightglass.gear.lens import Lens, LensSetting
from nightglass.gear.sensorfile import Difference
from nightglass.light.iso import IsoReason, WorkingIso
from nightglass.sensor.codes import ALL_CODES, Finding, LeftOut, NotMet, Role
from nightglass.sensor.records import (
    UNKNOWN,
    ColourResult,
    IsoResult,
    Known,
    Pattern,
    Said,
    SensorReport,
    Taken,
)
from nightglass.show.sensor.chart import noise_chart
from nightglass.show.sensor.data import sensor_data
from nightglass.show.sensor.files import write_sensor_chart
from nightglass.show.sensor.numbers import with_error
from nightglass.show.sensor.sentences import setting_words
from nightglass.show.sensor.text import difference_lines, report_lines
from nightglass.show.sensor.words import CODES, FINDINGS, LEFT_OUT
from nightglass.verdict.sky_noise import SkyNoise, sky_noises

NOISES = {100: 6.1, 400: 4.5, 800: 1.9, 1600: 1.7}


def step(iso, noise, findings=()):
    gain = Known(3.1 * 100 / iso, 0.004)
    green = ColourResult(
        "green", 512.0, gain, noise, UNKNOWN, 16383.0, Known(49000.0 * 100 / iso, 60.0),
        UNKNOWN, UNKNOWN,
    )  # fmt: skip
    bands = Pattern("e", *[Known(0.1, 0.01)] * 5)
    return IsoResult(iso, (green,), 2, 6, 6, "data", bands, findings=findings)


def report(noises=NOISES, **more):
    steps = tuple(step(iso, Known(value, 0.01)) for iso, value in noises.items())
    taken = (
        Taken("a.dng", Role.BIAS, 800, 1 / 4000),
        Taken("b.dng", Role.DARK, 800, 32.0),
        Taken("c.dng", Role.LEFT_OUT, 800, 0.1, reason=LeftOut.ALONE),
    )
    given = {
        "body": "Loan body", "serial": "7", "isos": steps, "taken": taken,
        "second_gain_iso": 800, "findings": (), "not_met": tuple(NotMet),
    } | more  # fmt: skip
    return SensorReport(**given)


def bench(noises=NOISES):
    body = Body("Loan body", 6.0, 3000, 2000, read_noise_e=noises)
    return BenchFile(body, (Lens("Wren 12 mm f/2", 12.0, 12.0, 2.0, 2.0),))


def test_every_code_has_its_words_and_no_others():
    worded = [code for _, words in CODES for code in words]
    assert sorted(worded) == sorted(code.value for kind in ALL_CODES for code in kind)


def test_the_answer_comes_first_in_words_of_a_photographer():
    lines = list(report_lines(report(), sky_noises(bench()), ()))
    assert lines[0] == (
        "Beyond ISO 800 next to nothing is gained under your sky (less than 5 % of the noise)."
    )
    assert re.fullmatch(
        r"The sky alone makes \d+\.\d electrons of noise in a green pixel at the frame centre "
        r"\(Wren 12 mm, f/2, [\d.]+ s, the least of your lenses wide open\)\.",
        lines[1],
    )
    assert lines[2] == "The sensor's second gain begins at ISO 800."
    table = lines[4:9]
    assert " ".join(table[0].split()) == (
        "ISO read noise [e] electrons per count full scale [e] rows [e]"
    )
    assert table[3].split() == ["800", "1.900", "+-", "0.010", "0.388", "+-", "0.004", "6", "125",
                                "0.1"]  # fmt: skip
    text = "\n".join(lines)
    assert "Taken for ISO 800: 1 bias, 1 dark (32 s)" in text
    assert "  c.dng: no second frame of the same setting and light: take every level twice" in text
    assert "EMVA 1288, Release 3.1" in text


def test_without_a_bench_the_least_noise_is_named():
    lines = list(report_lines(report(), (), ()))
    assert lines[0] == (
        "Loan body reads with the least noise at ISO 1600 (1.70 electrons). Which ISO your sky "
        "needs takes a bench (nightglass new)."
    )


def test_one_step_says_nothing_of_others_and_none_says_so():
    one = list(report_lines(report({800: 1.9}, second_gain_iso=None), sky_noises(bench()), ()))
    assert one[0] == "Loan body: only ISO 800 was measured, so nothing is said of other steps."
    none = dataclasses.replace(report(), isos=(step(800, UNKNOWN),), second_gain_iso=None)
    assert next(iter(report_lines(none, (), ()))) == (
        "The read noise of Loan body could not be measured; what is missing stands below."
    )


def test_the_highest_step_is_named_when_it_still_gains():
    dark = bench({100: 60.0, 400: 20.0})
    lines = list(report_lines(report({100: 60.0, 400: 20.0}), sky_noises(dark), ()))
    assert lines[0] == "ISO 400, the highest step measured, is the one to set under your sky."


def test_findings_are_told_once_with_the_steps_that_share_them():
    said = (Said(Finding.NO_FLATS),)
    steps = tuple(step(iso, Known(2.0, 0.01), said) for iso in (400, 800))
    other = step(1600, Known(2.0, 0.01))
    lines = list(report_lines(report(isos=(*steps, other)), (), ()))
    assert f"ISO 400, 800: {FINDINGS[Finding.NO_FLATS]}" in lines
    lines = list(report_lines(report(isos=steps), (), ()))
    assert f"all steps: {FINDINGS[Finding.NO_FLATS]}" in lines


def test_what_bench_toml_says_otherwise_is_told():
    (line,) = difference_lines([Difference("read_noise_e", 800, 3.1, 2.62, 0.03)])
    assert line == (
        "bench.toml says read_noise_e = 3.1 at ISO 800, measured 2.62 +- 0.03: bench.toml counts; "
        "take it out there to use what was measured"
    )


@pytest.mark.parametrize(
    ("known", "words"),
    [
        (Known(2.6234, 0.031), "2.62 +- 0.03 e"),
        (Known(2.6234, 0.0021), "2.6234 +- 0.0021 e"),
        (Known(351.2, 12.0), "351 +- 12 e"),
        (Known(at_most=5.25), "at most 5.2 e"),
        (UNKNOWN, "not tested"),
    ],
)
def test_numbers_have_the_digits_that_their_error_allows(known, words):
    assert with_error(known, "e") == words


def test_plain_data_hold_codes_and_no_paths():
    data = json.loads(json.dumps(sensor_data(report(), sky_noises(bench()), (), ())))
    assert data["taken"][2]["reason"] == "alone"
    assert data["isos"][2]["colours"][0]["read_noise_e"] == {
        "value": 1.9, "err": 0.01, "at_most": None,
    }  # fmt: skip
    assert data["skies"][0]["working"]["iso"] == 800
    assert data["not_met"] == [code.value for code in NotMet]
    assert "path" not in data["taken"][0]


def test_the_chart_is_valid_and_shows_noise_sky_and_choice(tmp_path):
    skies = sky_noises(bench())
    spec = noise_chart(report(), skies).to_dict()
    drawn = json.dumps(spec)
    for words in ("read noise", "the sky's own noise", "both together", "Noise against ISO",
                  "Beyond ISO 800", "Wren 12 mm, f/2"):  # fmt: skip
        assert words in drawn
    files = list(write_sensor_chart(report(), skies, tmp_path / "out"))
    assert [path.name for path in files] == ["sensor_noise.svg", "sensor_noise.png"]
    assert files[0].read_text(encoding="utf-8").count("<text") > 8
    assert list(write_sensor_chart(report(isos=()), skies, tmp_path)) == []
    with pytest.raises(ValueError, match="no read noise was measured"):
        noise_chart(report(isos=()), skies)


def test_every_reason_to_leave_a_frame_out_says_what_to_do_or_why():
    assert set(LEFT_OUT) == set(LeftOut)
    assert all(len(words) > 20 or words == "{error}" for words in LEFT_OUT.values())


def test_the_long_end_of_a_zoom_is_said():
    setting = LensSetting("Loan body", "Dipper 11-18 mm f/2.8", 18.0, 2.8)
    sky = SkyNoise(setting, 20.16, 20.0, 9.0, WorkingIso(None, IsoReason.NOT_KNOWN), {})
    assert setting_words(sky) == "Dipper 11-18 mm, 18 mm, f/2.8, 20 s"
