"""Focus series in words, data and picture."""

import dataclasses
import json

import numpy as np
import pytest

from nightglass.bench.focus.best import best_of, depth_of
from nightglass.bench.focus.curve import Sizes, fit_curve
from nightglass.bench.focus.field import fields_of, shifts_of
from nightglass.bench.focus.records import (
    Astigmatism,
    AxisTurn,
    FocusReport,
    LeftOut,
    PlaceSeries,
    PositionSource,
    SeriesFault,
    SeriesFrame,
    Value,
    WavefrontFit,
)
from nightglass.cli.doors import finite
from nightglass.gear.lens import LensSetting
from nightglass.show.focus.chart import focus_chart, write_focus_chart
from nightglass.show.focus.data import focus_data
from nightglass.show.focus.text import no_series_line, report_lines, wavefront_line
from nightglass.show.focus.words import FAULTS, LEFT_OUT, SOURCES, value_words

WREN = LensSetting("Loan body", "Wren 12 mm f/2", 12, 2.8)
MARKS = np.arange(1.0, 8.0)


def place(name="centre", best=4.2, radius=0.02, gap=0.0, setting=WREN, **changes):
    curves, sizes = [], []
    for centre in (best + gap / 2, best - gap / 2):
        size = np.hypot(5.0, 2.0 * (MARKS - centre))
        sizes.append(size)
        curves.append(fit_curve(Sizes(MARKS, size, 0.02 * size, np.zeros(7, bool))))
    frames = tuple(
        SeriesFrame(f"{name} {m:g}.dng", m, max(a, b), 0.1, None, min(a, b), a, b, 0.0)
        for m, a, b in zip(MARKS.tolist(), *(s.tolist() for s in sizes), strict=True)
    )
    found = best_of(curves)
    plain = PlaceSeries(
        "wren focus", setting, name, radius, 0.0, radius < 0.15, PositionSource.MARKS, frames,
        best=found, depth=depth_of(found), radial=curves[0], tangential=curves[1],
        astigmatism=Astigmatism(AxisTurn.STAYS, Value(gap, 0.1)), um_per_mark=42.5,
    )  # fmt: skip
    return dataclasses.replace(plain, **changes)


def report(*places, not_separated=()):
    light = np.zeros((15, 15))
    light[5:10, 6:9] = 1.0
    images = {f.path: light for p in places for f in p.frames}
    return FocusReport(places, fields_of(places), shifts_of(places), not_separated, images)


def text(found, width=None):
    return "\n".join(report_lines(found, width, "my bench"))


def test_the_answer_comes_first_and_the_next_step_last(tmp_path):
    lines = text(report(place())).splitlines()
    assert lines[0].startswith("Wren 12 mm f/2, f/2.8 is sharpest at mark 4.2")
    assert "its star stays within 1.2 times that size" in lines[0]
    assert lines[-1].startswith("Next: set mark 4.2")
    assert lines[-1].endswith('nightglass rank "my bench"')


def test_field_shift_and_astigmatism_have_a_sentence_each():
    turned = place(
        "corner", 2.0, 0.8, gap=1.0, astigmatism=Astigmatism(AxisTurn.TURNS, Value(1.0, 0.1))
    )
    stopped = place(best=5.4, setting=dataclasses.replace(WREN, f_number=4.0))
    told = text(report(place(), turned, stopped))
    assert "whole frame: focus at mark " in told
    assert "the corner's best focus lies" in told
    assert "marks below the centre's." in told
    assert "the long axis turns by about 90 degrees through focus: astigmatism" in told
    assert "best focus moves by 1.2" in told
    assert "from f/2.8 to f/4: focus at the f-number that you use." in told
    assert "42" in told


def test_faults_say_the_bound_and_ask_for_the_frames_again():
    one_side = place(best=4.2, fault=SeriesFault.BEYOND_LOWEST, bound=2.0)
    one_side = dataclasses.replace(one_side, best=None, depth=None)
    told = text(report(one_side))
    assert "No best focus yet: 1 series" in told
    assert "all frames lie on one side: best focus lies below mark 2." in told
    assert told.splitlines()[-1].startswith("Next: take again")


