"""The command that makes field cards: nightglass card FOLDER."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from nightglass.cli.bench_options import (
    BodyOption,
    FolderArgument,
    JsonOption,
    LimitOption,
    PurposeOption,
    RemoteOption,
)
from nightglass.cli.doors import UndoneError, cant_write, print_json, warn

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
    body: BodyOption = None,
    as_json: JsonOption = False,
) -> None:
    """Make field cards: phone pictures, self-contained pages and A6 prints, per lens and bag."""
    from nightglass.bench.waiting import waiting_frames
    from nightglass.gear.bag import read_bench_file
    from nightglass.gear.lens import chosen_lenses
    from nightglass.show.body_words import on_body_data, on_body_lines, typed_folder
    from nightglass.show.card.bag import cards_of
    from nightglass.show.card.files import write_cards
    from nightglass.show.card.lines import card_document, card_lines
    from nightglass.show.ranking.text import next_line, not_ranked_lines, waiting_lines
    from nightglass.verdict.on_record import ranking_on_record
    from nightglass.verdict.purpose import with_choices

    bench = with_choices(read_bench_file(folder).on_body(body), purpose, remote, limit)
    lenses = chosen_lenses(bench.lenses, lens or ())
    ranking, results = ranking_on_record(bench)
    cards = cards_of(bench, lenses, ranking, results, night)
    waiting = waiting_frames(bench)
    for line in waiting_lines(waiting, folder):
        warn(line)
    if not any(card.standing for card in cards):
        told = (
            *not_ranked_lines(ranking),
            next_line(ranking, waiting, folder, typed_folder(folder, bench)),
        )
        raise UndoneError("\n".join(("No card: no lens could be judged.", *told)))
    out = bench.folder / "out" / "cards"
    try:
        written = write_cards(cards, out)
    except OSError as error:
        raise UndoneError(cant_write(out, error)) from None
    if as_json:
        print_json({**card_document(cards, written), **on_body_data(bench)})
    else:
        print("\n".join((*on_body_lines(bench), *card_lines(cards, written))))
