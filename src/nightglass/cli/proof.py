"""nightglass proof: hold the bench against frames of the real sky."""

from __future__ import annotations

import sys
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from nightglass.cli.doors import FAILED, in_one_line, print_json
from nightglass.cli.rank import FolderArgument, JsonOption

if TYPE_CHECKING:
    from nightglass.bench.skyframes import SkyFile
    from nightglass.gear.benchfile import BenchFile
    from nightglass.sky.place import Place
    from nightglass.verdict.proof_records import Proof, SkyFrame


def proof(
    folder: FolderArgument = Path(),
    as_json: JsonOption = False,
    charts: Annotated[
        bool, typer.Option("--charts/--no-charts", help="Draw sky against bench (SVG, PNG).")
    ] = True,
) -> None:
    """Compare the bench with frames of the sky in its folder sky/, place by place.

    Frames belong to lens settings as those of the bench do: by what the camera wrote, and by
    [[frames]] tables of bench.toml whose match begins with sky/. Every frame is listed; the exit
    code is 1 if one of them could not be compared.
    """
    from nightglass.bench.results import results_on_record
    from nightglass.bench.skyframes import sky_files
    from nightglass.gear.bag import read_bench_file
    from nightglass.show.proof_text import next_step, proof_data, proof_lines
    from nightglass.verdict.proof import prove

    bench = read_bench_file(folder)
    results = results_on_record(bench)
    frames = []
    for number, file in enumerate(files := sky_files(bench), start=1):
        if not as_json and sys.stderr.isatty():
            print(f"frame {number} of {len(files)}: {file.name}", file=sys.stderr)
        frames.append(frame_of(file, bench))
    found = prove(results, frames, bench.body)
    if as_json:
        print_json(proof_data(found))
    else:
        print("\n".join(proof_lines(found)))
    written = _write(found, bench) if charts else []
    if not as_json:
        print("\n".join(["", *(f"written: {path}" for path in written)]))
        print(f"Next: {next_step(found)}")
    if any(frame.reason is not None for frame in frames):
        raise typer.Exit(FAILED)


def frame_of(file: SkyFile, bench: BenchFile) -> SkyFrame:
    """Return what a frame of the sky gave, or the reason why nothing can be compared."""
    from nightglass.bench.assign import NotUsed
    from nightglass.bench.skyframes import sky_belongs
    from nightglass.frame.errors import FrameError
    from nightglass.frame.open import open_frame
    from nightglass.sky.observe import observe
    from nightglass.verdict.proof_frames import sky_frame
    from nightglass.verdict.proof_records import SkyFrame

    try:
        frame = open_frame(file.path)
    except (FrameError, OSError) as error:
        return SkyFrame(file.name, None, reason=in_one_line(error))
    belongs = sky_belongs(file.name, frame, bench)
    if isinstance(belongs, NotUsed):
        return SkyFrame(file.name, None, reason=belongs.reason)
    setting = belongs.setting
    lens = bench.lens(setting.lens)
    known = setting.focal_mm, lens.projection if lens else None, belongs.exposure_s
    try:
        seen = observe(frame, bench.body.pitch_um, *known)
        return sky_frame(file.name, setting, seen, _place(bench))
    except ValueError as error:
        return SkyFrame(file.name, setting, reason=in_one_line(error))


def _place(bench: BenchFile) -> Place | None:
    """The site of bench.toml, if it names one."""
    from nightglass.plan.where import where

    return where(None, None, None, None, bench.site).place if bench.site.place else None


def _write(found: Proof, bench: BenchFile) -> list[Path]:
    from nightglass.show.proof_chart import write_proof_chart

    out = bench.folder / "out"
    out.mkdir(exist_ok=True)
    return list(write_proof_chart(found, out))
