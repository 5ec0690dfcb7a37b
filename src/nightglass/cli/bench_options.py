"""Options shared by the commands that read a bench folder."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from nightglass.verdict.question import Question

FolderArgument = Annotated[Path, typer.Argument(help="Bench folder.")]
PurposeOption = Annotated[
    str | None,
    typer.Option(
        "--for",
        help='How the pictures are looked at: "phone", "screen", "print 60x40 cm" or "print 60 cm '
        'wide seen from 1 m". Without it: as bench.toml says.',
    ),
]
LimitOption = Annotated[
    float | None,
    typer.Option(
        "--limit",
        help="Largest blur that you accept, % of picture height, such as 0.25; settings over it "
        "stand below the others. Without it: as bench.toml says.",
    ),
]
RemoteOption = Annotated[
    bool | None,
    typer.Option("--remote/--dial", help="How the shutter is released. Without it: bench.toml."),
]
ViewOption = Annotated[
    Question,
    typer.Option(
        "--view",
        help='"picture": which setting for a whole picture; "sky": which for one patch of sky '
        "(panorama, crop, stack).",
    ),
]
BodyOption = Annotated[
    str | None,
    typer.Option(
        "--body",
        help="Body of the bench, or a part of its name: its frames count and no others. Without "
        "it: the main body.",
    ),
]
JsonOption = Annotated[bool, typer.Option("--json", help="Print plain data instead of a table.")]
ChartsOption = Annotated[
    bool,
    typer.Option(
        "--charts/--no-charts", help="Draw charts (SVG, PNG) and contact sheets of spots."
    ),
]
ChartOption = Annotated[
    bool, typer.Option("--charts/--no-charts", help="Write the chart (SVG, PNG) into out/.")
]
