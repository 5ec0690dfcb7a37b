"""A bench folder as a person's would be: the frames that the club took, and bench.toml."""

from __future__ import annotations

import multiprocessing
import os
from collections.abc import Callable, Sequence
from concurrent.futures import ProcessPoolExecutor, as_completed
from dataclasses import dataclass
from pathlib import Path

import tifffile

from nightglass.frame.record import Metadata
from nightglass.gear.body import Body
from nightglass.optics.arrays import Counts
from nightglass.scene.club import BLACK, BODY, CLIPPING, PATTERN
from nightglass.scene.clubfile import (
    bench_toml,
    flats_bench_toml,
    focus_bench_toml,
    sensor_bench_toml,
)
from nightglass.scene.dng import write_dng
from nightglass.scene.flats_plan import BLACK as FIELD_BLACK
from nightglass.scene.flats_plan import CLIPPING as FIELD_CLIPPING
from nightglass.scene.flats_plan import (
    FIELD_BODY,
    FlatShot,
    flats_metadata,
    flats_plan,
    render_flats,
)
from nightglass.scene.focus_plan import BLACK as FOCUS_BLACK
from nightglass.scene.focus_plan import CLIPPING as FOCUS_CLIPPING
from nightglass.scene.focus_plan import (
    FOCUS_BODY,
    FocusShot,
    focus_metadata,
    focus_plan,
    render_focus,
)
from nightglass.scene.plan import Shot, plan
from nightglass.scene.sensor_plan import BLACK as SECOND_BLACK
from nightglass.scene.sensor_plan import CLIPPING as SECOND_CLIPPING
from nightglass.scene.sensor_plan import (
    SECOND_BODY,
    SensorShot,
    render_sensor,
    sensor_metadata,
    sensor_plan,
)
from nightglass.scene.shoot import metadata, render
from nightglass.scene.sky.plan import SkyShot, bench_plan, sky_plan
from nightglass.scene.sky.shot import render_sky, sky_metadata

VERIFY_EVERY = 10
"""Every tenth file is read back and compared: all have the same layout."""

FRAMES_FOLDER, SKY_FOLDER, SENSOR_FOLDER = "frames", "sky", "sensor"

Progress = Callable[[int, int], None]
AnyShot = Shot | SkyShot | SensorShot | FocusShot | FlatShot
Write = Callable[..., None]


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
    return _stage(folder, [(write_frame, shot) for shot in plan()], on_progress, processes)


def stage_sky(folder: Path, on_progress: Progress | None = None, processes: int = 2) -> Staged:
    """Render the frames of the club's night into sky/ of a bench folder, and into frames/ those
    of the bench that belong to the same settings; bench.toml too. As stage_bench.
    """
    (folder / SKY_FOLDER).mkdir(parents=True, exist_ok=True)
    jobs: list[tuple[Write, AnyShot]] = [(write_sky_frame, shot) for shot in sky_plan()]
    jobs += [(write_frame, shot) for shot in bench_plan()]
    return _stage(folder, jobs, on_progress, processes)


def stage_sensor(folder: Path, on_progress: Progress | None = None, processes: int = 2) -> Staged:
    """Render the frames of the club's second body into sensor/ of a bench folder, and its
    bench.toml. As stage_bench.
    """
    (folder / SENSOR_FOLDER).mkdir(parents=True, exist_ok=True)
    jobs: list[tuple[Write, AnyShot]] = [(write_sensor_frame, shot) for shot in sensor_plan()]
    return _stage(folder, jobs, on_progress, processes, sensor_bench_toml())


def stage_focus(folder: Path, on_progress: Progress | None = None, processes: int = 2) -> Staged:
    """Render the club's series through focus and of varied light into frames/ of a bench folder,
    and its bench.toml. As stage_bench.
    """
    jobs: list[tuple[Write, AnyShot]] = [(write_focus_frame, shot) for shot in focus_plan()]
    return _stage(folder, jobs, on_progress, processes, focus_bench_toml())


def stage_flats(folder: Path, on_progress: Progress | None = None, processes: int = 2) -> Staged:
    """Render the club's frames of a white screen into flats/ of a bench folder, those of the LED
    behind the same lenses into frames/, and its bench.toml. As stage_bench.
    """
    jobs: list[tuple[Write, AnyShot]] = [(write_flats_frame, shot) for shot in flats_plan()]
    return _stage(folder, jobs, on_progress, processes, flats_bench_toml())


