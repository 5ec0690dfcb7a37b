"""Frames of the sky in a bench folder, read and compared; unchanged ones come from the store."""

from __future__ import annotations

import hashlib
from collections.abc import Callable, Iterator, Sequence
from dataclasses import replace

from nightglass.bench.assign import NotUsed
from nightglass.bench.files import hash_file
from nightglass.bench.kept import Keeper, question_key
from nightglass.bench.skyframes import SkyFile, sky_belongs
from nightglass.bench.store.packing import pack
from nightglass.frame.errors import FrameError, in_one_line
from nightglass.frame.many import in_order
from nightglass.frame.open import open_frame
from nightglass.proof.frames import Bench, sky_frame
from nightglass.proof.records import SkyFrame
from nightglass.sky.observe import observe

KIND = "proof frame"


def compared_frames(
    files: Sequence[SkyFile], bench: Bench, keeper: Keeper, on_fault: Callable[[str], None]
) -> Iterator[SkyFrame]:
    """Yield every file's frame in order: found in the store, else measured and kept there.

    Frames that can't be read or compared keep their reason; they are tried again each time.
    """
    stamp = bench_stamp(bench)

    def job(file: SkyFile) -> tuple[str | None, SkyFrame]:
        key = _key(file, stamp)
        known = None if key is None else keeper.find(key, SkyFrame)
        if known is not None:
            return None, known
        frame = frame_of(file, bench)
        return (key if frame.reason is None else None), frame

    for key, frame in in_order(job, files):
        if key is not None:
            keeper.keep(key, frame, on_fault)
        yield frame


def bench_stamp(bench: Bench) -> str:
    """Return a hash of all that a frame is compared with: results, bench.toml, place."""
    file = replace(bench.file, path=None)
    return hashlib.blake2b(pack((bench.results, file, bench.place)), digest_size=16).hexdigest()


def _key(file: SkyFile, stamp: str) -> str | None:
    if file.cause is not None:
        return None
    try:
        return question_key(hash_file(file.path), file.name, stamp)
    except OSError:
        return None


def frame_of(file: SkyFile, bench: Bench) -> SkyFrame:
    """Return what a frame of the sky gave, or the reason why nothing can be compared."""
    if file.cause is not None:
        why = f"can't be read ({file.cause}); check its permissions"
        return SkyFrame(file.name, None, reason=why)
    try:
        frame = open_frame(file.path)
    except (FrameError, OSError) as error:
        return SkyFrame(file.name, None, reason=in_one_line(error))
    belongs = sky_belongs(file.name, frame, bench.file)
    if isinstance(belongs, NotUsed):
        return SkyFrame(file.name, None, reason=belongs.reason)
    setting, seconds = belongs.setting, belongs.exposure_s
    lens = bench.file.lens(setting.lens)
    known = setting.focal_mm, lens.projection if lens else None, seconds
    try:
        seen = observe(frame, bench.file.body.pitch_um, *known, bench.place)
        return sky_frame(file.name, setting, seen, bench, seconds, belongs.iso)
    except ValueError as error:
        return SkyFrame(file.name, setting, reason=in_one_line(error))
