"""The verdict on raw filtering: dark frames whose body filters, or does not."""

from __future__ import annotations

import xml.etree.ElementTree as ET

import numpy as np
import pytest
from scipy.ndimage import maximum_filter

from nightglass.frame.record import Frame, Metadata
from nightglass.show.sky.filter_chart import filter_svg
from nightglass.show.sky.words.filter import (
    VERDICTS,
    filter_reason_words,
    filtering_advice,
    filtering_data,
    taken_words,
)
from nightglass.show.sky.words.unsolved import frame_note_words
from nightglass.sky.codes import FrameNote, FrameNoteCode
from nightglass.sky.photometry.codes import FilterVerdict
from nightglass.sky.photometry.dark_frame import DarkSamples
from nightglass.sky.photometry.filtering import filtering, judge, lacks_hot_pixels, wilson


def dark(
    filtered: bool,
    hot: int = 400,
    mode: str = "bulb",
    level: float = 2.0,
    seed: int = 1,
    seconds: float = 30.0,
    iso: int = 1600,
    body: str | None = None,
):
    rng = np.random.default_rng(seed)
    samples = rng.normal(1000 + level, 5.0, size=(600, 802))
    y, x = rng.integers(0, 600, hot), rng.integers(0, 802, hot)
    samples[y, x] += rng.exponential(300, hot) + 80
    if filtered:
        # Each sample is cut to the brightest of its eight neighbours of the same colour.
        for i in range(2):
            for j in range(2):
                plane = samples[i::2, j::2]
                ring = np.ones((3, 3), bool)
                ring[1, 1] = False
                samples[i::2, j::2] = np.minimum(plane, maximum_filter(plane, footprint=ring))
    return Frame(
        np.clip(np.rint(samples), 0, 16000).astype(np.uint16),
        np.array([[0, 1], [1, 2]], np.uint8),
        np.full((2, 2), 1000.0),
        np.full((2, 2), 16000.0),
        "mosaic",
        Metadata(exposure_true_s=seconds, exposure_mode=mode, iso=iso, body=body),
        file="dark.dng",
    )


def test_an_unfiltered_body_keeps_its_hot_pixels():
    (found,) = filtering([dark(False)])
    assert found.verdict == FilterVerdict.NOT_FILTERED
    assert found.bright > 300
    assert found.alone_share > 0.9
    assert "small stars are safe" in filter_reason_words(found)


def test_a_filtering_body_is_told_mode_by_mode():
    frames = [dark(True, hot=9000, seed=k) for k in range(3)] + [dark(False, mode="manual")]
    by_mode = {found.mode: found for found in filtering(frames)}
    assert by_mode["bulb"].verdict == FilterVerdict.FILTERED
    assert by_mode["bulb"].frames == 3
    assert by_mode["manual"].verdict == FilterVerdict.NOT_FILTERED
    assert "stars of 2 px and less lose light" in filter_reason_words(by_mode["bulb"])


def test_too_few_hot_pixels_tell_nothing():
    (found,) = filtering([dark(False, hot=10)])
    assert found.verdict == FilterVerdict.UNDECIDED
    assert found.alone_share is None
    assert "it takes 40: more darks, longer, or warmer" in filter_reason_words(found)


def test_wilson_interval_of_a_worked_case():
    # 15 of 50: 0.191 to 0.438 by Wilson's formula (own arithmetic).
    low, high = wilson(15, 50)
    assert low == pytest.approx(0.191, abs=5e-4)
    assert high == pytest.approx(0.438, abs=5e-4)


def test_light_and_nothing_are_refused():
    with pytest.raises(ValueError, match=r"no dark frames; take some with the cap on"):
        filtering([])
    with pytest.raises(ValueError, match=r"dark.dng: level 5000 counts above black"):
        filtering([dark(False, level=5000.0)])


def test_hot_pixels_that_a_longer_exposure_lacks_were_taken_away():
    short, long = dark(False, seconds=2.0, mode="manual"), dark(True, hot=300, seed=2)
    (alone,) = filtering([long])
    assert alone.verdict == FilterVerdict.UNDECIDED
    first, second = filtering([long, short])
    assert (first.verdict, second.verdict) == (FilterVerdict.NOT_FILTERED, FilterVerdict.FILTERED)
    assert "a shorter exposure of this sensor lets one expect" in filter_reason_words(second)
    words = filtering_advice((first, second))
    assert words.startswith(
        "Small stars are erased at ISO 1600, bulb, 30 s. Use ISO 1600, manual, 2 s."
    )


def test_other_sensors_and_shorter_times_say_nothing_of_missing_pixels():
    long = dark(False, hot=6, seed=2)
    (_, second) = filtering([dark(False, seconds=2.0, iso=100), long])
    assert second.iso == 1600
    assert second.verdict == FilterVerdict.UNDECIDED
    (first, _) = filtering([dark(False, hot=6, seconds=2.0), dark(False, seconds=60.0)])
    assert first.verdict == FilterVerdict.UNDECIDED
    words = filtering_advice(filtering([dark(False)]))
    assert words == "No filtering at ISO 1600, bulb, 30 s: these settings keep small stars."


