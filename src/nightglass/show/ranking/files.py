"""Charts on disk: SVG and PNG of the ranking, of light against tightness, and of each lens."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

from nightglass.show.chart_style import save_chart
from nightglass.show.ranking.charts import front_chart, ranking_chart
from nightglass.show.ranking.map_chart import lens_map_chart
from nightglass.show.words import file_stem
from nightglass.verdict.records import Ranking


def write_charts(ranking: Ranking, folder: Path) -> Iterator[Path]:
    """Write all charts of a ranking into an existing folder; yield each file as it is done.

    Nothing is drawn for an empty ranking. Raises OSError where the folder can't be written.
    """
    if not ranking.standings:
        return
    yield from save_chart(ranking_chart(ranking), folder / "ranking")
    yield from save_chart(front_chart(ranking), folder / "light_and_tightness")
    taken: set[str] = set()
    for lens in sorted({worth.setting.lens for worth in ranking.worths}):
        stem = f"map_{file_stem(lens, taken)}"
        yield from save_chart(lens_map_chart(lens, ranking), folder / stem)
