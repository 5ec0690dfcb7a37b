"""What bench.toml says of frames reaches the findings: camera rolled, refocused, source."""

from __future__ import annotations

import pytest
from bench_fakes import BENCH_TOML, HEIGHT_PX, WIDTH_PX

from nightglass.bench.store.rows import FrameOnRecord
from nightglass.bench.store.store import Store
from nightglass.bench.study.repeats import setting_results
from nightglass.frame.record import Metadata
from nightglass.gear.bag import parse_bench
from nightglass.spot.record import Measured, Spot

SAID = """
[[frames]]
match = "*"
refocused = true
distance_m = 10
source_diameter_mm = 0.5
[[frames]]
match = "down/*"
roll_degrees = 180
"""


@pytest.fixture
def store():
    opened = Store("sqlite://", "")
    for name, length in (("up/1.dng", 6.0), ("down/2.dng", 7.0), ("up/3.dng", None)):
        known = Metadata(
            body="Loan body", lens="Wren", focal_mm=12.0, f_number=2.8, iso=800, exposure_true_s=0.5
        )
        frame = FrameOnRecord(
            name, name, name, 1, 1, "measured", kind="mosaic", width_px=WIDTH_PX,
            height_px=HEIGHT_PX, metadata=known,
        )  # fmt: skip
        bound = 4.0 if length is None else None
        spot = Spot(name, "green", 1935.5, 1295.5, length_px=length, length_at_most_px=bound)
        opened.keep(frame, Measured((spot,), {}))
    yield opened
    opened.close()


def zone_of(store, said):
    (found,) = setting_results(store, parse_bench(BENCH_TOML + said))
    return found.zones[0]


def test_rolled_stands_beside_each_length(store):
    zone = zone_of(store, SAID)
    assert dict(zip(zone.length_px.values, zone.rolled, strict=True)) == {6.0: False, 7.0: True}
    assert zone.refocused is True
    # 0.5 mm at 10 m through 12 mm: 0.6 um, on pixels of 6.05 um (docs/glossary.md).
    assert zone.source_px == pytest.approx(0.5 * 12 / (10_000 - 12) * 1000 / 6.05, rel=0.01)


def test_nothing_said_is_not_known(store):
    zone = zone_of(store, "")
    assert (zone.rolled, zone.refocused) == ((), None)


def test_one_frame_not_refocused_counts_for_all(store):
    said = SAID + '[[frames]]\nmatch = "up/1.dng"\nrefocused = false\n'
    assert zone_of(store, said).refocused is False
