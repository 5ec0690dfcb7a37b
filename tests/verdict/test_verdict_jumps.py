"""Zoom positions that stand out, and those that do not."""

import math

import pytest

from nightglass.bench.records import Combined, SettingResult, ZoneResult
from nightglass.gear.lens import LensSetting
from nightglass.verdict.order.zoom_jumps import most_at, zoom_jumps

NONE = Combined(None, None)


def zone(length, err=0.2, place="corner", at_most=None):
    return ZoneResult(
        place, 0, 0, 0.9, 3, 0, 0, Combined(length, err if length else None, at_most), NONE, NONE,
        NONE, NONE, NONE, NONE, NONE, NONE, NONE, NONE, "repeats",
    )  # fmt: skip


def results(lengths, f_numbers=None, **options):
    f_numbers = f_numbers or dict.fromkeys(lengths, 4.0)
    return [
        SettingResult(
            LensSetting("b", "Curlew", focal, f_numbers[focal]), (zone(length, **options),)
        )
        for focal, length in lengths.items()
    ]


def test_bad_spot_in_mid_range_is_found():
    (jump,) = zoom_jumps(results({17: 8.0, 24: 7.0, 28: 14.0, 35: 7.5, 45: 6.5}))
    assert (jump.lens, jump.focal_mm, jump.place, jump.f_number) == ("Curlew", 28, "corner", 4.0)
    # Against the longer neighbour; the errors of both in quadrature.
    assert jump.ratio == pytest.approx(14 / 7.5)
    assert jump.ratio_err == pytest.approx(14 / 7.5 * math.hypot(0.2 / 14, 0.2 / 7.5))


def test_a_bad_end_is_found():
    assert [j.focal_mm for j in zoom_jumps(results({11: 7.0, 13: 8.0, 18: 20.0}))] == [18]
    assert [j.focal_mm for j in zoom_jumps(results({11: 20.0, 13: 8.0, 18: 8.2}))] == [11]


@pytest.mark.parametrize(
    ("lengths", "options"),
    [
        ({17: 6.0, 24: 8.0, 28: 10.0, 35: 13.0}, {}),  # a steady rise
        ({35: 6.0, 28: 8.0, 24: 10.0, 17: 14.0}, {}),  # a steady fall
        ({17: 7.0, 24: 9.0, 35: 7.0}, {"err": 1.0}),  # within the error
        ({17: 7.0, 24: 8.0, 35: 7.0}, {"err": 0.01}),  # sure, but too small to be seen
        ({17: 14.0, 24: 7.0}, {}),  # two positions: no telling which is the odd one
        ({24: 14.0}, {}),  # one focal length
        ({17: 7.0, 24: 9.0, 35: 7.0}, {"err": None}),  # nothing known of the error
    ],
)
def test_no_jump(lengths, options):
    assert zoom_jumps(results(lengths, **options)) == ()


def test_wide_open_runs_with_the_zoom():
    open_at = {17: 2.5, 24: 2.8, 28: 3.2, 35: 4.0, 45: 4.5}
    found = zoom_jumps(results({17: 8, 24: 7, 28: 16, 35: 6.0, 45: 5.5}, open_at))
    assert [(jump.focal_mm, jump.f_number) for jump in found] == [(28, 3.2)]
    # 35 mm was measured at f/4 only: at f/3.2 it may have had (4 / 3.2)^3 times that.
    assert found[0].ratio == pytest.approx(16 / (6.0 * 1.25**3))


def test_what_stopping_down_explains_is_no_jump():
    stops = {17: 4.0, 24: 2.8, 35: 4.0}
    assert zoom_jumps(results({17: 7.0, 24: 14.0, 35: 7.0}, stops)) == ()


def test_most_blur_at_another_f_number():
    assert most_at(4.0, {4.0: (1.0, 0.1), 2.8: (0.5, 0.1)}) == (1.0, 0.1)
    assert most_at(4.0, {2.8: (0.5, 0.1)}) == (0.5, 0.1)
    assert most_at(2.8, {5.6: (0.5, 0.1)})[0] == pytest.approx(0.5 + 3 * math.log(2))


def test_zones_at_limit_are_neighbours_by_their_bound():
    three = results({17: None, 24: 9.0, 35: 7.0}, at_most=4.0)
    (jump,) = zoom_jumps(three)
    assert jump.focal_mm == 24
    assert zoom_jumps(results({17: 7.0, 24: None, 35: 7.0}, at_most=40.0)) == ()


def test_the_clearest_place_speaks_for_a_position():
    def both(focal, centre, corner):
        setting = LensSetting("b", "Curlew", focal, 4.0)
        return SettingResult(setting, (zone(centre, place="centre"), zone(corner)))

    found = zoom_jumps([both(17, 5.0, 8.0), both(24, 7.0, 16.0), both(35, 5.0, 8.0)])
    assert [(jump.focal_mm, jump.place) for jump in found] == [(24, "corner")]
    assert zoom_jumps([]) == ()
