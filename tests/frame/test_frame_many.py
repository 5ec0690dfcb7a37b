"""Many frames: order, cores, and what happens when the reader stops."""

from __future__ import annotations

import threading
import time
from functools import cache

import pytest

from nightglass.frame.many import cores, in_order
from nightglass.sky.astrometry import catalogue, patterns


def test_results_come_in_order_whatever_takes_longest():
    def job(k: int) -> int:
        time.sleep(0.02 if k % 2 == 0 else 0.0)
        return k * k

    assert list(in_order(job, range(9), 3)) == [k * k for k in range(9)]
    assert list(in_order(job, [], 3)) == []


def test_two_jobs_run_at_once():
    both = threading.Barrier(2, timeout=5)
    assert len(list(in_order(lambda _: both.wait(), range(4), 2))) == 4


def test_only_a_few_are_begun_ahead_and_none_after_a_stop():
    begun: list[int] = []
    results = in_order(lambda k: begun.append(k) or k, range(100), 2)
    assert next(results) == 0
    time.sleep(0.05)
    assert len(begun) <= 4
    results.close()
    time.sleep(0.05)
    assert len(begun) <= 4


def test_an_error_of_a_job_reaches_the_reader():
    def job(k: int) -> int:
        if k == 2:
            raise OSError("disk full")
        return k

    results = in_order(job, range(5), 2)
    assert [next(results), next(results)] == [0, 1]
    with pytest.raises(OSError, match="disk full"):
        next(results)


def test_workers_under_one_are_refused():
    assert cores() >= 1
    with pytest.raises(ValueError, match="workers is 0; it takes at least one"):
        next(in_order(str, [1], 0))


def test_threads_that_begin_together_read_catalogue_and_patterns_once(monkeypatch):
    begun: list[str] = []

    def slow(name):
        def made(*_args, **_options):
            begun.append(name)
            time.sleep(0.05)
            return name

        return made

    monkeypatch.setattr(catalogue, "read_stars", slow("stars"))
    monkeypatch.setattr(catalogue, "_bundled_stars", cache(catalogue._bundled_stars.__wrapped__))
    monkeypatch.setattr(patterns, "_made_or_kept", cache(slow("patterns")))
    both = [catalogue.load_stars, patterns.pattern_database]
    results = list(in_order(lambda k: both[k % 2](), range(8), 8))
    assert results == ["stars", "patterns"] * 4
    assert sorted(begun) == ["patterns", "stars"]
