"""The watch over a bench of pretended files: the line of each frame, its word, what comes next."""

import time

import pytest
from bench_fakes import BENCH_TOML, MEASURER, OPENER, fake_file

from nightglass.bench.store.store import open_store
from nightglass.gear.bag import read_bench_file
from nightglass.shoot.asked import Asked
from nightglass.shoot.codes import FrameWord
from nightglass.shoot.plan import plan_bench
from nightglass.shoot.plan_on_record import keep_plan, last_plan
from nightglass.shoot.watcher import Began, FaultyBench, Said, WatchOptions, watch_folder

X, Y = 1935.5, 1295.5


@pytest.fixture
def folder(tmp_path):
    made = tmp_path / "Käfer bench"
    (made / "frames").mkdir(parents=True)
    (made / "bench.toml").write_text(BENCH_TOML, encoding="utf-8")
    return made


def plan_on_record(folder, **asked):
    bench = read_bench_file(folder)
    store = open_store(bench)
    plan = plan_bench(bench, Asked(lenses=("Wren",), repeats=2, **asked))
    keep_plan(store, plan)
    assert last_plan(store) == plan
    store.close()
    return plan


def watched(folder, *deeds, seconds=20):
    """Watch while deeds are done one after the other, each when all before have been said."""
    todo, events, until = list(deeds), [], time.monotonic() + seconds
    expected = 1

    def goes_on():
        nonlocal expected
        if len(events) >= expected:
            if not todo:
                return False
            todo.pop(0)()
            expected += 1
        return time.monotonic() < until

    options = WatchOptions(measurer=MEASURER, opener=OPENER, goes_on=goes_on)
    for event in watch_folder(folder, options):
        events.append(event)
    assert not todo
    return events


def shot(folder, name, **said):
    return lambda: fake_file(folder / "frames" / name, **{"x": X, "y": Y, "f_number": 2.0, **said})


def test_frames_are_matched_judged_and_followed_by_what_comes_next(folder):
    plan = plan_on_record(folder)
    began, *said = watched(
        folder,
        shot(folder, "1.dng"),
        shot(folder, "2.dng", x=X + 4),
        shot(folder, "3.dng", x=X + 8, flags=("clipped",), length=None, peak=1.0),
        shot(folder, "4.dng", x=3484, y=2280),
        shot(folder, "5.dng", f_number=11.0),
        shot(folder, "6.dng", lens="Stranger"),
    )
    assert isinstance(began, Began)
    assert not began.planned_now
    assert not began.plan_is_old
    assert began.now.next.line is plan.blocks[0].lines[0] or began.now.next.round == 1
    assert all(isinstance(event, Said) for event in said)
    one, two, three, four, five, six = (event.frame for event in said)
    assert (one.line.id, one.number, one.words) == (plan.lines[0].id, 1, (FrameWord.NOT_COMPARED,))
    assert (two.line.id, two.number, two.words) == (plan.lines[0].id, 2, (FrameWord.GOOD,))
    assert (three.words, three.again, three.number) == ((FrameWord.CLIPPED,), True, 3)
    assert three.expose.marked_s == pytest.approx(0.25)
    assert (four.place, four.line.place, four.number) == ("corner", "corner", 1)
    assert FrameWord.NO_LINE in five.words
    assert six.words == (FrameWord.NOT_USED,)
    assert six.reason.startswith('the lens "Stranger" is not in the bag')
    after = said[3].now
    # Two good frames of three at the reference; the frame in the corner is of a later block.
    assert (after.next.round, after.next.refocus, after.next.line.id) == (3, True, plan.lines[0].id)
    assert after.next.frames_left == plan.total.frames - 3
    assert all(0 < event.seconds < 10 for event in said)


def test_nothing_planned_makes_the_plan_from_the_bench(folder):
    shot(folder, "old.dng")()
    (began,) = watched(folder)
    assert began.planned_now
    assert began.measured_first == 1
    assert sum(began.now.filled.counts.values()) == 1


def test_plan_older_than_the_bench_is_told(folder):
    plan_on_record(folder)
    text = (folder / "bench.toml").read_text("utf-8")
    (folder / "bench.toml").write_text(text.replace("f_number = 2\n", "f_number = 2.2\n"), "utf-8")
    (began,) = watched(folder)
    assert began.plan_is_old


def test_bench_file_mended_while_watching_counts_at_once(folder):
    plan_on_record(folder)
    text = (folder / "bench.toml").read_text("utf-8")

    def write(more):
        time.sleep(0.02)
        (folder / "bench.toml").write_text(text + more, "utf-8")

    def mend_and_shoot():
        write('[[frames]]\nmatch = "2*"\nlens = "Wren"\n')
        shot(folder, "2.dng", lens=None)()

    _, fault, said = watched(folder, lambda: write("nonsense"), mend_and_shoot)
    assert isinstance(fault, FaultyBench)
    assert "not valid TOML" in fault.problems[0]
    assert said.frame.line is not None


def test_plan_of_another_version_is_not_read(folder):
    plan_on_record(folder)
    store = open_store(read_bench_file(folder))
    store.keep_content("bench plan", "last", b"rubbish")
    assert last_plan(store) is None
    store.close()
