"""Questions answered in a process apart: whatever a file does costs its question only."""

import multiprocessing
import os
import sys
import time

import page_questions
import pytest
from page_browser import wait_for

from nightglass.bench.errors import BenchError
from nightglass.gear.bag import read_bench_file
from nightglass.page import apart
from nightglass.page.apart import answered_apart, question_bytes
from nightglass.page.asks import Typed
from nightglass.page.jobs import StoppedError
from nightglass.page.steps.asked import ASKED

REMEDY = (
    "; take away or crop the files that are larger than the others, or ask with fewer files. What "
    "was put on record stays"
)
APART = {"map", "proof", "sensor", "flats", "finish"}
"""Every question that opens files that were dropped."""


@pytest.fixture
def told():
    return []


@pytest.fixture
def ask(bench, told):
    def asked(run, **options):
        found = read_bench_file(bench)
        return answered_apart(run, found, Typed(options.pop("typed", {})),
                              lambda *said: told.append(said), **options)  # fmt: skip

    return asked


def test_every_question_that_opens_files_is_answered_apart():
    asks = [one for step in ASKED.values() for one in step.asks]
    assert {one.key for one in asks if one.reads_files} == APART


def test_the_answer_and_the_progress_come_back(ask, told, bench):
    answer = ask(page_questions.answers, typed={"words": "Käfer"})
    assert answer.parts[0] == "Käfer"
    assert answer.parts[1] != str(os.getpid())
    assert answer.files == (bench / "out" / "a.svg",)
    assert (1, 2, "a.dng") in told


@pytest.mark.skipif(sys.platform != "linux", reason="memory is limited on Linux only")
def test_a_file_that_eats_memory_ends_its_question_in_words(ask):
    with pytest.raises(BenchError) as caught:
        ask(page_questions.eats, memory_bytes=1 << 30)
    assert str(caught.value) == f"large.dng: this needs more memory than 1 GB{REMEDY}"


def test_a_file_that_breaks_the_decoder_ends_its_question_in_words(ask):
    with pytest.raises(BenchError) as caught:
        ask(page_questions.dies)
    assert str(caught.value) == f"broken.dng: the program that read it broke down{REMEDY}"


def test_a_file_that_takes_for_ever_is_given_up_and_its_process_ended(ask, tmp_path):
    note = tmp_path / "note"
    with pytest.raises(BenchError) as caught:
        ask(page_questions.hangs, typed={"note": str(note)}, quiet_s=3.0)
    assert str(caught.value) == f"endless.dng: took longer than 3 s{REMEDY}"
    with pytest.raises(ProcessLookupError):
        os.kill(int(note.read_text()), 0)


def test_an_error_of_the_program_is_told_from_one_of_the_person(ask):
    with pytest.raises(BenchError, match=r"program itself \(KeyError\); please report it"):
        ask(page_questions.is_wrong)
    with pytest.raises(BenchError, match="nothing to measure; drop frames first"):
        ask(page_questions.refuses)


def test_it_stops_when_the_person_wants(bench):
    began, said = time.monotonic(), []

    def tell(*progress):
        said.append(progress)
        if progress[1]:
            raise StoppedError

    with pytest.raises(StoppedError):
        answered_apart(page_questions.goes_on, read_bench_file(bench), Typed({}), tell)
    assert said[-1] == (1, 9, "one of many.dng")
    assert time.monotonic() - began < 60


def test_the_limit_of_memory_fits_the_machine():
    one, whole = 4 << 30, os.sysconf("SC_PHYS_PAGES") * os.sysconf("SC_PAGE_SIZE")
    assert one <= question_bytes() <= max(one, whole)


def test_the_process_ends_when_the_page_is_gone(bench, tmp_path):
    """A page that is killed closes its end of the pipe and does nothing else."""
    note = tmp_path / "note"
    here, there = multiprocessing.Pipe()
    args = page_questions.hangs, read_bench_file(bench), {"note": str(note)}, 4 << 30, there
    process = apart._start(apart._context(), args)
    there.close()
    wait_for(lambda: note.exists() and note.read_text() != "")
    assert process.is_alive()
    here.close()
    process.join(30)
    assert process.exitcode == 1
