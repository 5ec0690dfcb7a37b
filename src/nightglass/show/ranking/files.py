"""The ranking on disk: tables, charts (SVG and PNG) and contact sheets of spots."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from pathlib import Path

from nightglass.bench.records import SettingResult
from nightglass.gear.body import Body
from nightglass.show.crops import contact_sheet, write_sheets
from nightglass.show.ranking.tables import ranking_rows, to_csv, to_json
from nightglass.show.whole_file import write_whole
from nightglass.show.words import file_stem
from nightglass.verdict.records import Ranking


def write_ranking(
    ranking: Ranking, results: Sequence[SettingResult], body: Body, pictures: bool, folder: Path
) -> Iterator[Path]:
    """Write tables, then charts and contact sheets; yield each file as it is done.

    The folder is made if it is missing. Raises OSError where it can't be written.
    """
    folder.mkdir(exist_ok=True)
    yield from write_tables(ranking, folder)
    if pictures and ranking.standings:
        yield from write_charts(ranking, folder)
        yield from write_sheets(results, body, folder)


def write_tables(ranking: Ranking, folder: Path) -> Iterator[Path]:
    """Write the ranking as CSV (not for an empty one) and JSON into an existing folder."""
    if ranking.standings:
        yield write_whole(folder / "ranking.csv", to_csv(ranking_rows(ranking)).encode())
    yield write_whole(folder / "ranking.json", to_json(ranking).encode())


def write_charts(ranking: Ranking, folder: Path) -> Iterator[Path]:
    """Write all charts of a ranking into an existing folder; yield each file as it is done.

    Nothing is drawn for an empty ranking. Raises OSError where the folder can't be written.
    """
    if not ranking.standings:
        return
    # The chart library takes a second to load: not for a ranking without charts.
    from nightglass.show.chart_style import save_chart
    from nightglass.show.ranking.charts import ranking_chart
    from nightglass.show.ranking.frontier_chart import frontier_chart
    from nightglass.show.ranking.map_chart import lens_map_chart

    yield from save_chart(ranking_chart(ranking), folder / "ranking")
    yield from save_chart(frontier_chart(ranking), folder / "light_and_tightness")
    taken: set[str] = set()
    for lens in sorted({worth.setting.lens for worth in ranking.worths}):
        stem = f"map_{file_stem(lens, taken)}"
        yield from save_chart(lens_map_chart(lens, ranking), folder / stem)


def write_pair(results: Sequence[SettingResult], body: Body, folder: Path) -> Path | None:
    """Write the spots of two settings at one scale as pair.png; None where neither has a spot.

    The folder is made if it is missing. Raises OSError where it can't be written.
    """
    if all(zone.stamp is None for result in results for zone in result.zones):
        return None
    folder.mkdir(exist_ok=True)
    sheet = contact_sheet(results, body, "Two settings at one scale")
    return write_whole(folder / "pair.png", sheet)
