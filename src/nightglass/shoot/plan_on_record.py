"""The plan that was made last, kept in the bench's store: the watch goes by it."""

from __future__ import annotations

from nightglass.bench.kept import as_record
from nightglass.bench.store.packing import pack
from nightglass.bench.store.store import Store, open_store
from nightglass.gear.benchfile import BenchFile
from nightglass.shoot.asked import Asked
from nightglass.shoot.plan import known_of, plan_bench
from nightglass.shoot.records import BenchPlan

_SUBJECT, _KEY = "bench plan", "last"


def plan_and_keep(bench: BenchFile, asked: Asked) -> BenchPlan:
    """Return a plan that knows what is on record; it is kept for the watch and the page.

    Raises StoreError, and ValueError as plan_bench does.
    """
    store = open_store(bench)
    try:
        made = plan_bench(bench, asked, known_of(store, bench))
        keep_plan(store, made)
        return made
    finally:
        store.close()


def keep_plan(store: Store, plan: BenchPlan) -> None:
    """Keep a plan in place of the one before. Raises StoreError."""
    store.keep_content(_SUBJECT, _KEY, pack(plan))


def last_plan(store: Store) -> BenchPlan | None:
    """Return the plan that was kept last; None where there is none that this version can read."""
    return as_record(store.find(_SUBJECT, _KEY), BenchPlan)
