"""One way to write each quantity."""

import pytest

from nightglass.gear.dial import dial_steps
from nightglass.gear.lens import LensSetting
from nightglass.show.words import (
    file_stem,
    focal,
    ordinal,
    percent,
    seconds,
    setting_title,
    signed_percent,
    title_of,
)


@pytest.mark.parametrize(
    ("time_s", "words"),
    [
        (30, "30 s"), (2**5, "32 s"), (20, "20 s"), (1.3, "1.3 s"), (1, "1 s"), (0.5, "0.5 s"),
        (0.3, "0.3 s"), (1 / 4, "1/4 s"), (1 / 60, "1/60 s"), (1 / 8000, "1/8000 s"),
        (float("inf"), "no limit"),
    ],
)  # fmt: skip
def test_seconds_read_as_on_a_shutter_dial(time_s, words):
    assert seconds(time_s) == words


def test_every_mark_of_the_dial_has_a_word_of_its_own():
    words = [seconds(step.marked_s) for step in dial_steps(900)]
    assert len(set(words)) == len(words)


@pytest.mark.parametrize("time_s", [0, -1, float("nan")])
def test_a_time_that_is_no_time_is_refused(time_s):
    with pytest.raises(ValueError, match="a shutter time is above 0 seconds"):
        seconds(time_s)


def test_small_numbers():
    assert [percent(v) for v in (0.1683, 0.0554, 1.2, 0)] == ["0.17 %", "0.055 %", "1.20 %", "0 %"]
    assert [signed_percent(v) for v in (12.4, -3.2, 0.0)] == ["+12 %", "−3 %", "+0 %"]
    assert [ordinal(n) for n in (1, 2, 3, 4, 11, 12, 13, 21, 112)] == [
        "1st", "2nd", "3rd", "4th", "11th", "12th", "13th", "21st", "112th",
    ]  # fmt: skip
    assert [focal(v) for v in (24.0, 17.55, 11)] == ["24 mm", "17.6 mm", "11 mm"]


def test_file_stems_are_safe_and_unique_even_without_case():
    taken = {"bag"}
    names = ["Heron 20 mm f/1.8", "heron 20 mm f/1.8", "Bag", "../..", "星 ★", "x" * 200]
    stems = [file_stem(name, taken) for name in names]
    assert stems == ["Heron-20-mm-f-1-8", "heron-20-mm-f-1-8-2", "Bag-2", "lens", "星", "x" * 60]


@pytest.mark.parametrize(
    ("lens", "focal_mm", "title"),
    [("Wren 12 mm f/2", 12, "Wren 12 mm f/2"), ("Dipper 11-18 mm", 18, "Dipper 11-18 mm, 18 mm"),
     ("Owl", 8, "Owl, 8 mm"), ("Owl 18 mm", 8, "Owl 18 mm, 8 mm")],
)  # fmt: skip
def test_titles_say_the_focal_length_once(lens, focal_mm, title):
    assert title_of(lens, focal_mm) == title


def test_the_long_end_of_a_zoom_is_said():
    zoom = LensSetting("Loan body", "Dipper 11-18 mm f/2.8", 18.0, 2.8)
    assert setting_title(zoom) == "Dipper 11-18 mm f/2.8, 18 mm, f/2.8"
