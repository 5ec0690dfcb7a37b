"""Jumps of blur along the zoom range."""

from dataclasses import replace

import pytest

from nightglass.show.blurmap import most_at, zoom_jumps


def along(worths, blurs, stop=4.0):
    one = worths[0]

    def at(focal_mm, blur):
        setting = replace(one.setting, focal_mm=focal_mm, f_number=stop)
        return replace(one, setting=setting, lens_tightness_percent=blur)

    return [at(focal_mm, blur) for focal_mm, blur in blurs.items()]


def test_the_bad_spot_in_mid_range_is_found(bag):
    curlew = [w for w in bag.ranking.worths if w.setting.lens.startswith("Curlew")]
    jumps = zoom_jumps(curlew)
    assert [jump.focal_mm for jump in jumps] == [28.0]
    # Planted: 1.75 times a slow rise of 0.4 % per mm; the worse neighbour is 35 mm.
    assert jumps[0].ratio == pytest.approx(1.75 * (1 + 0.004 * 11) / (1 + 0.004 * 18))


def test_a_slow_rise_is_no_jump_and_a_bad_end_is_one(bag):
    worths = bag.ranking.worths
    assert zoom_jumps(along(worths, {11: 0.1, 13: 0.12, 15: 0.145, 18: 0.17})) == ()
    end = zoom_jumps(along(worths, {11: 0.1, 13: 0.12, 18: 0.3}))
    assert [jump.focal_mm for jump in end] == [18]


def test_other_f_numbers_are_compared_with_the_most_that_they_allow(bag):
    """Wider open a neighbour is no less blurred; stopped down, blur falls at most as N^-3."""
    assert most_at(4.0, {4.0: 0.2, 2.8: 0.1}) == 0.2
    assert most_at(4.0, {2.8: 0.3}) == 0.3
    assert most_at(2.8, {5.6: 0.1}) == pytest.approx(0.8)
    worths = bag.ranking.worths
    # One f-number per position, as a short plan has it: 0.68 between 0.22 and 0.22.
    short = along(worths, {24: 0.22}, 2.8) + along(worths, {28: 0.68}, 3.2)
    short += along(worths, {35: 0.22}, 4.0)
    [jump] = zoom_jumps(short)
    assert (jump.focal_mm, jump.ratio) == (28, pytest.approx(0.68 / (0.22 * 1.25**3)))
    # What coma alone explains is no jump.
    assert zoom_jumps(along(worths, {17: 0.3}, 2.8) + along(worths, {28: 0.15}, 4.0)) == ()


def test_one_focal_length_has_no_jump(bag):
    assert zoom_jumps(along(bag.ranking.worths, {24: 0.5})) == ()
    assert zoom_jumps([]) == ()
