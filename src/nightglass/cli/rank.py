"""The command that ranks lenses: nightglass rank FOLDER."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import replace
from itertools import chain
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

if TYPE_CHECKING:
    from nightglass.bench.records import SettingResult
    from nightglass.gear.benchfile import BenchFile, ReleaseName
    from nightglass.verdict.records import Interval, Ranking, Standing, Worth, ZoomJump

FolderArgument = Annotated[Path, typer.Argument(help="Bench folder.")]
PurposeOption = Annotated[
    str | None,
    typer.Option(
        "--for",
        help='What the pictures are for: "phone", "screen", "print 60 cm wide seen from 1 m", or '
        "the largest blur in % of picture height. Without it: as bench.toml says.",
    ),
]
RemoteOption = Annotated[
    bool | None,
    typer.Option("--remote/--dial", help="How the shutter is released. Without it: bench.toml."),
]
JsonOption = Annotated[bool, typer.Option("--json", help="Print plain data instead of a table.")]
RulesOption = Annotated[
    bool,
    typer.Option("--rules", help="Also print what every common rule allows, side by side."),
]
ChartsOption = Annotated[
    bool,
    typer.Option(
        "--charts/--no-charts", help="Draw charts (SVG, PNG) and contact sheets of spots."
    ),
]


def rank(
    folder: FolderArgument = Path(),
    purpose: PurposeOption = None,
    remote: RemoteOption = None,
    rules: RulesOption = False,
    as_json: JsonOption = False,
    charts: ChartsOption = True,
) -> None:
    """Rank the lenses of a bench by what one frame records, and say how sure the order is."""
    from nightglass.bench.study.repeats import results_on_record
    from nightglass.gear.bag import read_bench_file
    from nightglass.verdict.judge import judge

    bench = with_choices(read_bench_file(folder), purpose, remote)
    results = results_on_record(bench)
    ranking = judge(results, bench)
    if as_json:
        from nightglass.show.ranking.tables import to_json

        print(to_json(ranking))
    else:
        print_ranking(ranking, folder)
        if rules:
            _print_rules(ranking, bench)
    if as_json:
        fault = write_all(ranking, results, bench, charts, lambda path: None)
    else:
        fault = write_all(ranking, results, bench, charts, lambda path: print(f"written: {path}"))
    if fault:
        typer.echo(fault, err=True)
    if fault or not ranking.standings:
        raise typer.Exit(1)


def with_choices(bench: BenchFile, purpose: str | None, remote: bool | None) -> BenchFile:
    """Return the bench with what the options say in place of what bench.toml says.

    Raises ValueError for a purpose that is not understood.
    """
    from nightglass.gear.benchfile import Purpose
    from nightglass.verdict.purpose import limit_from_words

    if purpose is not None:
        shape = max(bench.body.width_px, bench.body.height_px) / bench.body.picture_height_px
        limit = limit_from_words(purpose, shape)
        bench = replace(bench, purpose=Purpose("limit", limit.words, limit.limit_percent))
    if remote is not None:
        release: ReleaseName = "remote" if remote else "dial"
        bench = replace(bench, time=replace(bench.time, release=release))
    return bench


def print_ranking(ranking: Ranking, folder: Path) -> None:
    """Print table, unbeaten settings, how often the order holds, assumptions and the next step."""
    from rich.console import Console

    console = Console(highlight=False, soft_wrap=True)
    if not ranking.standings:
        console.print("Nothing can be ranked yet.", markup=False)
    else:
        _print_table(ranking)
    for line in ranking_lines(ranking, folder):
        console.print(line, markup=False)


def ranking_lines(ranking: Ranking, folder: Path) -> Iterator[str]:
    """Yield what stands below the table, line by line."""
    if ranking.standings:
        yield "Merged: stars bright enough, but so close to others that they are not counted."
    for standing in ranking.standings:
        for note in standing.worth.notes:
            yield f"{_setting(standing.worth)}: {note}"
    yield from (_jump_line(jump) for jump in ranking.jumps)
    if ranking.unbeaten:
        yield ""
        yield "No other setting beats these in both light (score) and tightness (blur):"
        yield from (f"  {_unbeaten_line(worth)}" for worth in ranking.unbeaten)
    if ranking.order_holds:
        held = ranking.order_holds
        yield ""
        yield (
            f"The first place holds in {held.first_place_share:.0%}, the whole order in "
            f"{held.whole_order_share:.0%} of {held.how}."
        )
    if ranking.not_ranked:
        yield ""
        yield "Not ranked:"
        yield from (f"  {name}: {reason}" for name, reason in ranking.not_ranked)
    yield ""
    yield "Assumed:"
    yield from (f"  {a.name}: {a.value} [{a.source}]" for a in ranking.assumptions)
    yield ""
    if ranking.standings:
        yield f'Next: make the field card with  nightglass card "{folder}"'
    else:
        yield f'Next: put raw frames into frames/, then  nightglass measure "{folder}"'


def write_all(
    ranking: Ranking,
    results: Sequence[SettingResult],
    bench: BenchFile,
    pictures: bool,
    on_written: Callable[[Path], None],
) -> str | None:
    """Write tables, then charts and contact sheets to out/, telling each file as it is done.

    Returns one line if that failed.
    """
    out = bench.folder / "out"
    try:
        out.mkdir(exist_ok=True)
        for path in _write_tables(ranking, out):
            on_written(path)
        if pictures and ranking.standings:
            from nightglass.show.crops import write_sheets
            from nightglass.show.ranking.files import write_charts

            for path in chain(write_charts(ranking, out), write_sheets(results, bench.body, out)):
                on_written(path)
    except OSError as error:
        cause = error.strerror or str(error)
        return f"{out}: can't be written ({cause}); free the disk or allow writing there"
    return None


def _write_tables(ranking: Ranking, out: Path) -> Iterator[Path]:
    from nightglass.show.ranking.tables import ranking_rows, to_csv, to_json

    if ranking.standings:
        table = out / "ranking.csv"
        table.write_text(to_csv(ranking_rows(ranking)), encoding="utf-8", newline="")
        yield table
    document = out / "ranking.json"
    document.write_text(to_json(ranking), encoding="utf-8")
    yield document


def _print_table(ranking: Ranking) -> None:
    from rich.console import Console
    from rich.table import Table
    from rich.text import Text

    console = Console(highlight=False)
    if not console.is_terminal:
        # A file or a pipe has no width of its own: nothing must be cut off.
        console = Console(highlight=False, width=150)
    table = Table(box=None, pad_edge=False, padding=(0, 2, 1, 0), show_edge=False)
    rows = [table_row(standing) for standing in ranking.standings]
    for title in rows[0]:
        wordy = title in ("lens, setting", "gain over the next")
        table.add_column(title, justify="left" if wordy else "right")
    for row in rows:
        table.add_row(*(Text(cell) for cell in row.values()))
    limit = f"{ranking.limit_percent:.3g} % of picture height: {ranking.limit_purpose}"
    console.print(Text(f"Best setting of each lens; blur limit {limit}\n"))
    console.print(table)


def _print_rules(ranking: Ranking, bench: BenchFile) -> None:
    from nightglass.show.words import percent
    from nightglass.verdict.times import all_rules

    for standing in ranking.standings:
        worth = standing.worth
        blur_px = worth.lens_tightness_percent / 100 * bench.body.picture_height_px
        setting = worth.setting
        print(f"\n{_setting(worth)}: what each rule allows, and its trail at the frame centre")
        for rule in all_rules(bench.time, bench.body, setting.focal_mm, setting.f_number, blur_px):
            print(
                f"  {rule.limit_s:6.1f} s  {percent(rule.trail_percent):>8} of height  {rule.name}"
                f"  [{rule.source}]"
            )


def table_row(standing: Standing) -> dict[str, str]:
    """Return one row of the printed table: its column titles and texts."""
    from nightglass.show.ranking.tables import no_gain_reason
    from nightglass.show.words import percent, seconds, signed_percent

    worth, times = standing.worth, standing.worth.times
    marks = ["over your limit"] * standing.over_limit + ["at limit"] * worth.at_limit
    if any(note.startswith("not tested") for note in worth.notes):
        marks.append("not tested everywhere")
    if standing.tied_with:
        marks.append(f"shares its place with {', '.join(standing.tied_with)}")
    blur, span = percent(worth.lens_tightness_percent).removesuffix(" %"), worth.tightness_interval
    if worth.at_limit:
        blur = f"at most {blur}"
    gain = standing.gain_over_next_percent
    gained = no_gain_reason(standing)
    if gain is not None:
        gained = f"{signed_percent(gain.value)} over\n{standing.next_lower}"
    return {
        "place": str(standing.place),
        "lens, setting": "\n".join([worth.setting.lens, _setting_only(worth), *marks]),
        "time": f"{seconds(times.remote_s)} remote\n{seconds(times.dial_marked_s)} dial",
        "blur, % of height": _with_interval(blur, span, "{:.3f}".format),
        "with trail": percent(worth.tightness_percent).removesuffix(" %"),
        "stars (merged)": f"{_thousands(worth.stars)}\n({_thousands(worth.stars_lost_to_cap)})",
        "glow": f"{worth.glow:.0f}",
        "score": _with_interval(f"{worth.score.value:.0f}", worth.score, "{:.0f}".format),
        "gain over the next": _with_interval(gained, gain, signed_percent),
    }


def _with_interval(text: str, interval: Interval | None, form: Callable[[float], str]) -> str:
    if interval is None or interval.low is None or interval.high is None:
        return text
    return f"{text}\n{form(interval.low)} to {form(interval.high)}"


def _thousands(number: float) -> str:
    return f"{number:,.0f}".replace(",", "\N{THIN SPACE}")


def _setting_only(worth: Worth) -> str:
    from nightglass.show.words import f_number, focal

    return f"{focal(worth.setting.focal_mm)}, {f_number(worth.setting.f_number)}"


def _setting(worth: Worth) -> str:
    return f"{worth.setting.lens}, {_setting_only(worth)}"


def _jump_line(jump: ZoomJump) -> str:
    from nightglass.show.words import f_number, focal

    return (
        f"{jump.lens}: blur jumps at {focal(jump.focal_mm)}, {jump.ratio:.1f} times that of the "
        f"zoom positions beside it ({jump.place}, {f_number(jump.f_number)})"
    )


def _unbeaten_line(worth: Worth) -> str:
    from nightglass.show.words import percent

    over = "" if worth.eligible else ", over your limit"
    bound = "at most " if worth.at_limit else ""
    return (
        f"{_setting(worth)}: score {worth.score.value:.0f}, blur {bound}"
        f"{percent(worth.lens_tightness_percent)} of height{over}"
    )
