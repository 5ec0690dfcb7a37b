"""The map of a lens and the zoom positions that stand out."""

import pytest

from nightglass.bench.map import lens_map, zoom_jumps
from nightglass.bench.records import Combined, SettingResult, ZoneResult
from nightglass.gear.lens import LensSetting

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
    found = zoom_jumps(results({17: 8.0, 24: 7.0, 28: 14.0, 35: 7.0, 45: 6.5}), "Curlew")
    (jump,) = found
    assert (jump.focal_mm, jump.place, jump.neighbours_mm) == (28, "corner", (24, 35))
    assert jump.ratio == pytest.approx(2.0, rel=0.01)


def test_wide_open_is_compared_where_the_f_number_runs_with_the_zoom():
    open_at = {17: 2.5, 24: 2.8, 28: 3.2, 35: 4.0, 45: 4.5}
    found = zoom_jumps(results({17: 8, 24: 7, 28: 14, 35: 7, 45: 6.5}, open_at), "Curlew")
    assert [(jump.focal_mm, jump.f_number) for jump in found] == [(28, 3.2)]


@pytest.mark.parametrize(
    ("lengths", "options"),
    [
        ({17: 6.0, 24: 8.0, 28: 10.0, 35: 13.0}, {}),  # a steady rise
        ({17: 7.0, 24: 9.0, 35: 7.0}, {"err": 1.0}),  # within the error
        ({17: 7.0, 24: 8.0, 35: 7.0}, {"err": 0.01}),  # sure, but too small to be seen
        ({17: 14.0, 24: 7.0}, {}),  # no two neighbours
    ],
)
def test_no_jump(lengths, options):
    assert zoom_jumps(results(lengths, **options), "Curlew") == ()


def test_zones_at_limit_are_neighbours_by_their_bound():
    three = results({17: None, 24: 9.0, 35: 7.0}, at_most=4.0)
    (jump,) = zoom_jumps(three, "Curlew")
    assert jump.focal_mm == 24
    assert zoom_jumps(results({17: 7.0, 24: None, 35: 7.0}, at_most=4.0), "Curlew") == ()


def test_map_has_all_axes():
    found = lens_map(results({17: 8.0, 24: 7.0}), "Curlew")
    assert (found.focal_mm, found.f_numbers, found.places) == ((17, 24), (4.0,), ("corner",))
    assert found.zones[17, 4.0, "corner"].length_px.value == 8.0


def test_unknown_lens_lists_the_measured_ones():
    with pytest.raises(ValueError, match='no results for the lens "Wren"; measured: Curlew'):
        lens_map(results({17: 8.0}), "Wren")
