"""Several bodies in one bench: which of them took a frame, and what a wrong answer would cost."""

from dataclasses import replace

import pytest
from bench_fakes import BENCH_TOML, MEASURER, OPENER, fake_file

from nightglass.bench.assign import Belongs, NotUsed, belongs_to, of_its_body
from nightglass.bench.codes import BenchNoteCode
from nightglass.bench.measuring.measure import measure_folder
from nightglass.bench.store.rows import FrameOnRecord
from nightglass.bench.store.store import open_store
from nightglass.bench.study.repeats import REPEATS, results_on_record
from nightglass.frame.record import Metadata
from nightglass.gear.bag import parse_bench, read_bench_file

LARGE = """[[other_body]]
name = "Large body"
pitch_um = 5.9
width_px = 6000
height_px = 4000
gain_e_per_count = { 800 = 2.5 }
recorded_as = "LB-9"
"""
RECORDED = Metadata(
    body="Loan body", lens="Wren", focal_mm=12.0, f_number=2.8, iso=800, exposure_true_s=0.5
)


def frame(path="a.dng", size=(3872, 2592), kind="mosaic", **recorded) -> FrameOnRecord:
    return FrameOnRecord(
        path, "h", "f", 1, 1, "measured", kind=kind, width_px=size[0], height_px=size[1],
        metadata=replace(RECORDED, **recorded),
    )  # fmt: skip


def bench(extra=LARGE):
    return parse_bench(BENCH_TOML + extra)


def body_of(record, extra=LARGE) -> str:
    found = belongs_to(record, bench(extra))
    assert isinstance(found, Belongs), found
    return found.setting.body


def reason(record, extra=LARGE) -> str:
    found = belongs_to(record, bench(extra))
    assert isinstance(found, NotUsed), found
    return found.reason


@pytest.mark.parametrize(
    ("recorded", "body"),
    [
        ({}, "Loan body"),
        ({"body": "Large body", "size": (6000, 4000)}, "Large body"),
        ({"body": "Maker LB-9", "size": (6000, 4000)}, "Large body"),
        # No name: the pixels say it, the file's own few pixels more or less don't matter.
        ({"body": None}, "Loan body"),
        ({"body": None, "size": (6024, 4016)}, "Large body"),
    ],
)
def test_a_frame_belongs_to_the_body_of_its_name_else_of_its_pixels(recorded, body):
    assert body_of(frame(**recorded)) == body


def test_a_body_told_by_pixels_alone_is_said_to_be_assumed():
    found = belongs_to(frame(body=None, size=(6000, 4000)), bench())
    assert isinstance(found, Belongs)
    assert [(note.code, note.body) for note in found.notes] == [
        (BenchNoteCode.BODY_ASSUMED, "Large body")
    ]


def test_what_is_typed_of_frames_wins_over_the_recorded_name():
    typed = LARGE + '[[frames]]\nmatch = "b/*"\nbody = "Large body"\n'
    assert body_of(frame("b/1.dng", (6000, 4000)), typed) == "Large body"
    assert "3872 x 2592 pixels, but bench.toml says 6000 x 4000" in reason(frame("b/1.dng"), typed)


def test_a_frame_that_fits_no_body_says_so_with_both_names():
    assert reason(frame(body="Club body")) == (
        'taken with the body "Club body", but bench.toml has "Loan body" and "Large body"; '
        "describe it as an [[other_body]], or add the name to recorded_as of the right one"
    )
    assert reason(frame(body=None, size=(4928, 3264))) == (
        "4928 x 3264 pixels, but bench.toml says 3872 x 2592 and 6000 x 4000; correct the bodies, "
        "or leave out frames of another body or a reduced raw size"
    )
    # The name of one with the pixels of the other is a mistake, not a choice.
    assert "6000 x 4000 pixels, but bench.toml says 3872 x 2592" in reason(frame(size=(6000, 4000)))


TWIN = LARGE.replace("6000", "3872").replace("4000", "2592")


def test_equal_pixels_without_a_name_are_refused_with_what_to_add():
    assert reason(frame(body=None), TWIN) == (
        "a frame that records no body could be of Loan body and Large body; say it in bench.toml: "
        '[[frames]] with body = "Loan body", or give each body its serial or the name that it '
        "records (recorded_as)"
    )
    assert body_of(frame(body="Large body"), TWIN) == "Large body"
    assert body_of(frame("b/1.dng", body=None), TWIN + '[[frames]]\nmatch = "b/*"\n'
                   'body = "Large body"\n') == "Large body"  # fmt: skip


