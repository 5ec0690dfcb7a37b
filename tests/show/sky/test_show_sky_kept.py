"""What `sky` leaves for the ranking: the falloff of a setting, by the frame's own metadata."""

from pathlib import Path

import pytest
from invented_results import BAG, BODY

from nightglass.bench.falloff import SUBJECT
from nightglass.bench.skyframes import sky_name
from nightglass.bench.store.rows import FrameOnRecord
from nightglass.frame.record import Metadata
from nightglass.gear.benchfile import BenchFile
from nightglass.light.falloff import FalloffSource, PupilFalloff
from nightglass.show.sky.frame_report import FrameReport, keep_report

FALLOFF = PupilFalloff((0.5, 0.2), (0.001, 0.0, 0.001), FalloffSource.SKY)


class Keeping:
    """Stands in for the store: what was kept, by kind."""

    def __init__(self):
        self.kept = []

    def keep(self, key, record, kind=""):
        self.kept.append((kind, key, record))


def told(lens="Heron 20 mm f/1.8", **more):
    metadata = Metadata(lens=lens, focal_mm=20.0, f_number=1.8, body=BODY.name)
    frame = FrameOnRecord(
        path="sky/a.dng", content_hash="c0", fingerprint="", size_bytes=0, modified_ns=0,
        state="measured", width_px=BODY.width_px, height_px=BODY.height_px, metadata=metadata,
    )  # fmt: skip
    return FrameReport(**{"key": "k", "frame": frame, "falloff": FALLOFF, **more})


def test_the_falloff_of_a_setting_of_the_bench_is_kept_under_the_frame_s_content():
    keeper = Keeping()
    keep_report(told(), keeper, BenchFile(BODY, BAG))
    assert [(kind, key) for kind, key, _ in keeper.kept] == [("", "k"), (SUBJECT, "c0")]
    setting, falloff = keeper.kept[1][2]
    assert (setting.lens, setting.f_number, falloff) == ("Heron 20 mm f/1.8", 1.8, FALLOFF)


@pytest.mark.parametrize(
    ("report", "bench"),
    [
        (told(), None),
        (told(falloff=None), BenchFile(BODY, BAG)),
        (told(lens="a stranger's lens"), BenchFile(BODY, BAG)),
    ],
)
def test_without_bench_setting_or_falloff_only_the_report_is_kept(report, bench):
    keeper = Keeping()
    keep_report(report, keeper, bench)
    assert [kind for kind, _, _ in keeper.kept] == [""]


def test_a_report_from_the_store_is_not_kept_again():
    keeper = Keeping()
    keep_report(told(key=None), keeper, BenchFile(BODY, BAG))
    assert keeper.kept == []


def test_names_run_from_the_last_folder_called_sky():
    assert sky_name(Path("/x/sky/bench/sky/may/a.dng")) == "sky/may/a.dng"
    assert sky_name(Path("b.dng")) == "sky/b.dng"
    assert sky_name(Path("/frames/b.dng")) == "sky/b.dng"