def test_frames_of_two_bodies_are_never_judged_together():
    finch = [dark(True, hot=9000, seed=k, body="Finch 1") for k in range(3)]
    lark = [dark(False, hot=2000, seed=k + 20, body="Lark 2") for k in range(3)]
    found = filtering([*lark, *finch])
    assert [(one.body, one.frames, one.verdict) for one in found] == [
        ("Finch 1", 3, FilterVerdict.FILTERED), ("Lark 2", 3, FilterVerdict.NOT_FILTERED)
    ]  # fmt: skip
    assert filtering_advice(found) == (
        "Small stars are erased at Finch 1, ISO 1600, bulb, 30 s. Test shorter times and other "
        "modes: none of these is safe. A bench frame in one mode does not stand for the sky in "
        "another. No filtering at Lark 2, ISO 1600, bulb, 30 s: these settings keep small stars."
    )
    assert filtering_data(found[0])["body"] == "Finch 1"


def test_a_body_with_few_hot_pixels_is_not_called_safe_by_another():
    few, many = dark(False, hot=6, seed=2, body="Finch 1"), dark(False, hot=900, body="Lark 2")
    first, second = filtering([few, many])
    assert (first.verdict, second.verdict) == (FilterVerdict.UNDECIDED, FilterVerdict.NOT_FILTERED)
    assert "Can't tell at Finch 1, ISO 1600, bulb, 30 s" in filtering_advice([first, second])


def test_one_isos_frames_say_nothing_of_anothers():
    found = filtering([dark(False, iso=400), dark(True, hot=9000, iso=6400)])
    assert [(one.iso, one.verdict) for one in found] == [
        (400, FilterVerdict.NOT_FILTERED),
        (6400, FilterVerdict.FILTERED),
    ]


def test_a_filtered_frame_among_others_taken_alike_is_not_averaged_away():
    mixed = [dark(True, hot=9000, seed=3), *(dark(False, hot=1500, seed=k) for k in (4, 5))]
    (found,) = filtering(mixed)
    assert found.verdict == FilterVerdict.FILTERED
    assert found.frames == 3
    assert filter_reason_words(found).startswith(
        "1 of 3 frames are filtered, though all were taken alike"
    )


@pytest.mark.parametrize(
    ("alone", "equal", "verdict"),
    [
        (0.4, 0.5, FilterVerdict.FILTERED),
        (0.4, 0.1, FilterVerdict.UNDECIDED),
        (0.1, 0.0, FilterVerdict.FILTERED),
        (0.9, 0.0, FilterVerdict.NOT_FILTERED),
        (0.9, 0.3, FilterVerdict.UNDECIDED),
    ],
)
def test_samples_that_equal_a_neighbour_decide_where_shares_do_not(alone, equal, verdict):
    share = (np.arange(500) + 0.5) / 500
    value = np.full(500, 60.0)
    neighbour = np.where(share < alone, 2.0, 60.0)
    seen = DarkSamples("bulb", 30.0, (None, None), value, neighbour, share > 1 - equal, ())
    (found,) = judge([seen])
    assert found.verdict == verdict
    assert found.equal_share == pytest.approx(equal)


def test_crops_show_bright_samples_as_recorded():
    frame = dark(False)
    (found,) = filtering([frame])
    assert len(found.crops_sigma) == 6
    middles = [crop[5, 5] for crop in found.crops_sigma]
    assert middles == sorted(middles, reverse=True)
    assert all(crop.shape == (11, 11) and crop[5, 5] > 8 for crop in found.crops_sigma)
    assert "crops_sigma" not in filtering_data(found)


@pytest.mark.parametrize(
    ("hot", "seconds", "star_px", "said"),
    [(0, 15.0, 1.8, True), (0, 15.0, 2.4, False), (0, 1.0, 1.8, False), (0, None, 1.8, False),
     (900, 15.0, 1.8, False), (0, 15.0, float("nan"), False)],
)  # fmt: skip
def test_a_sky_frame_hints_only_where_its_stars_are_small(hot, seconds, star_px, said):
    assert lacks_hot_pixels(hot, 24_000_000, seconds, star_px) == said
    note = FrameNote(FrameNoteCode.FEW_HOT_PIXELS, hot_pixels=hot, samples=24_000_000)
    words = frame_note_words(note)
    assert words.startswith(f"only {hot} single hot pixels in 24 million: a dark frame was taken")
    assert words.endswith("dark frames tell (--dark)")


def test_the_picture_has_every_point_and_word_inside():
    verdicts = filtering(
        [dark(True, hot=9000, seed=3), dark(False, mode="manual"), dark(False, hot=5, mode="auto")]
    )
    root = ET.fromstring(filter_svg(verdicts))
    words = [text.text for text in root.iter("{http://www.w3.org/2000/svg}text")]
    for verdict in verdicts:
        assert f"{taken_words(verdict)}: {VERDICTS[verdict.verdict]}" in words
    assert words.count("untouched sensors") == 3
    width, height = float(root.get("width")), float(root.get("height"))
    for dot in root.iter("{http://www.w3.org/2000/svg}circle"):
        assert 0 < float(dot.get("cx")) < width
        assert 0 < float(dot.get("cy")) < height
    crops = list(root.iter("{http://www.w3.org/2000/svg}image"))
    assert len(crops) == sum(len(v.crops_sigma) for v in verdicts)
    with pytest.raises(ValueError, match="no dark frames were judged"):
        filter_svg(())
