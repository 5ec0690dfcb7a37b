"""A new bench folder: bench.toml, frames/ and the sheet with the shooting protocol."""

from __future__ import annotations

from pathlib import Path

from nightglass.bench.errors import BenchError
from nightglass.bench.files import FRAMES_FOLDER
from nightglass.gear.bag import BENCH_FILE_NAME, parse_bench
from nightglass.shoot.plan import distances_of
from nightglass.show.shoot.sheet import SHEET_NAME, how_to_shoot


def make_bench(folder: Path, text: str) -> tuple[Path, ...]:
    """Make a bench folder around the text of a bench.toml; return what was made.

    Nothing that is there already is changed. Raises BenchError where a bench.toml is there,
    BenchFileError for a text that can't be used, OSError where the folder can't be written.
    """
    bench = parse_bench(text)
    file = folder / BENCH_FILE_NAME
    if file.exists():
        raise BenchError(
            f"{file}: there already; nothing was changed. Edit it, or name another folder"
        )
    made = [folder / FRAMES_FOLDER]
    made[0].mkdir(parents=True, exist_ok=True)
    sheet = folder / SHEET_NAME
    for path, words in ((file, text), (sheet, how_to_shoot(bench, distances_of(bench)))):
        if not path.exists():
            # "x": another program may have written it since we looked.
            with path.open("x", encoding="utf-8", newline="\n") as stream:
                stream.write(words)
            made.append(path)
    return tuple(made)
