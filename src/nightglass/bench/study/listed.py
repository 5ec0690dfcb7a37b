"""The kinds of study that there are: a new one is a file in this room and a line here."""

from __future__ import annotations

from typing import Any

from nightglass.bench.store.store import Store
from nightglass.bench.study.focus import FOCUS
from nightglass.bench.study.repeats import REPEATS
from nightglass.bench.study.sessions import SESSIONS
from nightglass.bench.study.study import Study, bring_up_to_date
from nightglass.gear.benchfile import BenchFile

STUDIES: tuple[Study[Any], ...] = (REPEATS, SESSIONS, FOCUS)


def bring_all_up_to_date(store: Store, bench: BenchFile) -> None:
    """Put the results of every study into its table, body by body, where they have changed.

    Those that take seconds wait until they are asked for. Raises StoreError.
    """
    for study in STUDIES:
        for body in bench.bodies if not study.when_asked else ():
            bring_up_to_date(study, store, bench.on_body(body.name))
