"""What was worked out from files beside the bench, kept in its store and found again.

A result is found by what it came from: the content of the file, the question that was asked, and
the code that answered. A changed frame, another question and a mended program all measure again.
"""

from __future__ import annotations

import hashlib
from collections.abc import Callable
from functools import lru_cache
from importlib.resources import files
from pathlib import Path
from typing import TypeVar

from nightglass.bench.errors import StoreError
from nightglass.bench.store.packing import LayoutError, pack, unpack
from nightglass.bench.store.store import Store

Record = TypeVar("Record")


@lru_cache(maxsize=1)
def code_stamp() -> str:
    """Return a hash of the program's own source, so that a result never outlives its code."""
    root = Path(str(files("nightglass")))
    digest = hashlib.blake2b(digest_size=16)
    for path in sorted(root.rglob("*.py")):
        digest.update(path.relative_to(root).as_posix().encode())
        digest.update(path.read_bytes())
    return digest.hexdigest()


def question_key(content_hash: str, *asked: object) -> str:
    """Return the key of a result: content of the file, what was asked (see pack), the code."""
    digest = hashlib.blake2b(pack((content_hash, asked, code_stamp())), digest_size=24)
    return digest.hexdigest()


def as_record(content: bytes | None, record: type[Record]) -> Record | None:
    """Return what was kept, as the record it was; None where there is none that can be read."""
    if content is None:
        return None
    try:
        found = unpack(content)
    except LayoutError:
        return None
    return found if isinstance(found, record) else None


class Keeper:
    """Finds and keeps the results of one kind; without a store it finds and keeps nothing.

    on_fault: told the reason where a result can't be kept; it still counts.
    """

    def __init__(self, store: Store | None, kind: str, on_fault: Callable[[str], None]) -> None:
        self._store, self._kind, self._on_fault = store, kind, on_fault

    def find(self, key: str, record: type[Record]) -> Record | None:
        """Return the result under a key; None where there is none that can be read."""
        content = None if self._store is None else self._store.find(self._kind, key)
        return as_record(content, record)

    def keep(self, key: str, record: object, kind: str = "") -> None:
        """Keep a result under its key; kind: another than the keeper's own."""
        if self._store is None:
            return
        try:
            self._store.keep_content(kind or self._kind, key, pack(record))
        except StoreError as error:
            self._on_fault(str(error))
