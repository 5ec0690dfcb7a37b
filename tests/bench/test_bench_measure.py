"""Runs over a folder: what is skipped, doubled, moved, refused, and what costs only one file."""

import os
import time

import pytest
from bench_fakes import BENCH_TOML, fake_file, said_in

from nightglass.bench.errors import BenchError
from nightglass.bench.files import find_files
from nightglass.bench.store.store import open_store
from nightglass.gear.bag import BenchFileError, read_bench_file


def on_record(bench):
    store = open_store(read_bench_file(bench))
    try:
        return {f.path: f for f in store.frames()}, store.spots()
    finally:
        store.close()


def reasons(pairs):
    return dict(pairs)


def test_names_with_spaces_and_other_letters_are_measured_once(bench, measure):
    for name in ("a b.dng", "Flügel/ö 空.dng", "Flu\u0308gel 2/é.DNG"):
        fake_file(bench / "frames" / name)
    (bench / "frames" / "notes.txt").write_text("not a frame")
    (bench / "frames" / ".hidden.dng").write_text("not a frame")
    seen = []
    first = measure(on_progress=seen.append)
    assert len(first.measured) == 3
    assert (seen[0].done, seen[0].total) == (0, 3)
    assert [step.done for step in seen] == [0, 1, 2, 3]
    again = measure()
    assert (again.measured, again.unchanged, again.refused) == ((), 3, ())
    frames, spots = on_record(bench)
    assert len(frames) == 3
    assert [s.colour for s in spots["a b.dng"]] == ["blue", "green", "red"]


def test_touched_file_is_not_measured_again_but_a_changed_one_is(bench, measure):
    one, two = (fake_file(bench / "frames" / name) for name in ("1.dng", "2.dng"))
    measure()
    os.utime(one, (1_000_000_000, 1_000_000_000))
    fake_file(two, length=9.5)
    report = measure()
    assert report.measured == ("2.dng",)
    frames, spots = on_record(bench)
    assert frames["1.dng"].modified_ns == 1_000_000_000 * 10**9
    assert spots["2.dng"][1].length_px == 9.5


def test_same_content_twice_is_measured_once_and_said(bench, measure):
    fake_file(bench / "frames/b.dng", content="same")
    fake_file(bench / "frames/a copy.dng", content="same")
    fake_file(bench / "frames/c.dng")
    report = measure()
    assert report.measured == ("a copy.dng", "c.dng")
    assert report.duplicates == (("b.dng", "a copy.dng"),)
    fake_file(bench / "frames/z.dng", content="same")
    report = measure()
    assert report.measured == ()
    assert report.duplicates == (("b.dng", "a copy.dng"), ("z.dng", "a copy.dng"))
    assert list(on_record(bench)[1]) == ["a copy.dng", "c.dng"]


def test_copy_takes_over_when_the_original_is_gone(bench, measure):
    fake_file(bench / "frames/a.dng", content="same")
    fake_file(bench / "frames/b.dng", content="same")
    measure()
    (bench / "frames/a.dng").unlink()
    report = measure()
    assert report.measured == ()
    assert report.moved == (("a.dng", "b.dng"),)
    assert list(on_record(bench)[1]) == ["b.dng"]


def test_moved_file_keeps_its_measurement_and_a_lost_one_is_said(bench, measure):
    fake_file(bench / "frames/a.dng")
    fake_file(bench / "frames/b.dng")
    measure()
    (bench / "frames/sub").mkdir()
    (bench / "frames/a.dng").rename(bench / "frames/sub/a.dng")
    (bench / "frames/b.dng").unlink()
    report = measure()
    assert report.measured == ()
    assert report.moved == (("a.dng", "sub/a.dng"),)
    assert report.missing == ("b.dng",)
    fake_file(bench / "frames/b.dng")
    report = measure()
    assert (report.missing, report.measured) == ((), ())


def test_files_that_can_not_be_used_cost_only_themselves(bench, measure):
    frames = bench / "frames"
    (frames / "text.dng").write_text("no pairs in here")
    fake_file(frames / "dies.dng", dies=True)
    fake_file(frames / "broken.dng", broken=True)
    fake_file(frames / "lost.dng", flags=["lost"])
    fake_file(frames / "hot.dng", flags=["not a star"])
    fake_file(frames / "fine.dng")
    report = measure(workers=2)
    assert report.measured == ("fine.dng",)
    found = reasons(report.refused)
    assert found["text.dng"] == "not a picture; copy it again from the card"
    assert found["dies.dng"].startswith("the program that read it broke down; check that")
    assert "could not be measured (ValueError: index out of the table" in found["broken.dng"]
    assert found["lost.dng"].startswith("no star stands out; check focus and exposure")
    assert found["hot.dng"].startswith("only a hot pixel stands out")
    assert list(on_record(bench)[1]) == ["fine.dng"]
    # What may pass is tried again, what the content says is not.
    fake_file(frames / "dies.dng")
    report = measure()
    assert report.measured == ("dies.dng",)
    assert set(reasons(report.refused)) == {"text.dng", "broken.dng", "lost.dng", "hot.dng"}


