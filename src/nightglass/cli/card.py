"""The command that makes field cards: nightglass card FOLDER."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from nightglass.cli.bench_options import (
    FolderArgument,
    JsonOption,
    LimitOption,
    PurposeOption,
    RemoteOption,
)
from nightglass.cli.doors import UndoneError, cant_write, print_json

if TYPE_CHECKING:
    from nightglass.bench.records import SettingResult
    from nightglass.gear.benchfile import BenchFile
    from nightglass.gear.lens import Lens
    from nightglass.show.card.record import LensCard, LensExtras, NightStrip
    from nightglass.verdict.records import Ranking

LensOption = Annotated[
    list[str] | None,
    typer.Option(
        "--lens", help="Only this lens (its name or a part of it); may be given several times."
    ),
]


NightOption = Annotated[
    str | None,
    typer.Option(
        "--night",
        help="Evening of the night for the strip, like 2027-05-06; without it the coming night at "
        "the site kept in bench.toml.",
    ),
]


def card(
    folder: FolderArgument = Path(),
    lens: LensOption = None,
    purpose: PurposeOption = None,
    limit: LimitOption = None,
    remote: RemoteOption = None,
    night: NightOption = None,
    as_json: JsonOption = False,
) -> None:
    """Make field cards: phone pictures, self-contained pages and A6 prints, per lens and bag."""
    from nightglass.gear.bag import read_bench_file
    from nightglass.gear.lens import chosen_lenses
    from nightglass.show.card.files import write_cards
    from nightglass.show.card.lines import card_document, card_lines
    from nightglass.verdict.purpose import with_choices

    bench = with_choices(read_bench_file(folder), purpose, remote, limit)
    lenses = chosen_lenses(bench.lenses, lens or ())
    cards = _cards(bench, lenses, night)
    if not any(card.standing for card in cards):
        reasons = "; ".join(f"{card.lens.name}: {card.reason_not_ranked}" for card in cards)
        raise UndoneError(
            f"No card: no lens could be judged ({reasons}). Next: put raw frames into frames/, "
            f'then  nightglass measure "{folder}"'
        )
    out = bench.folder / "out" / "cards"
    try:
        written = write_cards(cards, out)
    except OSError as error:
        raise UndoneError(cant_write(out, error)) from None
    if as_json:
        print_json(card_document(cards, written))
    else:
        print("\n".join(card_lines(cards, written)))


def _cards(bench: BenchFile, lenses: Sequence[Lens], night: str | None) -> tuple[LensCard, ...]:
    from nightglass.bench.study.repeats import results_on_record
    from nightglass.show.card.record import CardContext, LensExtras, bag_cards
    from nightglass.verdict.judge import judge

    strip = _strip(bench, night)
    results = results_on_record(bench)
    ranking = judge(results, bench)
    known = {lens.name: LensExtras(focus_method=lens.focus) for lens in lenses if lens.focus}
    extras = known | _planned(bench, lenses, ranking, results)
    context = CardContext(bench.body, date.today(), strip, extras)
    return bag_cards(lenses, ranking, results, context)


def _planned(
    bench: BenchFile, lenses: Sequence[Lens], ranking: Ranking, results: Sequence[SettingResult]
) -> dict[str, LensExtras]:
    """Panorama and stack of each ranked lens at its best setting and that setting's time."""
    from nightglass.cli.night_gear import GearChoice, usable_of
    from nightglass.plan.camera import Shot
    from nightglass.plan.panorama.usable import NothingUsableError
    from nightglass.plan.usual import usual_panorama, usual_stack
    from nightglass.show.card.record import LensExtras
    from nightglass.show.plan.panorama.stack import stack_line
    from nightglass.show.plan.panorama.text import panorama_line

    planned = {}
    by_name = {lens.name: lens for lens in lenses}
    for standing in ranking.standings:
        setting, lens = standing.worth.setting, by_name.get(standing.worth.setting.lens)
        if lens is None or standing.over_limit:
            continue
        flat = Shot(bench.body, setting.focal_mm, setting.f_number, lens.projection)
        upright = replace(flat, portrait=True)
        result = next((r for r in results if r.setting == setting), None)
        limit = None if ranking.limit is None else ranking.limit.percent
        choice = GearChoice(upright, lens, limit, result, ())
        try:
            around = usual_panorama(upright, standing.worth.exposure_s, usable_of(choice))
        except NothingUsableError:
            around = None
        planned[lens.name] = LensExtras(
            lens.focus or None,
            None if around is None else panorama_line(around),
            stack_line(usual_stack(flat, standing.worth.exposure_s)),
        )
    return planned


def _strip(bench: BenchFile, night: str | None) -> NightStrip | None:
    """The night's strip at the bench's site; None where no site is kept."""
    if bench.site.place is None:
        if night is not None:
            raise ValueError(
                '--night needs a place: keep it in bench.toml under [site], place = "52.1 N 4.4 E"'
            )
        return None
    from nightglass.cli.night import today
    from nightglass.plan.dates import day
    from nightglass.plan.night.night import plan_night
    from nightglass.plan.where import where
    from nightglass.show.card.night_strip import night_strip

    there = where(None, site=bench.site)
    evening = today(there) if night is None else day(night)
    return night_strip(plan_night(there.place, evening, horizon=there.horizon))
