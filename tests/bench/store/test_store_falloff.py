"""Falloffs in the store: by setting, several frames together, and what is not one passed over."""

import pytest

from nightglass.bench.falloff import SUBJECT, falloffs_of, keep_falloff
from nightglass.bench.kept import Keeper
from nightglass.bench.store.store import open_store
from nightglass.gear.bag import parse_bench
from nightglass.gear.lens import LensSetting
from nightglass.light.falloff import FalloffSource, PupilFalloff

BENCH = """
[body]
name = "Loan body"
pitch_um = 6.05
width_px = 3872
height_px = 2592

[[lens]]
name = "Wren 12 mm f/2"
focal_mm = 12
f_number = 2.0
"""
WIDE = LensSetting("Loan body", "Wren 12 mm f/2", 12.0, 2.0)


@pytest.fixture
def store(tmp_path):
    (tmp_path / "bench.toml").write_text(BENCH, encoding="utf-8")
    opened = open_store(parse_bench(BENCH, tmp_path / "bench.toml"))
    yield opened
    opened.close()


def test_falloffs_come_back_by_setting_and_a_frame_counts_once(store):
    keeper = Keeper(store, "sky frame", pytest.fail)
    down = LensSetting("Loan body", "Wren 12 mm f/2", 12.0, 2.8)
    first = PupilFalloff((0.6, 0.1), (0.0004, 0.0, 0.0), FalloffSource.SKY)
    second = PupilFalloff((0.4, 0.1), (0.0004, 0.0, 0.0), FalloffSource.SKY)
    keep_falloff(keeper, WIDE, "aa", first)
    keep_falloff(keeper, WIDE, "aa", first)
    keep_falloff(keeper, WIDE, "bb", second)
    keep_falloff(keeper, down, "cc", second)
    found = falloffs_of(store)
    assert found[WIDE].terms_mag == pytest.approx((0.5, 0.1))
    assert (found[WIDE].frames, found[down]) == (2, second)


def test_what_can_t_be_read_is_passed_over(store):
    store.keep_content(SUBJECT, "aa", b"not a record")
    assert falloffs_of(store) == {}
