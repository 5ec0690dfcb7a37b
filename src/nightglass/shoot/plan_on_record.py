"""The plan that was made last, kept in the bench's store: the watch goes by it."""

from __future__ import annotations

from nightglass.bench.kept import as_record
from nightglass.bench.store.packing import pack
from nightglass.bench.store.store import Store
from nightglass.shoot.records import BenchPlan

_SUBJECT, _KEY = "bench plan", "last"


def keep_plan(store: Store, plan: BenchPlan) -> None:
    """Keep a plan in place of the one before. Raises StoreError."""
    store.keep_content(_SUBJECT, _KEY, pack(plan))


def last_plan(store: Store) -> BenchPlan | None:
    """Return the plan that was kept last; None where there is none that this version can read."""
    return as_record(store.find(_SUBJECT, _KEY), BenchPlan)
