"""Frames that belong together: each once, of one body and mode, with an ISO."""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass, field, replace

import numpy as np

from nightglass.gear.body import Body, same_body, same_size
from nightglass.sensor.codes import Finding, LeftOut, Role
from nightglass.sensor.look import FrameLook
from nightglass.sensor.records import Said, Taken

NAMED_ISO = re.compile(r"(?<![a-z])iso[ _-]?(\d{2,7})", re.IGNORECASE)


@dataclass
class Sorting:
    """Frames on their way; each is left out once or has a role."""

    iso: dict[str, int] = field(default_factory=dict)
    taken: dict[str, Taken] = field(default_factory=dict)
    findings: list[Said] = field(default_factory=list)

    def leave(self, one: FrameLook, reason: LeftOut, **values: float | str) -> None:
        self.taken[one.name] = replace(
            self._of(one, Role.LEFT_OUT), reason=reason, values=dict(values)
        )

    def take(self, one: FrameLook, role: Role) -> None:
        self.taken[one.name] = self._of(one, role)

    def _of(self, one: FrameLook, role: Role) -> Taken:
        green = one.green
        span = one.white[green.number] - one.black[green.number]
        level = float(np.nanmean(one.cells[..., green.number]) - one.black[green.number])
        return Taken(
            one.name,
            role,
            self.iso.get(one.name, one.metadata.iso),
            one.metadata.exposure_true_s,
            100 * level / float(span),
            path=one.path,
        )


def once(looks: Sequence[FrameLook], work: Sorting) -> list[FrameLook]:
    """Return the frames without second copies of a file."""
    seen: dict[str, str] = {}
    kept = []
    for one in looks:
        if one.content_hash and one.content_hash in seen:
            work.leave(one, LeftOut.SAME_FILE, other=seen[one.content_hash])
        else:
            seen[one.content_hash] = one.name
            kept.append(one)
    return kept


def of_one_body(
    looks: Sequence[FrameLook], body: Body | None, work: Sorting
) -> tuple[list[FrameLook], str | None, str | None]:
    """The frames of the bench's body, else of the body with most frames."""
    named = [one.metadata.body for one in looks if one.metadata.body]
    most = Counter(named).most_common(1)[0][0] if named else None
    kept = []
    for one in looks:
        own = one.metadata.body
        fits = own is None or (same_body(own, body) if body else own == most)
        if fits:
            kept.append(one)
        else:
            work.leave(
                one, LeftOut.OTHER_BODY, body=own or "", other=body.name if body else str(most)
            )
    serials = Counter(one.metadata.body_serial for one in kept if one.metadata.body_serial)
    serial = body.serial if body and body.serial in serials else None
    if serial is None and serials:
        serial = serials.most_common(1)[0][0]
    same = []
    for one in kept:
        if one.metadata.body_serial in (None, serial):
            same.append(one)
        else:
            values = {"body": f"serial {one.metadata.body_serial}", "other": f"serial {serial}"}
            work.leave(one, LeftOut.OTHER_BODY, **values)
    if same and any(one.metadata.body is None for one in same):
        count = sum(one.metadata.body is None for one in same)
        work.findings.append(Said(Finding.BODY_UNKNOWN, {"frames": count}))
    names = Counter(one.metadata.body for one in same if one.metadata.body)
    return same, (names.most_common(1)[0][0] if names else None), serial


def of_one_size(looks: Sequence[FrameLook], body: Body | None, work: Sorting) -> list[FrameLook]:
    """Frames of the size, mosaic and white level that most have: a raw mode of its own differs.

    Frames with the pixels of the bench's body come first: others may be of another body.
    """
    if not looks:
        return []
    fits = [one for one in looks if body and same_size(one.shape[1::-1], body)]
    mode = Counter(_mode(one) for one in fits or looks).most_common(1)[0][0]
    for one in looks:
        if _mode(one) != mode:
            size = f"{one.shape[1]} x {one.shape[0]} px, white {np.nanmax(one.white):g}"
            other = f"{mode[0][1]} x {mode[0][0]} px, white {mode[2]:g}"
            work.leave(one, LeftOut.OTHER_MODE, mode=size, other=other)
    return [one for one in looks if _mode(one) == mode]


def _mode(one: FrameLook) -> tuple[tuple[int, int], bytes, float]:
    return one.shape, one.pattern.tobytes(), float(np.nanmax(one.white))


def has_iso(one: FrameLook, work: Sorting) -> bool:
    """Metadata first; the name alone where they have none. A name that differs is told."""
    found = NAMED_ISO.search(one.name)
    named, recorded = (int(found[1]) if found else None), one.metadata.iso
    iso = recorded or named
    if iso is None:
        work.leave(one, LeftOut.ISO_UNKNOWN)
        return False
    work.iso[one.name] = iso
    if recorded is None:
        work.findings.append(Said(Finding.ISO_FROM_NAME, {"file": one.name, "iso": iso}))
    elif named is not None and named != recorded:
        values: dict[str, float | str] = {"file": one.name, "named": named, "iso": recorded}
        work.findings.append(Said(Finding.ISO_NAME_DIFFERS, values))
    return True
