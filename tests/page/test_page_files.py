"""Dropped files: whole or not at all, below frames/ only, nothing overwritten."""

import time

import pytest

NAMES = [
    "../x.dng", "a/../../x.dng", "/etc/x.dng", "..", ".hidden.dng", "a/.b/x.dng", "x\x00.dng",
    "x\n.dng", "C:x.dng", "a" * 300 + ".dng", "a/b/c/d/e/f/g.dng", "", " .dng", "x", "x.exe",
    "x.html", "x.toml", "bench.sqlite", "con\u202egnd.dng", "<img src=x>.dng",
]  # fmt: skip


@pytest.mark.parametrize("name", NAMES)
def test_a_hostile_name_is_refused_in_words(browser, base, bench, name):
    before = sorted(bench.parent.rglob("*"))
    answer = browser.file(base, name, b"content")
    assert answer.status_code == 422
    assert answer.json()["fault"]
    assert sorted(bench.parent.rglob("*")) == before


def test_a_file_lands_whole_and_the_same_again_is_known(browser, base, bench):
    first = browser.file(base, "heron/f 1.dng", b"one")
    assert first.json() == {"path": "heron/f 1.dng", "state": "new"}
    assert browser.file(base, "heron\\f 1.dng", b"one").json()["state"] == "there already"
    other = browser.file(base, "heron/f 1.dng", b"two")
    assert other.json() == {"path": "heron/f 1-2.dng", "state": "new"}
    assert (bench / "frames/heron/f 1.dng").read_bytes() == b"one"
    assert (bench / "frames/heron/f 1-2.dng").read_bytes() == b"two"
    assert not list(bench.rglob(".coming*"))


def test_a_broken_connection_leaves_nothing(browser, base, bench):
    answer = browser.file(base, "a.dng", b"half", **{"content-length": "9"})
    assert answer.status_code == 422
    assert "send it again" in answer.json()["fault"]
    assert not list((bench / "frames").rglob("*"))


def test_a_link_out_of_the_bench_is_not_followed(browser, base, bench, tmp_path):
    (tmp_path / "elsewhere").mkdir()
    (bench / "frames" / "out").symlink_to(tmp_path / "elsewhere")
    answer = browser.file(base, "out/a.dng", b"x")
    assert answer.status_code == 422
    assert not list((tmp_path / "elsewhere").iterdir())


def test_names_of_frames_are_escaped(browser, bench, base):
    from bench_fakes import fake_file

    fake_file(bench / "frames" / "<b>&x.dng", lens='<script>alert("1")</script>')
    browser.form(f"{base}/frames/measure")
    browser.wait(bench, "measuring")
    page = browser.get(f"{base}/frames").text
    assert "&lt;b&gt;&amp;x.dng" in page
    assert "<script>alert" not in page
    assert "&lt;script&gt;alert" in page


def test_dropped_frames_are_measured_and_listed(browser, bench, base, tmp_path):
    from bench_fakes import fake_file

    for k in range(3):
        made = fake_file(tmp_path / f"f{k}.dng", x=1900.0 + k)
        assert browser.file(base, made.name, made.read_bytes()).status_code == 200
    assert "3</span> files wait" in browser.get(f"{base}/frames").text
    browser.form(f"{base}/frames/measure")
    browser.wait(bench, "measuring")
    page = browser.get(f"{base}/frames")
    assert "3</span> frames measured" in page.text
    crop = browser.get(f"{base}/crop/f1.dng")
    assert crop.headers["content-type"] == "image/png"
    assert crop.content[:4] == b"\x89PNG"


def test_measuring_that_was_stopped_goes_on(browser, bench, base):
    from bench_fakes import fake_file

    for k in range(6):
        fake_file(bench / "frames" / f"f{k}.dng", seconds=0.3)
    browser.form(f"{base}/frames/measure")
    browser.form(f"{base}/frames/stop")
    browser.wait(bench, "measuring")
    assert browser.session.jobs.of(bench, "measuring").state == "stopped"
    browser.form(f"{base}/frames/measure")
    browser.wait(bench, "measuring")
    assert "6</span> frames measured" in browser.get(f"{base}/frames").text


def test_a_new_run_goes_on_with_what_was_running(browser, bench, base):
    from bench_fakes import fake_file

    from nightglass.gear.bag import read_bench_file
    from nightglass.page.steps.frames import _mark

    fake_file(bench / "frames" / "f.dng")
    _mark(read_bench_file(bench), True)
    browser.get(f"{base}/frames")
    browser.wait(bench, "measuring")
    assert "1</span> frame measured" in browser.get(f"{base}/frames").text


def test_what_is_looked_at_every_second_is_not_made_anew_every_second(browser, bench):
    from nightglass.gear.bag import read_bench_file

    found, shelf, made = read_bench_file(bench), browser.session.shelf, []

    def make():
        made.append(1)
        time.sleep(0.1)
        return len(made)

    for k in range(3):
        assert shelf.lately(found, "slow", make) == 1
        (bench / "bench.sqlite").write_bytes(bytes(k + 1))
    assert shelf.get(found, "slow", make) == 2
