"""What a run has to do: which files are new, changed, the same as others, moved or gone."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from pathlib import Path

from nightglass.bench.assign import rule_for
from nightglass.bench.bodies import known_gain, seen_on_record
from nightglass.bench.files import Found, FoundFile, fingerprint, hash_file
from nightglass.bench.measuring.jobs import Job
from nightglass.bench.store.rows import FrameOnRecord
from nightglass.gear.benchfile import BenchFile, FrameRule
from nightglass.gear.body import Body


@dataclass
class Plan:
    """The work of one run; paths are below frames/."""

    jobs: list[Job] = field(default_factory=list)
    fingerprints: dict[str, str] = field(default_factory=dict)
    unchanged: list[FoundFile] = field(default_factory=list)
    duplicates: list[tuple[FoundFile, str, str]] = field(default_factory=list)
    """(file, path of the same content, hash)"""
    moved: list[tuple[FoundFile, str]] = field(default_factory=list)
    """(file, path under which it is on record)"""
    missing: list[str] = field(default_factory=list)
    unreadable: list[tuple[str, str]] = field(default_factory=list)


def plan_run(
    folder: Path,
    found: Found,
    on_record: Mapping[str, FrameOnRecord],
    bench: BenchFile,
    *,
    check: bool = False,
) -> Plan:
    """Return what is to be done; reads pieces of new files, and whole ones that may be the same.

    A file of the size and the time of change on record counts as unchanged. check: read every file
    whole and compare it with its hash on record.
    """
    plan = Plan()
    files = found.files
    # What lies in a folder that can't be read is not gone: it stays on record as it is.
    closed = [place for place, _ in found.unreadable]
    hidden = {path for path in on_record if any(_lies_below(path, place) for place in closed)}
    here = {file.path for file in files} | hidden
    plan.missing = [path for path in on_record if path not in here]
    said = {file.path: rule_for(file.path, bench.frames) for file in files}
    new: list[FoundFile] = []
    for file in files:
        if _answers(file, on_record, _Asked(said[file.path], bench.bodies), here) and _same_content(
            file, on_record[file.path], folder, check
        ):
            plan.unchanged.append(file)
        else:
            new.append(file)
    settled = {file.path for file in plan.unchanged} | set(plan.missing) | hidden
    # What a new file may be the same as: records that stay as they are, by their fingerprint.
    known = _Contents(folder)
    for path in sorted(settled):
        if path in on_record and on_record[path].state == "measured":
            known.add(on_record[path].fingerprint, path, on_record[path].content_hash)
    for file in new:
        _place_new(plan, file, known, on_record, _Asked(said[file.path], bench.bodies))
    return plan


def _lies_below(path: str, folder: str) -> bool:
    return folder == "." or path == folder or path.startswith(f"{folder}/")


@dataclass(frozen=True)
class _Asked:
    """What bench.toml says of a file and that changes its measurement."""

    said: FrameRule
    bodies: tuple[Body, ...]

    def fits(self, record: FrameOnRecord) -> bool:
        iso = self.said.iso or record.metadata.iso
        gain = known_gain(seen_on_record(record), iso, self.bodies, self.said.body)
        return record.near_px == self.said.near_px and record.gain_e_per_count == gain


class _Contents:
    """Files by content: whole files are read only where fingerprints meet."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        self._by_fingerprint: dict[str, list[tuple[str, str | None]]] = {}

    def add(self, print_: str, path: str, content_hash: str | None = None) -> None:
        self._by_fingerprint.setdefault(print_, []).append((path, content_hash))

    def same_as(self, print_: str, path: str) -> tuple[str, str] | None:
        """(path, hash) of a known file with the same content."""
        others = self._by_fingerprint.get(print_)
        if not others:
            return None
        mine = hash_file(self.folder / path)
        hashes = ((other, its or hash_file(self.folder / other)) for other, its in others)
        return next(((other, mine) for other, its in hashes if its == mine), None)


def _answers(
    file: FoundFile,
    on_record: Mapping[str, FrameOnRecord],
    asked: _Asked,
    here: set[str],
) -> bool:
    """Whether what is on record of a file answers what is asked now, if its content is the same."""
    record = on_record.get(file.path)
    if record is None or record.try_again:
        return False
    if record.state == "duplicate":
        original = on_record.get(record.same_as or "")
        if original is None or original.path not in here:
            return False
        if original.content_hash != record.content_hash:
            return False
    elif not asked.fits(record):
        return False
    return True


def _same_content(file: FoundFile, record: FrameOnRecord, folder: Path, check: bool) -> bool:
    same_outside = (file.size_bytes, file.modified_ns) == (record.size_bytes, record.modified_ns)
    if same_outside and not check:
        return True
    if not record.content_hash or file.size_bytes != record.size_bytes:
        return False
    try:
        return hash_file(folder / file.path) == record.content_hash
    except OSError:
        return False


def _place_new(
    plan: Plan,
    file: FoundFile,
    known: _Contents,
    on_record: Mapping[str, FrameOnRecord],
    asked: _Asked,
) -> None:
    on_disk = known.folder / file.path
    try:
        print_ = fingerprint(on_disk, file.size_bytes)
        same = known.same_as(print_, file.path)
    except OSError as error:
        plan.unreadable.append((file.path, error.strerror or str(error)))
        return
    if same is not None and same[0] in plan.missing:
        if asked.fits(on_record[same[0]]) and same[0] not in {old for _, old in plan.moved}:
            plan.moved.append((file, same[0]))
            return
    elif same is not None:
        plan.duplicates.append((file, *same))
        return
    plan.fingerprints[file.path] = print_
    plan.jobs.append(
        Job(
            file.path,
            str(on_disk),
            file.size_bytes,
            file.modified_ns,
            asked.said.near_px,
            asked.said.iso,
            asked.bodies,
            asked.said.body,
        )
    )
    known.add(print_, file.path)
