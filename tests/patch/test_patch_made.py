"""The same minutes as single frame, stack or panorama: counts, scale, noise, what is expected."""

import math
from dataclasses import replace

import numpy as np
import pytest

from nightglass.patch.expected import expected_gain_percent
from nightglass.patch.look import Wish, look_at
from nightglass.patch.made import (
    MadeAs,
    SameMinutes,
    eye_in,
    made_of_frames,
    made_within,
    one_frame_holds,
    panorama_over,
)
from nightglass.patch.recorded import FramePlace, recorded_patch
from nightglass.patch.stars import PatchStars
from nightglass.plan.panorama.panorama import used_share
from nightglass.show.patch.words import look_data, look_lines
from nightglass.verdict.judge import judge_settings
from nightglass.verdict.purpose import eye_of

CENTRE = FramePlace("centre", 0.0, 0.0)
SINGLE, STACK, PANORAMA = MadeAs


@pytest.fixture
def found(build, bench):
    results = (
        build.setting(build.wren, 2.0, (5.0, 5.1, 4.9)),
        build.setting(build.plover, 2.2, (4.0, 4.1, 3.9)),
    )
    return judge_settings(results, bench)


@pytest.fixture
def two(found):
    """(wide, long)."""
    return tuple(sorted(found.candidates.values(), key=lambda c: c.focal_mm))


def looked(found, bench, two, minutes, made_as, place=CENTRE):
    wish = Wish(270.0, -24.0, place, 2.0, same=SameMinutes(minutes, made_as))
    return look_at(found, bench, *(one.result.setting for one in two), wish)


def test_a_stack_fills_the_minutes_and_no_more(two, bench):
    wide, long = two
    made = made_within(wide, long, bench, SameMinutes(10.0), 0)
    # By hand: each frame starts a whole second, at least 3 s after the last one's end.
    start, count = 0, 0
    while start + wide.light.exposure_s <= 600:
        count, start = count + 1, start + math.ceil(wide.light.exposure_s + 3)
    assert (made.made_as, made.frames, made.panels) == (STACK, count, 1)
    assert made_within(wide, long, bench, SameMinutes(10.0, (SINGLE, STACK)), 0).frames == 1


def test_panels_cover_the_other_s_field_and_share_the_minutes_evenly(two, bench):
    wide, long = two
    plan = panorama_over(long, wide, bench)
    panels, exposure_s = len(plan.frames), long.light.exposure_s
    # Solid angle of a rectangle seen from its axis: 4 asin(sin(a/2) sin(b/2)), a and b full angles.
    sides = (wide.body.width_mm, wide.body.height_mm)
    field, panel = (
        4 * math.asin(math.prod(math.sin(math.atan(side / 2 / focal_mm)) for side in sides))
        for focal_mm in (12.0, 24.0)
    )
    assert field < panels * panel < 4 * field
    assert 0 < used_share(plan) < 1
    made = made_within(long, wide, bench, SameMinutes(30.0, (STACK, PANORAMA)), 1)
    assert (made.made_as, made.panels) == (PANORAMA, panels)

    def takes_s(each):
        stack_s = (each - 1) * math.ceil(exposure_s + 3) + exposure_s
        # Common practice of the panorama plan: 2 s to save each panel, 6 s to the next.
        return panels * (stack_s + 2) + (panels - 1) * 6

    assert takes_s(made.frames) <= 1800 < takes_s(made.frames + 1)


def test_the_least_minutes_that_are_named_are_enough_and_no_more_than_needed(two, bench):
    wide, long = two
    with pytest.raises(ValueError, match=r"--minutes 0\.5 is too short for a panorama of") as told:
        made_within(long, wide, bench, SameMinutes(0.5, (STACK, PANORAMA)), 1)
    least = float(str(told.value).split("give --minutes ")[1].split()[0])
    assert made_within(long, wide, bench, SameMinutes(least, (STACK, PANORAMA)), 1).frames == 1
    with pytest.raises(ValueError, match="is too short for a panorama"):
        made_within(long, wide, bench, SameMinutes(least - 0.1, (STACK, PANORAMA)), 1)


def test_where_one_frame_holds_the_field_there_is_no_panorama(two, found, bench):
    wide, long = two
    assert one_frame_holds(wide, long)
    assert one_frame_holds(wide, wide)
    assert not one_frame_holds(long, wide)
    made = made_within(wide, long, bench, SameMinutes(10.0, (PANORAMA, STACK)), 0)
    assert (made.made_as, made.one_holds_all) == (STACK, True)
    lines = list(look_lines(looked(found, bench, two, 10.0, (PANORAMA, STACK))))
    assert lines[1] == (
        "One frame of Wren 12 mm f/2 at f/2 already holds the field of Plover 24 mm f/2.2 at f/2.2:"
        " a panorama needs one panel only, so it is a stack, in a picture of its own."
    )


def test_a_panorama_is_shown_at_the_other_s_scale_on_the_sky(two, bench, found):
    wide, long = two
    eye = eye_of("screen")
    made = made_within(long, wide, bench, SameMinutes(30.0, (STACK, PANORAMA)), 1)
    assert eye_in(wide, long, made_of_frames(3), eye) == eye
    seen = eye_in(long, wide, made, eye)
    # Twice the focal length: the picture is twice as high as a panel, the eye half as wide in it.
    assert eye.eye_percent / seen.eye_percent == pytest.approx(12 / 24, rel=1e-6)
    for first, second in looked(found, bench, two, 30.0, (STACK, PANORAMA)).views:
        assert abs(first.grey.shape[0] - second.grey.shape[0]) <= 2
    for first, second in looked(found, bench, two, 30.0, (STACK, STACK)).views:
        assert second.grey.shape[0] == pytest.approx(2 * first.grey.shape[0], rel=0.05)


