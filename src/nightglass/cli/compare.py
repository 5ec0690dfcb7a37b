"""The command that holds two settings side by side: nightglass compare FOLDER A B."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from nightglass.cli.bench_options import (
    BodyOption,
    ChartsOption,
    JsonOption,
    PurposeOption,
    RemoteOption,
    ViewOption,
)
from nightglass.cli.doors import print_json
from nightglass.cli.terminal import text_width
from nightglass.verdict.question import Question

SettingArgument = Annotated[
    str,
    typer.Argument(
        help='A setting: a lens, or "LENS at f/2.8", "LENS at 24 mm f/2.8". A lens alone stands '
        "for its best setting; a part of its name will do."
    ),
]


def compare(
    folder: Annotated[Path, typer.Argument(help="Bench folder.")],
    one: SettingArgument,
    other: SettingArgument,
    view: ViewOption = Question.PICTURE,
    purpose: PurposeOption = None,
    remote: RemoteOption = None,
    body: BodyOption = None,
    as_json: JsonOption = False,
    charts: ChartsOption = True,
) -> None:
    """Hold two settings of a bench side by side: blur, light, stars, glow, and what shows."""
    from nightglass.gear.bag import read_bench_file
    from nightglass.show.body_words import on_body_data, on_body_lines
    from nightglass.show.ranking.files import write_pair
    from nightglass.show.ranking.pair_text import pair_data, pair_lines
    from nightglass.verdict.on_record import pair_on_record
    from nightglass.verdict.purpose import with_choices

    bench = with_choices(read_bench_file(folder).on_body(body), purpose, remote)
    pair, results = pair_on_record(bench, one, other, view)
    if as_json:
        print_json({**pair_data(pair), **on_body_data(bench)})
    else:
        print("\n".join((*on_body_lines(bench), *pair_lines(pair, text_width()))))
    picture = write_pair(results, bench.body, bench.folder / "out") if charts else None
    if picture is not None and not as_json:
        print(f"written: {picture}")
