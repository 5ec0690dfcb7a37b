"""nightglass proof: hold the bench against frames of the real sky."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from nightglass.cli.bench_options import BodyOption, FolderArgument, JsonOption
from nightglass.cli.doors import FAILED, counted, print_json, warn


def proof(
    folder: FolderArgument = Path(),
    body: BodyOption = None,
    as_json: JsonOption = False,
    charts: Annotated[
        bool,
        typer.Option(
            "--charts/--no-charts", help="Write the page (HTML) and the chart (SVG, PNG) into out/."
        ),
    ] = True,
) -> None:
    """Compare the bench with frames of the sky in its folder sky/, place by place.

    Frames belong to lens settings as those of the bench do: by what the camera wrote, and by
    [[frames]] tables of bench.toml whose match begins with sky/. Every frame is listed; the exit
    code is 1 if one of them could not be compared.
    """
    from nightglass.bench.beside import SKY, files_beside
    from nightglass.bench.kept import Keeper
    from nightglass.bench.skyframes import unmatched_sky_tables
    from nightglass.bench.store.store import open_store
    from nightglass.cli.terminal import progress, text_width
    from nightglass.gear.bag import read_bench_file
    from nightglass.proof.comparison.bench_and_sky import compare_bench_and_sky
    from nightglass.proof.frame_run import KIND, measured_bench, sky_frames
    from nightglass.show.body_words import on_body_data, on_body_lines
    from nightglass.show.proof.data import proof_data
    from nightglass.show.proof.files import write_proof
    from nightglass.show.proof.text import proof_lines
    from nightglass.show.proof.verdict import next_step_words

    file = read_bench_file(folder).on_body(body)
    bench = measured_bench(file)
    files = files_beside(file, SKY)
    hints = unmatched_sky_tables(file, files)
    store = open_store(file)
    try:
        with progress(quiet=as_json) as told:
            frames = sky_frames(
                files, bench, Keeper(store, KIND, warn),
                lambda done: told("frames of the sky", done, len(files)),
            )  # fmt: skip
    finally:
        store.close()
    left_out = sum(frame.reason is not None for frame in frames)
    found = compare_bench_and_sky(bench.results, frames, file.body)
    if not as_json:
        lines = (*on_body_lines(file), *proof_lines(found, text_width()), *hints)
        print("\n".join(lines), end="\n\n", flush=True)
    written = write_proof(found, bench, hints) if charts else ()
    if as_json:
        page = {"page": str(written[0])} if written else {}
        fault = _fault(left_out, len(frames))
        print_json({**proof_data(found), "hints": list(hints), **page, **on_body_data(file)}, fault)
    else:
        step = f"Next: {next_step_words(found.next_step)}"
        print("\n".join([*(f"written: {path}" for path in written), step]))
    if left_out:
        raise typer.Exit(FAILED)


def _fault(left_out: int, frames: int) -> str | None:
    return f"{left_out} of {counted(frames, 'frame')} could not be compared" if left_out else None
