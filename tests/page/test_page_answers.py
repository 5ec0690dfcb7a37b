"""Answers outlive the page: kept beside the bench, shown with their date, known to be old."""

import threading
from datetime import date

import page_questions
import pytest
from page_browser import Browser, wait_for

from nightglass.gear.bag import read_bench_file
from nightglass.gear.sensorfile import MeasuredSensor
from nightglass.page import answers
from nightglass.page.asks import Ask, Typed, nothing
from nightglass.page.benches import Benches
from nightglass.page.jobs import Told
from nightglass.page.session import Session
from nightglass.page.steps.asked import _work


@pytest.fixture
def again(browser):
    """A browser of the next run of the page."""
    old = browser.session
    session = Session(Benches(old.benches._file), old.port, opener=old.opener,
                      measurer=old.measurer, works_ahead=False)  # fmt: skip
    yield Browser(session).enter()
    session.jobs.stop_all()


@pytest.fixture
def asked(browser, measured, bench):
    """The bench after one question was answered."""
    browser.form(f"{measured}/checks/faults")
    browser.wait(bench, "faults")
    return measured


def ask_of(run):
    return Ask("faults", "Faults", "", "Look", nothing, run)


def test_an_answer_is_shown_by_the_next_run_with_its_date(browser, again, asked, bench):
    before = browser.get(f"{asked}/checks/faults/answer").text
    after = again.get(f"{asked}/checks/faults/answer").text
    kept = answers.last(read_bench_file(bench), "faults")
    assert f"Answered {kept.at}." in after
    assert "ask again" not in after
    clean = [text.replace(one.session.form_key, "") for text, one in
             ((before, browser), (after, again))]  # fmt: skip
    assert clean[0] == clean[1]
    assert f"Answered {kept.at}." in again.get(f"{asked}/checks").text


@pytest.mark.parametrize(
    ("change", "words"),
    [
        ("bench.toml", "Made before the last change of bench.toml: ask again."),
        ("sensor.json", "Made before the last change of sensor.json: ask again."),
        ("frames", "Made before the last change of what is measured: ask again."),
    ],
)
def test_an_old_answer_says_what_has_changed_since(browser, asked, bench, change, words):
    if change == "frames":
        from bench_fakes import fake_file

        fake_file(bench / "frames" / "late.dng")
        browser.form(f"{asked}/frames/measure")
        browser.wait(bench, "measuring")
    elif change == "sensor.json":
        sensor = MeasuredSensor(body="Loan body", measured_on=date(2027, 5, 6))
        (bench / change).write_text(sensor.model_dump_json())
    else:
        with (bench / change).open("a") as stream:
            stream.write("# more\n")
    assert words in browser.get(f"{asked}/checks/faults/answer").text


def test_dropped_files_make_the_answers_of_their_step_old(bench):
    found = read_bench_file(bench)
    answers.keep(found, "map", {}, Told(("one",)), answers.behind(found, "sky", 0))
    (bench / "sky").mkdir()
    (bench / "sky" / "a.dng").write_bytes(b"x")
    kept = answers.last(found, "map")
    assert answers.changed(kept, answers.behind(found, "sky", 0)) == ("the files in sky/",)
    assert answers.changed(kept, kept.behind) == ()


def test_work_that_was_cut_off_goes_on_with_one_button(again, measured, bench):
    answers.begin(read_bench_file(bench), "night", {"at": '46.2 N "8.3" E', "date": "2027-05-06"})
    page = again.get(f"{measured}/night").text
    assert "then the page was closed" in page
    assert 'name="at" value="46.2 N &#34;8.3&#34; E"' in page
    again.form(f"{measured}/night/night", at="46.2 N 8.3 E", zone="UTC+2", date="2027-05-06")
    again.wait(bench, "night")
    assert answers.cut_off(read_bench_file(bench), "night") is None
    page = again.get(f"{measured}/night").text
    assert "then the page was closed" not in page
    assert 'value="2027-05-06"' in page