def test_the_noise_of_a_panorama_s_patch_falls_with_the_root_of_its_frames(two, bench, found):
    empty = PatchStars(3.0, np.array([0.0]), np.array([0.0]), np.array([40.0]), 1)
    frames = []
    for minutes in (12.0, 60.0):
        drawn = looked(found, bench, two, minutes, (STACK, PANORAMA))
        frames.append(drawn.made[1].frames)
        assert drawn.recorded[1].frames == drawn.made[1].frames
        patch = recorded_patch(two[1], empty, CENTRE, 5, drawn.recorded[1].frames)
        top = (patch.electrons - patch.clean)[: patch.electrons.shape[0] // 4]
        ought = math.sqrt((patch.sky_e + patch.read_noise_e**2) / drawn.made[1].frames)
        assert top.std() == pytest.approx(ought, rel=0.03)
        # The picture itself, where it holds no star's light: pixel for pixel from its clean one.
        whole = (drawn.recorded[1].electrons - drawn.recorded[1].clean) / np.sqrt(
            (drawn.recorded[1].clean + patch.read_noise_e**2) / drawn.made[1].frames
        )
        assert whole.std() == pytest.approx(1.0, rel=0.03)
    assert frames[1] > 4 * frames[0]


def test_what_is_expected_is_the_pair_s_score_with_the_frames_of_each(two, bench, found):
    order = tuple(one.result.setting for one in two)
    one = look_at(found, bench, *order, Wish(270.0, -24.0, CENTRE, 2.0))
    assert one.expected_gain_percent == pytest.approx(one.pair.gain_percent.value, rel=1e-6)
    # As many frames of the weaker as the pair says equal one of the better: about even.
    many = one.pair.frames_to_equal
    counts = (many, 1) if one.pair.weaker is one.pair.one else (1, many)
    even = look_at(found, bench, *order, Wish(270.0, -24.0, CENTRE, 2.0, counts))
    assert math.copysign(1, even.expected_gain_percent) != math.copysign(
        1, one.expected_gain_percent
    )
    # More minutes for B's panorama: A over B falls.
    eye = eye_of("screen")
    gains = []
    for minutes in (10.0, 40.0):
        made = made_within(two[1], two[0], bench, SameMinutes(minutes, (STACK, PANORAMA)), 1)
        gains.append(expected_gain_percent(found, two, (made_of_frames(9), made), eye))
    assert gains[0] > gains[1]


def test_json_and_text_agree(two, bench, found):
    drawn = looked(found, bench, two, 30.0, (STACK, PANORAMA))
    data, lines = look_data(drawn), list(look_lines(drawn))
    assert (data["minutes"], data["made_as"]) == (30.0, ["stack", "panorama"])
    times = [w.times.chosen.shown_s(w.release) for w in (drawn.pair.one, drawn.pair.other)]
    assert lines[0] == (
        f"In 30 minutes: Wren 12 mm f/2 at f/2 as a stack of {data['frames'][0]} frames of "
        f"{times[0]:g} s; Plover 24 mm f/2.2 at f/2.2 as a panorama of {data['panels'][1]} panels "
        f"of {data['frames'][1]} frames of {times[1]:g} s."
    )
    assert data["panels"][0] == 1
    assert data["one_holds_all"] == [False, False]
    assert lines[1] == (
        "The panorama covers the field of Wren 12 mm f/2 at f/2, and both are shown at the same "
        "scale on the sky. It is judged as one patch of sky."
    )
    ahead = "Wren" if data["expected_gain_percent"] > 0 else "Plover"
    assert lines[2].startswith(f"So made, {ahead}")


def test_a_place_that_the_seams_leave_out_is_named(two, bench, found):
    corner = FramePlace("far corner", 0.9, 33.8)
    drawn = looked(found, bench, two, 30.0, (STACK, PANORAMA), corner)
    share = drawn.made[1].usable_share
    assert share < 0.9
    assert look_data(drawn)["place_kept"] == [True, False]
    assert (
        "Inside the panorama no panel shows far corner of its frame: the seams use the middle "
        f"{100 * share:.0f} % of each side."
    ) in list(look_lines(drawn))


def test_minutes_that_are_none_and_lenses_that_can_t_say_why(two, build, bench):
    for minutes in (0.0, -1.0, math.nan, math.inf, 721.0):
        with pytest.raises(ValueError, match="is no time to make a picture in; give above 0 and"):
            SameMinutes(minutes)
    wide, long = two
    blurred = replace(long, result=build.setting(build.plover, 2.2, (30.0, 30.3, 29.7)))
    with pytest.raises(
        ValueError, match=r"no panorama by Plover 24 mm f/2.2 at f/2.2: the innermost zone has a"
    ):
        made_within(blurred, wide, bench, SameMinutes(30.0, (STACK, PANORAMA)), 1)
    with pytest.raises(
        ValueError, match=r"--minutes 0\.01 is too short for one frame by Wren 12 mm"
    ):
        made_within(wide, long, bench, SameMinutes(0.01), 0)
