"""The club's evening before a white screen: what was stated is drawn, and comes back measured."""

import math

import numpy as np
import pytest

from nightglass.bench.beside import FLATS, files_beside
from nightglass.bench.flats.measure import measure_flats
from nightglass.bench.flats.records import FlatFault
from nightglass.gear.bag import parse_bench, read_bench_file
from nightglass.scene.clubfile import flats_bench_toml
from nightglass.scene.flats_plan import (
    CLIPPING,
    FIELD_BODY,
    LINNET,
    PASSED,
    SISKIN,
    flats_plan,
    pupil_share,
    render_flats,
)
from nightglass.scene.stage import write_flats_frame

CLUB = {club.lens.name: club for club in (SISKIN, LINNET)}


def test_bench_file_says_nothing_of_the_glass():
    shots = flats_plan()
    assert len({shot.file_name for shot in shots}) == len(shots) == 25
    bench = parse_bench(flats_bench_toml())
    assert {lens.name for lens in bench.lenses} == set(CLUB)
    assert all(lens.transmission is None and lens.t_stop is None for lens in bench.lenses)
    assert bench.body.name == FIELD_BODY.name


@pytest.mark.parametrize(("club", "f_number", "radius"), [
    (SISKIN, 2.0, 1.0), (SISKIN, 2.8, 0.93), (LINNET, 2.0, 0.4), (LINNET, 2.8, 0.7),
])  # fmt: skip
def test_light_of_an_opening_that_two_rims_bound_by_counting_points(club, f_number, radius):
    """Other means: points of a fine grid inside both discs."""
    y, x = np.mgrid[-1:1:2001j, -1:1:2001j]
    stops = math.sqrt(2.0) ** round(2 * math.log2(f_number / 2.0))
    rim, shift = 1.05 * stops, club.by_focal[14].rim_shift * radius * stops
    mm = radius * math.hypot(FIELD_BODY.width_mm, FIELD_BODY.height_mm) / 2
    open_ = np.hypot(x, y) <= 1
    share = (open_ & (np.hypot(x - shift, y) <= rim)).sum() / open_.sum()
    truth = share * math.cos(math.atan2(mm, 14))
    assert pupil_share(club, f_number, radius) == pytest.approx(truth, rel=2e-3)


def test_frames_of_the_led_do_not_clip_and_come_out_alike_each_time():
    shot = flats_plan()[2]
    counts, exposure_s = render_flats(shot)
    again, _ = render_flats(shot)
    assert (counts == again).all()
    assert counts.shape == (FIELD_BODY.height_px, FIELD_BODY.width_px)
    assert 0.4 * CLIPPING < counts.max() < CLIPPING
    assert exposure_s > 0


@pytest.fixture(scope="module")
def report(tmp_path_factory):
    folder = tmp_path_factory.mktemp("flats")
    (folder / "bench.toml").write_text(flats_bench_toml(), encoding="utf-8")
    for shot in flats_plan():
        if shot.place is None:
            write_flats_frame(shot, folder)
    bench = read_bench_file(folder)
    return measure_flats(files_beside(bench, FLATS), bench)


def test_the_falloff_of_each_setting_comes_back_within_two_errors(report):
    assert len(report.settings) == 4
    for one in report.settings:
        club = CLUB[one.setting.lens]
        for radius in (0.5, 1.0):
            lost = -math.log2(pupil_share(club, one.setting.f_number, radius))
            away = abs(float(one.falloff.stops(radius)) - lost)
            assert away < 2 * one.falloff.stops_err(radius), (one.setting, radius, away)


def test_light_of_lens_against_lens_comes_back(report):
    (light,) = report.light
    truth = PASSED[light.lens] / PASSED[light.reference]
    assert light.times == pytest.approx(truth, abs=2 * light.err)
    assert light.err < 0.06 * truth


def test_a_flat_that_clips_is_left_out_and_one_setting_has_a_single_flat(report):
    assert [one.fault for one in report.frames if one.fault] == [FlatFault.CLIPPED]
    assert sorted(len(one.frames) for one in report.settings) == [1, 2, 2, 3]
    alone = min(report.settings, key=lambda one: len(one.frames)).setting
    assert (alone.lens, alone.f_number) == (LINNET.lens.name, 2.8)