def _stage(
    folder: Path,
    jobs: Sequence[tuple[Write, AnyShot]],
    on_progress: Progress | None,
    processes: int,
    settings_text: str | None = None,
) -> Staged:
    (folder / FRAMES_FOLDER).mkdir(parents=True, exist_ok=True)
    settings = folder / "bench.toml"
    if not settings.exists():
        settings.write_text(settings_text or bench_toml(), encoding="utf-8")
    missing = [
        (write, shot) for write, shot in jobs if not is_whole(path_of(shot, folder), _body_of(shot))
    ]
    done = len(jobs) - len(missing)
    if on_progress:
        on_progress(done, len(jobs))
    if missing:
        # Started afresh, not forked: a forked child of a threaded parent may hang.
        context = multiprocessing.get_context("spawn")
        with ProcessPoolExecutor(min(processes, len(missing)), mp_context=context) as pool:
            running = [pool.submit(write, shot, folder) for write, shot in missing]
            for job in as_completed(running):
                job.result()
                done += 1
                if on_progress:
                    on_progress(done, len(jobs))
    return Staged(tuple(path_of(shot, folder) for _, shot in jobs), len(missing))


def path_of(shot: AnyShot, folder: Path) -> Path:
    """Return where a shot's file lies in a bench folder."""
    if isinstance(shot, FlatShot):
        return folder / shot.file_name
    below = {SkyShot: SKY_FOLDER, SensorShot: SENSOR_FOLDER}.get(type(shot), FRAMES_FOLDER)
    return folder / below / shot.file_name


def _body_of(shot: AnyShot) -> Body:
    bodies = {FocusShot: FOCUS_BODY, SensorShot: SECOND_BODY, FlatShot: FIELD_BODY}
    return bodies.get(type(shot), BODY)


def is_whole(path: Path, body: Body = BODY) -> bool:
    """Return whether a frame of a body lies there and none of its parts is cut off."""
    if not path.is_file():
        return False
    try:
        with tifffile.TiffFile(path) as tiff:
            page = tiff.pages.first
            ends = [a + n for a, n in zip(page.dataoffsets, page.databytecounts, strict=True)]
            exif = page.tags.get("ExifTag")
            return (
                page.shape == (body.height_px, body.width_px)
                and exif is not None
                and bool(exif.value)
                and max(ends) <= path.stat().st_size
            )
    except (tifffile.TiffFileError, OSError, ValueError, IndexError):
        return False


def write_frame(shot: Shot, folder: Path) -> None:
    """Render one frame and put it into frames/ of a bench folder in one step: never half a file
    under its name."""
    counts, step = render(shot)
    verify = shot.number % VERIFY_EVERY == 1
    _write(counts, metadata(shot, step), path_of(shot, folder), verify)


def write_sky_frame(shot: SkyShot, folder: Path) -> None:
    """Render one frame of the sky and put it into sky/ of a bench folder in one step."""
    verify = shot.number % VERIFY_EVERY == 1
    _write(render_sky(shot), sky_metadata(shot), path_of(shot, folder), verify)


def write_sensor_frame(shot: SensorShot, folder: Path) -> None:
    """Render one frame of the sensor and put it into sensor/ of a bench folder in one step."""
    verify = shot.number % VERIFY_EVERY == 1
    levels = (SECOND_BLACK, SECOND_CLIPPING)
    _write(render_sensor(shot), sensor_metadata(shot), path_of(shot, folder), verify, levels)


def write_focus_frame(shot: FocusShot, folder: Path) -> None:
    """Render one frame of a focus or light series and put it into frames/ in one step."""
    verify = shot.number % VERIFY_EVERY == 1
    counts, exposure_s = render_focus(shot)
    levels = (FOCUS_BLACK, FOCUS_CLIPPING)
    said = focus_metadata(shot, exposure_s)
    _write(counts, said, path_of(shot, folder), verify, levels)


def write_flats_frame(shot: FlatShot, folder: Path) -> None:
    """Render one frame of the LED or of the white screen and put it into its folder in one step."""
    verify = shot.number % VERIFY_EVERY == 1
    counts, exposure_s = render_flats(shot)
    said = flats_metadata(shot, exposure_s)
    _write(counts, said, path_of(shot, folder), verify, (FIELD_BLACK, FIELD_CLIPPING))


def _write(
    counts: Counts,
    said: Metadata,
    path: Path,
    verify: bool,
    levels: tuple[int, int] = (BLACK, CLIPPING),
) -> None:
    path.parent.mkdir(parents=True, exist_ok=True)
    unfinished = path.parent.parent / f".{path.name}.unfinished"
    write_dng(
        unfinished,
        counts,
        white_level=levels[1],
        pattern=PATTERN,
        black=levels[0],
        metadata=said,
        verify=verify,
    )
    os.replace(unfinished, path)