def test_frames_left_out_and_settings_without_a_series_are_named():
    odd = SeriesFrame("bumped.dng", 3.0, 26.0, left_out=LeftOut.OUTLIER)
    good = place()
    found = report(
        dataclasses.replace(good, frames=(*good.frames, odd)),
        not_separated=(dataclasses.replace(WREN, f_number=4.0),),
    )
    told = text(found)
    assert f"Left out: bumped.dng: {LEFT_OUT[LeftOut.OUTLIER]}." in told
    assert "Focus not separated, no series of their own: Wren 12 mm f/2, f/4." in told


def test_order_without_marks_is_said():
    told = text(report(place(position_source=PositionSource.TIME_ORDER)))
    assert SOURCES[PositionSource.TIME_ORDER] in told
    assert "sharpest at frame 4.2" in told


def test_no_series_is_one_line_that_says_what_to_do():
    line = no_series_line(report(not_separated=(WREN,)))
    assert line.startswith("Focus not separated (1 setting): no focus series is on record; take")


def test_a_narrow_terminal_stacks_the_table():
    told = text(report(place()), width=40)
    assert "  best focus: 4.2" in told


@pytest.mark.parametrize(
    ("value", "err", "words"),
    [(4.2718, 0.0312, "4.272 +- 0.031"), (4.2718, 0.31, "4.27 +- 0.31"), (4.27, 2.3, "4.3 +- 2.3"),
     (431.2, 25.0, "431 +- 25")],
)  # fmt: skip
def test_numbers_end_where_their_error_does(value, err, words):
    assert value_words(Value(value, err)) == words


def test_a_wavefront_has_signs_only_where_the_direction_is_known():
    terms = {6: Value(0.2, 0.01), 8: Value(-0.1, 0.01), 11: Value(0.01, 0.02)}
    found = WavefrontFit(terms, Value(0.3, 0.01), Value(4.2, 0.1), 1.234)
    told = wavefront_line(place(), found)
    assert "astigmatism (0 degrees), Noll 6: 0.200 +- 0.010 (sign not known)" in told
    assert "coma (right), Noll 8: -0.100 +- 0.010; defocus, Noll 4: 0.300 +- 0.010" in told
    assert "(chi^2 1.2 per sample); only coma has a sign: say which way the marks run" in told
    assert "spherical" not in told
    known = wavefront_line(place(), dataclasses.replace(found, towards="near"))
    assert "sign not known" not in known
    assert known.endswith("marks run toward near.")


def test_off_the_centre_no_wavefront_is_attempted_and_that_is_said():
    told = wavefront_line(place("corner", radius=0.8), WavefrontFit(fault="off_centre"))
    assert "not attempted off the centre, where the lens may cut off its opening" in told


def test_plain_data_hold_codes_numbers_and_no_sentences():
    bad = dataclasses.replace(place("x"), best=None, fault=SeriesFault.TOO_FEW)
    data = json.loads(json.dumps(finite(focus_data(report(place(), bad))), allow_nan=False))
    first, second = data["places"]
    assert first["best"]["position"]["value"] == pytest.approx(4.2, abs=0.05)
    assert first["position_source"] == "marks"
    assert "covariance" not in json.dumps(data)
    assert second["fault"] == "too_few"
    assert not any(words in json.dumps(data) for words in FAULTS.values())


def test_the_picture_fits_the_grammar_of_charts_and_draws(tmp_path):
    found = report(place(), place("corner", 2.5, 0.8, gap=1.0))
    focus_chart(found).to_dict(validate=True)
    svg, png = write_focus_chart(found, tmp_path)
    assert svg.stat().st_size > 5000
    assert png.read_bytes()[:4] == b"\x89PNG"
    assert write_focus_chart(report(), tmp_path) == []