def test_a_body_without_a_mosaic_takes_no_frame_that_has_one():
    assert body_of(frame(body=None), TWIN + 'mosaic = "none"\n') == "Loan body"


def test_two_bodies_of_one_model_are_told_apart_by_serial():
    two = LARGE.replace("6000", "3872").replace("4000", "2592").replace("Large", "Second")
    two = two.replace('"LB-9"', '"Loan body"') + 'serial = "22"\n'
    assert body_of(frame(body="Maker Loan body", body_serial="22"), two) == "Second body"
    assert reason(frame(body="Maker Loan body"), two).startswith(
        '"Maker Loan body" (serial not recorded) could be of Loan body and Second body; say it in '
        "bench.toml: [[frames]] with body"
    )


def test_frames_of_another_body_count_with_that_body_only():
    both, other = bench(), frame(body="Large body", size=(6000, 4000))
    kept = of_its_body(belongs_to(other, both), both)
    assert kept == NotUsed('taken with Large body; its frames count with --body "Large body"')
    seen = both.on_body("large")
    assert of_its_body(belongs_to(other, seen), seen) == belongs_to(other, both)
    assert isinstance(of_its_body(belongs_to(frame(), seen), seen), NotUsed)


@pytest.fixture
def folder(tmp_path):
    """Three frames on each of two bodies, at the same share of the frame."""
    (tmp_path / "bench.toml").write_text(BENCH_TOML + LARGE, encoding="utf-8")
    for k in range(3):
        fake_file(tmp_path / f"frames/a{k}.dng", length=6.0 + 0.1 * k)
        fake_file(
            tmp_path / f"frames/b{k}.dng", length=4.0 + 0.1 * k, body="LB-9", width=6000,
            height=4000, x=2999.5, y=1999.5,
        )  # fmt: skip
    report = measure_folder(tmp_path, workers=1, measurer=MEASURER, opener=OPENER)
    assert (len(report.measured), report.not_used, report.refused) == (6, (), ())
    return tmp_path


def test_results_are_those_of_one_body(folder):
    both = read_bench_file(folder)
    for name, length in (("Loan body", 6.1), ("Large body", 4.1)):
        (result,) = results_on_record(both.on_body(name))
        (zone,) = result.zones
        assert (result.setting.body, zone.place, zone.frames) == (name, "centre", 3)
        assert zone.length_px.value == pytest.approx(length)


def test_the_store_keeps_results_of_every_body_ready(folder, monkeypatch):
    both = read_bench_file(folder)
    ready = {b.name: results_on_record(both.on_body(b.name)) for b in both.bodies}

    def never(*_):
        raise AssertionError("worked out again")

    monkeypatch.setattr("nightglass.bench.study.repeats.setting_results", never)
    for name, results in ready.items():
        found = results_on_record(both.on_body(name))
        assert [r.setting for r in found] == [r.setting for r in results]
        assert {r.setting.body for r in found} == {name}
    store = open_store(both)
    try:
        with store.reading() as connection:
            rows = connection.execute(REPEATS.table.select()).mappings().all()
    finally:
        store.close()
    assert {(row["seen_by"], row["body"]) for row in rows} == {(n, n) for n in ready}


def test_error_bars_use_the_gain_of_the_frames_own_body(folder):
    store = open_store(read_bench_file(folder))
    try:
        gains = {f.path: f.gain_e_per_count for f in store.frames()}
    finally:
        store.close()
    assert gains == {
        **{f"a{k}.dng": None for k in range(3)},
        **{f"b{k}.dng": 2.5 for k in range(3)},
    }
    again = measure_folder(folder, workers=1, measurer=MEASURER, opener=OPENER)
    assert (again.measured, again.unchanged) == ((), 6)
    typed = (folder / "bench.toml").read_text("utf-8").replace("2.5", "2.4")
    (folder / "bench.toml").write_text(typed, encoding="utf-8")
    again = measure_folder(folder, workers=1, measurer=MEASURER, opener=OPENER)
    assert again.measured == ("b0.dng", "b1.dng", "b2.dng")
