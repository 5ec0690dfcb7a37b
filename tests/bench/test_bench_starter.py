"""A bench to start from one frame: what files do not tell must be given."""

import pytest
from bench_fakes import fake_file, open_fake

import nightglass.bench.starter as starter
from nightglass.bench.errors import BenchError
from nightglass.gear.bag import parse_bench
from nightglass.gear.template import bench_template


@pytest.fixture(autouse=True)
def _fake_frames(monkeypatch):
    monkeypatch.setattr(starter, "open_frame", lambda path: open_fake(str(path)))


def test_gear_of_a_frame_makes_a_bench_that_reads_back(tmp_path):
    file = fake_file(tmp_path / "a.dng", lens_serial="A1", focal_mm=11.0)
    body, lenses = starter.gear_from_frame(file, 6.05)
    bench = parse_bench(bench_template(body, lenses))
    assert (bench.body.name, bench.body.width_px, bench.body.mosaic) == ("Loan body", 3872, "bayer")
    assert (bench.lenses[0].name, bench.lenses[0].focal_mm_min, bench.lenses[0].serial) == (
        "Wren", 11.0, "A1",
    )  # fmt: skip


def test_pixel_pitch_and_recorded_gear_are_asked_for(tmp_path):
    file = fake_file(tmp_path / "a.dng")
    with pytest.raises(
        BenchError, match=r"give --pitch-um, the sensor's width in mm x 1000 / 3872"
    ):
        starter.gear_from_frame(file, None)
    manual = fake_file(tmp_path / "b.dng", lens=None)
    with pytest.raises(BenchError, match="is not recorded; leave out --from and fill in"):
        starter.gear_from_frame(manual, 6.05)


def test_names_with_control_codes_or_of_any_length_become_names_that_read_back(tmp_path):
    file = fake_file(tmp_path / "a.dng", body="Body\x1b[2J", lens="w" * 200)
    bench = parse_bench(bench_template(*starter.gear_from_frame(file, 6.05)))
    assert (bench.body.name, bench.lenses[0].name) == ("Body [2J", "w" * 80)
    assert bench.body.recorded_as == ("Body\x1b[2J",)
    assert bench.lenses[0].recorded_as == ("w" * 200,)
