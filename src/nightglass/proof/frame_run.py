"""The run over all frames of the sky in a bench folder: read, assigned, observed, compared."""

from __future__ import annotations

import hashlib
from collections.abc import Callable, Sequence
from dataclasses import replace

from nightglass.bench.assign import NotUsed, of_its_body
from nightglass.bench.beside import FileBeside, belongs_beside
from nightglass.bench.falloff import falloffs_of, flats_light_of, keep_falloff
from nightglass.bench.files import hash_file
from nightglass.bench.kept import Keeper, question_key
from nightglass.bench.store.packing import pack
from nightglass.bench.store.store import open_store
from nightglass.bench.study.repeats import results_on_record
from nightglass.frame.errors import FrameError
from nightglass.frame.many import in_order
from nightglass.frame.open import open_frame
from nightglass.gear.benchfile import BenchFile
from nightglass.light.aperture import with_flat_transmission
from nightglass.light.falloff import FalloffSource
from nightglass.plan.where import where
from nightglass.proof.codes import FrameReasonCode
from nightglass.proof.frames import MeasuredBench, sky_frame
from nightglass.proof.reasons import FrameReason
from nightglass.proof.records import SkyFrame
from nightglass.sky.developed import not_told
from nightglass.sky.observe import observe

KIND = "proof frame"


def measured_bench(file: BenchFile) -> MeasuredBench:
    """Return a bench with its settings as they are on record, and its site if it names one.

    Raises ValueError for a site that is no place.
    """
    place = where(None, site=file.site).place if file.site.place else None
    results = results_on_record(file)
    store = open_store(file)
    try:
        told, light = falloffs_of(store), flats_light_of(store)
    finally:
        store.close()
    flats = {s: falloff for s, falloff in told.items() if falloff.source is FalloffSource.FLAT}
    file = replace(file, lenses=with_flat_transmission(file.lenses, light))
    return MeasuredBench(results, file, place, tuple(sorted(flats.items())))


def sky_frames(
    files: Sequence[FileBeside],
    bench: MeasuredBench,
    keeper: Keeper,
    progress: Callable[[int], None],
) -> tuple[SkyFrame, ...]:
    """Return what every file gave, in the order of the files; progress is called before the first
    and after each, with the number of files done.

    Unchanged frames come from the store, where the same bench asked the same of them; frames that
    can't be compared are tried again each time.
    """
    stamp = bench_stamp(bench)

    def job(file: FileBeside) -> tuple[str | None, SkyFrame]:
        key = _key(file, stamp)
        known = None if key is None else keeper.find(key, SkyFrame)
        return (None, known) if known is not None else (key, frame_of(file, bench))

    frames: list[SkyFrame] = []
    progress(0)
    for key, frame in in_order(job, files):
        if key is not None and frame.reason is None:
            keeper.keep(key, frame)
            _keep_falloff(keeper, frame)
        frames.append(frame)
        progress(len(frames))
    return tuple(frames)


def _keep_falloff(keeper: Keeper, frame: SkyFrame) -> None:
    """Let the ranking use the falloff that a frame of one of its settings shows."""
    if frame.falloff is not None and frame.setting is not None:
        keep_falloff(keeper, frame.setting, frame.content_hash, frame.falloff)


def bench_stamp(bench: MeasuredBench) -> str:
    """Return a hash of all that a frame is compared with: results, bench.toml, place, flats."""
    file = replace(bench.file, path=None)
    return hashlib.blake2b(
        pack((bench.results, file, bench.place, bench.flats)), digest_size=16
    ).hexdigest()


def _key(file: FileBeside, stamp: str) -> str | None:
    if file.cause is not None:
        return None
    try:
        return question_key(hash_file(file.path), file.name, stamp)
    except OSError:
        return None


def frame_of(file: FileBeside, bench: MeasuredBench) -> SkyFrame:
    """Return what a frame of the sky gave, or the reason why nothing can be compared."""
    if file.cause is not None:
        return SkyFrame(file.name, None, reason=_reason(FrameReasonCode.UNREADABLE, file.cause))
    try:
        frame = open_frame(file.path)
    except FrameError as error:
        return SkyFrame(file.name, None, reason=_reason(FrameReasonCode.NOT_DECODED, str(error)))
    except OSError as error:
        return SkyFrame(file.name, None, reason=_disk_error(error))
    belongs = of_its_body(belongs_beside(file.name, frame, bench.file), bench.file)
    if isinstance(belongs, NotUsed):
        reason = _reason(FrameReasonCode.NOT_ASSIGNED, belongs.reason)
        return SkyFrame(file.name, None, reason=reason)
    setting, seconds = belongs.setting, belongs.exposure_s
    if not_told(frame):
        return SkyFrame(file.name, setting, reason=FrameReason(FrameReasonCode.DEVELOPED))
    lens = bench.file.lens(setting.lens)
    known = setting.focal_mm, lens.projection if lens else None, seconds
    try:
        seen = observe(frame, bench.file.body.pitch_um, *known, bench.place)
        return sky_frame(file.name, setting, seen, bench, seconds, belongs.iso)
    except ValueError as error:
        reason = _reason(FrameReasonCode.NOT_MEASURED, str(error))
        return SkyFrame(file.name, setting, reason=reason)


def _reason(code: FrameReasonCode, text: str) -> FrameReason:
    """A reason with what the failing step said, in one line."""
    return FrameReason(code, " ".join(text.split()))


def _disk_error(error: OSError) -> FrameReason:
    if not error.strerror:
        return _reason(FrameReasonCode.NOT_DECODED, str(error))
    where = f"{error.filename}: " if error.filename else ""
    return _reason(FrameReasonCode.DISK_ERROR, f"{where}{error.strerror.lower()}")