def test_file_that_hangs_is_given_up_and_the_others_go_on(bench, measure):
    fake_file(bench / "frames/hangs.dng", hangs=True)
    fake_file(bench / "frames/z.dng")
    began = time.monotonic()
    report = measure(time_limit_s=3.0)
    assert time.monotonic() - began < 20
    assert reasons(report.refused)["hangs.dng"].startswith("took longer than 3 s")
    assert report.measured == ("z.dng",)


def test_file_that_grows_while_read_is_left_for_the_next_run(bench, measure):
    growing = fake_file(bench / "frames/grows.dng", grows=True)
    report = measure()
    assert report.left == (("grows.dng", "it changed while it was read; left for the next run"),)
    assert on_record(bench)[0] == {}
    growing.write_text(growing.read_text().replace("grows = true", "grows = false"))
    assert said_in(str(growing))["grows"] is False
    assert measure().measured == ("grows.dng",)


def test_star_place_typed_later_measures_those_frames_again(bench, measure):
    for name in ("a.dng", "b.dng"):
        fake_file(bench / "frames" / name)
    measure()
    rule = '[[frames]]\nmatch = "b*"\nnear = [100.5, 200]\n'
    (bench / "bench.toml").write_text(BENCH_TOML + rule, encoding="utf-8")
    assert measure().measured == ("b.dng",)
    assert on_record(bench)[1]["b.dng"][1].x_px == 100.5
    assert measure().measured == ()


def test_gain_of_the_body_reaches_the_measurer_and_a_new_one_measures_again(bench, measure):
    fake_file(bench / "frames" / "a.dng", iso=800)
    fake_file(bench / "frames" / "b.dng", iso=1600)
    fake_file(bench / "frames" / "c.dng", iso=None)

    def with_gain(gains):
        text = BENCH_TOML.replace("height_px = 2592\n", f"height_px = 2592\n{gains}\n")
        (bench / "bench.toml").write_text(text, encoding="utf-8")
        measured = measure().measured
        frames, spots = on_record(bench)[0], on_record(bench)[1]
        # The stand-in measurer hands back its gain as the flux.
        assert all(frames[p].gain_e_per_count == spots[p][1].flux_counts for p in frames)
        return measured, [frames[p].gain_e_per_count for p in sorted(frames)]

    assert with_gain("") == (("a.dng", "b.dng", "c.dng"), [None, None, None])
    assert with_gain("gain_e_per_count = { 800 = 2.5 }") == (("a.dng",), [2.5, None, None])
    both = "gain_e_per_count = { 800 = 2.5, 1600 = 1.25 }"
    assert with_gain(both) == (("b.dng",), [2.5, 1.25, None])
    assert with_gain(both) == ((), [2.5, 1.25, None])
    assert with_gain("gain_e_per_count = { 1600 = 1.25 }") == (("a.dng",), [None, 1.25, None])
    text = BENCH_TOML.replace("height_px = 2592\n", f"height_px = 2592\n{both}\n")
    rule = '[[frames]]\nmatch = "c*"\niso = 1600\n'
    (bench / "bench.toml").write_text(text + rule, encoding="utf-8")
    assert measure().measured == ("a.dng", "c.dng")
    assert on_record(bench)[0]["c.dng"].gain_e_per_count == 1.25


def test_lens_added_later_needs_no_measuring(bench, measure):
    fake_file(bench / "frames/a.dng", lens="Heron", focal_mm=20.0)
    report = measure()
    assert report.measured == ("a.dng",)
    assert 'the lens "Heron" is not in the bag (Wren, Dipper)' in reasons(report.not_used)["a.dng"]
    assert "Heron" in on_record(bench)[0]["a.dng"].reason
    heron = '[[lens]]\nname = "Heron"\nfocal_mm = 20\nf_number = 1.8\n'
    (bench / "bench.toml").write_text(BENCH_TOML + heron, encoding="utf-8")
    report = measure()
    assert (report.measured, report.not_used) == ((), ())
    assert on_record(bench)[0]["a.dng"].reason is None


