"""Changes of bench.toml by the page: remarks stay, stale forms say so, undo undoes."""

import threading

import pytest

from nightglass.gear.bag import BenchFileError, read_bench_file
from nightglass.gear.edited import (
    ChangedSinceError,
    change_bench,
    exactly,
    leave_out,
    state_of,
    take_in,
)


def test_a_frame_is_left_out_with_its_reason_and_taken_in_again(browser, measured, bench):
    before = (bench / "bench.toml").read_text()
    state = browser.state(f"{measured}/frames")
    answer = browser.form(f"{measured}/frames/leave-out", state=state, path="f0.dng",
                          reason='door "open"', back=f"{measured}/lenses/0/12/2.8")  # fmt: skip
    assert answer.status_code == 303
    assert answer.headers["location"] == f"{measured}/lenses/0/12/2.8"
    text = (bench / "bench.toml").read_text()
    assert text.startswith("# my own words\n")
    assert read_bench_file(bench).frames[-1].leave_out == 'door "open"'
    page = browser.get(f"{measured}/frames?show=unused").text
    assert "left out in bench.toml: door &#34;open&#34;" in page
    state = browser.state(f"{measured}/frames")
    browser.form(f"{measured}/frames/take-in", state=state, path="f0.dng")
    assert (bench / "bench.toml").read_text().strip() == before.strip()


def test_the_reason_stands_on_the_report_and_in_what_is_taken_away(browser, measured, bench):
    import io
    import zipfile

    state = browser.state(f"{measured}/frames")
    browser.form(f"{measured}/frames/leave-out", state=state, path="f0.dng", reason="door <open>")
    page = browser.get(f"{measured}/report").text
    assert "Left out, with the reason" in page
    assert "<li>f0.dng: door &lt;open&gt;</li>" in page
    with zipfile.ZipFile(io.BytesIO(browser.get(f"{measured}/report.zip").content)) as taken:
        assert taken.read("left-out.txt") == b"f0.dng: door <open>\n"
    browser.form(f"{measured}/undo", state=browser.state(f"{measured}/frames"))
    assert "Left out" not in browser.get(f"{measured}/report").text


def test_undo_puts_the_text_back_byte_by_byte(browser, measured, bench):
    before = (bench / "bench.toml").read_bytes()
    state = browser.state(f"{measured}/frames")
    browser.form(f"{measured}/frames/leave-out", state=state, path="f0.dng", reason="x")
    browser.form(f"{measured}/undo", state=browser.state(f"{measured}/frames"))
    assert (bench / "bench.toml").read_bytes() == before


def test_a_stale_form_says_so_and_changes_nothing(browser, measured, bench):
    state = browser.state(f"{measured}/frames")
    with (bench / "bench.toml").open("a") as stream:
        stream.write("# somebody else\n")
    before = (bench / "bench.toml").read_bytes()
    answer = browser.form(f"{measured}/frames/leave-out", state=state, path="f0.dng", reason="x")
    assert answer.status_code == 422
    assert "was changed since this was shown to you" in answer.text
    assert (bench / "bench.toml").read_bytes() == before


def test_of_two_writers_one_wins_and_the_other_hears_of_it(browser, measured, bench):
    state = browser.state(f"{measured}/frames")
    answers = []

    def send(k):
        answers.append(browser.form(f"{measured}/frames/leave-out", state=state,
                                    path=f"f{k}.dng", reason="x").status_code)  # fmt: skip

    both = [threading.Thread(target=send, args=(k,)) for k in range(2)]
    for one in both:
        one.start()
    for one in both:
        one.join()
    assert sorted(answers) == [303, 422]
    assert len(read_bench_file(bench).frames) == 1


def test_a_reason_is_needed(browser, measured):
    state = browser.state(f"{measured}/frames")
    answer = browser.form(f"{measured}/frames/leave-out", state=state, path="f0.dng", reason=" ")
    assert answer.status_code == 422
    assert "no reason given" in answer.text


def test_a_broken_bench_file_is_told_with_its_line(browser, measured, bench):
    (bench / "bench.toml").write_text("[body]\nname = 3\n")
    answer = browser.get(f"{measured}/ranking")
    assert answer.status_code == 422
    assert "bench.toml, line 2" in answer.text


def test_the_choice_is_kept_for_all_commands(browser, measured, bench):
    answer = browser.form(f"{measured}/ranking/keep", state=browser.state(f"{measured}/ranking"),
                          purpose="phone", release="remote", limit="0.4", stars="70")  # fmt: skip
    assert answer.status_code == 303
    kept = read_bench_file(bench)
    assert (kept.purpose.words, kept.time.release) == ("phone", "remote")
    assert (kept.limit.percent, kept.score.a) == (0.4, 0.7)


@pytest.mark.parametrize("name", ["a.dng", "a[1].dng", "we?rd*.dng"])
def test_the_pattern_of_a_name_fits_that_name_alone(name):
    import fnmatch

    assert fnmatch.fnmatchcase(name, exactly(name))
    assert not fnmatch.fnmatchcase("aXdng", exactly(name))
    assert not fnmatch.fnmatchcase(name.replace("?", "x").replace("1", "2") + "x", exactly(name))


def test_a_change_that_can_not_be_used_is_not_written(bench):
    found = read_bench_file(bench)
    before = found.path.read_bytes()
    with pytest.raises(BenchFileError):
        change_bench(found, state_of(found), leave_out("f.dng", "x" * 500))
    with pytest.raises(ChangedSinceError):
        change_bench(found, "old", take_in("f.dng"))
    assert found.path.read_bytes() == before