def test_the_end_of_the_page_leaves_the_work_to_be_taken_up_and_a_stop_does_not(
    browser, measured, bench
):
    found, jobs = read_bench_file(bench), browser.session.jobs
    for by_person in (False, True):
        work = _work(ask_of(page_questions.goes_on), found, Typed({"a": "b"}), {})
        job = jobs.start(bench, "faults", "Faults", work)
        wait_for(lambda job=job: job.total)
        if by_person:
            browser.form(f"{measured}/checks/faults/stop")
            browser.wait(bench, "faults")
        else:
            jobs.stop_all()
        assert job.state == "stopped"
        assert (answers.cut_off(found, "faults") is None) == by_person
    assert "Stopped. What was put on record stays." in browser.get(f"{measured}/checks").text


def test_work_that_ends_while_the_page_is_made_is_asked_for_again(
    browser, measured, bench, monkeypatch
):
    from nightglass.page.steps import asked

    wanted = threading.Event()
    browser.session.jobs.start(
        read_bench_file(bench).folder, "faults", "Faults", lambda tell: wanted.wait(60) and Told()
    )
    seen = asked.answers.last

    def last(*of):
        found = seen(*of)
        wanted.set()
        browser.wait(bench, "faults")
        return found

    monkeypatch.setattr(asked.answers, "last", last)
    address = f"{measured}/checks/faults/answer"
    assert 'hx-trigger="every 1s"' in browser.get(address).text
    assert "hx-trigger" not in browser.get(address).text


def test_a_fault_ends_the_work_and_the_answer_before_stays(browser, asked, bench):
    found = read_bench_file(bench)
    work = _work(ask_of(page_questions.refuses), found, Typed({}), {})
    browser.session.jobs.start(bench, "faults", "Faults", work)
    browser.wait(bench, "faults")
    assert answers.cut_off(found, "faults") is None
    text = browser.get(f"{asked}/checks/faults/answer").text
    assert "nothing to measure; drop frames first" in text
    assert "Answered " in text


def test_the_newest_is_shown_and_only_so_many_are_kept(bench, monkeypatch):
    found = read_bench_file(bench)
    monkeypatch.setattr(answers, "MOST_KEPT", 3)
    for k in range(6):
        answers.keep(found, "night", {"date": str(k)}, Told((str(k),)), {})
    assert answers.last(found, "night").told.parts == ("5",)
    answers.keep(found, "night", {"date": "4"}, Told(("anew",)), {})
    assert answers.last(found, "night").told.parts == ("anew",)
    assert len(list((bench / "answers" / "night").iterdir())) == 3


def test_two_that_keep_at_once_leave_one_whole_answer(bench):
    found = read_bench_file(bench)
    both = [threading.Thread(target=answers.keep, args=(found, "x", {}, Told((c * 9999,)), {}))
            for c in "ab"]  # fmt: skip
    for one in both:
        one.start()
    for one in both:
        one.join()
    assert answers.last(found, "x").told.parts in (("a" * 9999,), ("b" * 9999,))
    assert len(list((bench / "answers" / "x").iterdir())) == 1


@pytest.mark.parametrize("content", [b"", b"junk", b"\x80\x04cos\nsystem\n(S'true'\ntR."])
def test_a_damaged_or_foreign_answer_counts_as_none(browser, measured, bench, content):
    folder = bench / "answers" / "faults"
    folder.mkdir(parents=True)
    (folder / "x.answer").write_bytes(content)
    (folder / "begun").write_bytes(content)
    page = browser.get(f"{measured}/checks")
    assert page.status_code == 200
    assert "Answered" not in page.text


def test_files_of_an_answer_are_shown_only_below_out(browser, measured, bench, tmp_path):
    (tmp_path / "secret.svg").write_text("secret")
    (bench / "out").mkdir()
    (bench / "out" / "good.svg").write_text("<svg/>")
    paths = (bench / "out" / "good.svg", bench / "bench.toml", tmp_path / "secret.svg",
             bench / "out" / ".." / "bench.toml")  # fmt: skip
    told = Told(("<script>alert(1)</script>",), paths)
    answers.keep(read_bench_file(bench), "faults", {}, told, {})
    page = browser.get(f"{measured}/checks").text
    assert "/out/good.svg" in page
    assert "secret" not in page
    assert "/out/../" not in page
    assert "<script>alert" not in page