def test_mixed_bodies_are_named(bench, measure):
    fake_file(bench / "frames/a.dng")
    fake_file(bench / "frames/b.dng", body="Second body")
    report = measure()
    (line,) = report.not_used
    assert line[0] == "b.dng"
    assert 'taken with the body "Second body", but bench.toml has "Loan body"' in line[1]


def test_every_frame_clipped_says_what_to_do(bench, measure):
    for k in range(2):
        fake_file(bench / f"frames/{k}.dng", flags=["clipped"], length=None)
    (hint,) = measure().hints
    assert hint.startswith("every frame is clipped (2): no sizes can be taken; expose shorter")
    fake_file(bench / "frames/9.dng")
    (hint,) = measure().hints
    assert hint.startswith("clipped, their sizes are not used: 2 of 3 frames")


def test_empty_and_missing_folders_say_what_to_do(bench, measure, tmp_path):
    with pytest.raises(BenchError, match="frames: empty; copy the raw files there"):
        measure()
    (bench / "frames").rmdir()
    with pytest.raises(BenchError, match="frames: no such folder; make it and copy"):
        measure()
    with pytest.raises(BenchFileError, match=r"no bench\.toml here; make one: nightglass new"):
        measure(tmp_path)


@pytest.fixture
def somebody_else(tmp_path):
    """The superuser may read anything: be somebody else for the test."""
    mighty = os.geteuid() == 0
    if mighty:
        for folder in (tmp_path, *tmp_path.parents[:3]):
            folder.chmod(folder.stat().st_mode | 0o055)
        os.seteuid(65534)
    yield
    if mighty:
        os.seteuid(0)


def test_unreadable_folder_is_named_and_the_others_go_on(tmp_path, request):
    closed = tmp_path / "frames" / "closed"
    fake_file(closed / "1.dng")
    fake_file(tmp_path / "frames" / "open" / "2.dng")
    closed.chmod(0o000)
    request.addfinalizer(lambda: closed.chmod(0o755))
    request.getfixturevalue("somebody_else")
    found = find_files(tmp_path / "frames")
    assert [file.path for file in found.files] == ["open/2.dng"]
    assert found.unreadable == (("closed", "Permission denied"),)


def test_unreadable_place_is_in_the_report(bench, measure, monkeypatch):
    fake_file(bench / "frames/2.dng")
    import nightglass.bench.measuring.measure as room
    from nightglass.bench.files import Found

    real = find_files(bench / "frames")
    monkeypatch.setattr(
        room, "find_files", lambda _: Found(real.files, (("closed", "Permission denied"),))
    )
    report = measure()
    assert report.measured == ("2.dng",)
    assert report.refused == (
        ("closed", "can't be read (Permission denied); change its permissions or copy it"),
    )


def test_what_lies_in_an_unreadable_folder_is_not_gone(bench, measure, monkeypatch):
    fake_file(bench / "frames/closed/1.dng")
    fake_file(bench / "frames/2.dng")
    assert len(measure().measured) == 2
    import nightglass.bench.measuring.measure as room
    from nightglass.bench.files import Found

    left = find_files(bench / "frames").files[:1]
    assert [file.path for file in left] == ["2.dng"]
    monkeypatch.setattr(
        room, "find_files", lambda _: Found(left, (("closed", "Permission denied"),))
    )
    report = measure()
    assert (report.measured, report.missing) == ((), ())
    assert not on_record(bench)[0]["closed/1.dng"].missing
    monkeypatch.setattr(room, "find_files", lambda _: Found((), ((".", "Permission denied"),)))
    report = measure()
    assert report.missing == ()
    assert report.refused[0][0] == "frames/"
    monkeypatch.setattr(room, "find_files", lambda _: Found(left, ()))
    assert measure().missing == ("closed/1.dng",)


def test_two_workers_give_what_one_gives(bench, measure):
    for k in range(6):
        fake_file(bench / f"frames/{k}.dng", length=5.0 + k)
    measure(workers=2)
    two = on_record(bench)[1]
    (bench / "bench.sqlite").unlink()
    measure(workers=1)
    assert on_record(bench)[1] == two


def test_workers_must_be_one_or_more(bench, measure):
    fake_file(bench / "frames/2.dng")
    with pytest.raises(ValueError, match="workers is -1; it must be 1 or more"):
        measure(workers=-1)
