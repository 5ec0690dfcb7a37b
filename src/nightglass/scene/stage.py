"""A bench folder as a person's would be: frames from the club's evening, and bench.toml."""

from __future__ import annotations

import multiprocessing
import os
from collections.abc import Callable
from concurrent.futures import ProcessPoolExecutor, as_completed
from dataclasses import dataclass
from pathlib import Path

import tifffile

from nightglass.scene.club import BLACK, BODY, CLIPPING, PATTERN
from nightglass.scene.clubfile import bench_toml
from nightglass.scene.dng import write_dng
from nightglass.scene.plan import Shot, plan
from nightglass.scene.shoot import metadata, render

VERIFY_EVERY = 10
"""Every tenth file is read back and compared: all have the same layout."""

Progress = Callable[[int, int], None]


@dataclass(frozen=True)
class Staged:
    """What `stage_bench` left behind."""

    frames: tuple[Path, ...]
    rendered: int
    """Frames made now; the others were there already, whole."""


def stage_bench(folder: Path, on_progress: Progress | None = None, processes: int = 2) -> Staged:
    """Render the demo's frames and bench.toml into a bench folder; what is whole there is kept.

    on_progress: called with (frames done, frames in all). The same frames come out of every run,
    bit for bit. Raises OSError where the folder can't be written.
    """
    frames = folder / "frames"
    frames.mkdir(parents=True, exist_ok=True)
    settings = folder / "bench.toml"
    if not settings.exists():
        settings.write_text(bench_toml(), encoding="utf-8")
    shots = plan()
    missing = [shot for shot in shots if not is_whole(frames / shot.file_name)]
    done = len(shots) - len(missing)
    if on_progress:
        on_progress(done, len(shots))
    if missing:
        # Started afresh, not forked: a forked child of a threaded parent may hang.
        context = multiprocessing.get_context("spawn")
        with ProcessPoolExecutor(min(processes, len(missing)), mp_context=context) as pool:
            jobs = [pool.submit(write_frame, shot, frames) for shot in missing]
            for job in as_completed(jobs):
                job.result()
                done += 1
                if on_progress:
                    on_progress(done, len(shots))
    return Staged(tuple(frames / shot.file_name for shot in shots), len(missing))


def is_whole(path: Path) -> bool:
    """Return whether a frame lies there and none of its parts is cut off."""
    if not path.is_file():
        return False
    try:
        with tifffile.TiffFile(path) as tiff:
            page = tiff.pages.first
            ends = [a + n for a, n in zip(page.dataoffsets, page.databytecounts, strict=True)]
            exif = page.tags.get("ExifTag")
            return (
                page.shape == (BODY.height_px, BODY.width_px)
                and exif is not None
                and bool(exif.value)
                and max(ends) <= path.stat().st_size
            )
    except (tifffile.TiffFileError, OSError, ValueError, IndexError):
        return False


def write_frame(shot: Shot, frames: Path) -> None:
    """Render one frame and put it into the folder in one step: never half a file under its name."""
    counts, step = render(shot)
    unfinished = frames.parent / f".{shot.file_name}.unfinished"
    write_dng(
        unfinished,
        counts,
        white_level=CLIPPING,
        pattern=PATTERN,
        black=BLACK,
        metadata=metadata(shot, step),
        verify=shot.number % VERIFY_EVERY == 1,
    )
    os.replace(unfinished, frames / shot.file_name)
