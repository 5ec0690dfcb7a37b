"""Ranking: sentences, chart and table, by the purpose and the question that the person chooses."""

from __future__ import annotations

import threading
from collections.abc import Mapping
from dataclasses import replace
from typing import Annotated, Any
from urllib.parse import urlencode

from fastapi import APIRouter, Query, Request
from fastapi.responses import Response
from pydantic import BaseModel

from nightglass.bench.waiting import Waiting, waiting_frames
from nightglass.gear.benchfile import BenchFile, ScoreChoice
from nightglass.gear.edited import change_bench, state_of, with_values
from nightglass.gear.lens import Lens
from nightglass.gear.typed import number_of
from nightglass.page.asked import Form, InSession, OfBench, bench_page, go, is_part, page
from nightglass.page.blocks import blocks_of
from nightglass.page.jobs import KNOWN_FAULTS
from nightglass.page.live import live_chart
from nightglass.page.session import Session
from nightglass.page.standings import standing_blocks
from nightglass.show.chart_style import chart_svg
from nightglass.show.ranking.charts import ranking_chart
from nightglass.show.ranking.frontier_chart import frontier_chart
from nightglass.show.ranking.sentences import opening
from nightglass.show.ranking.text import (
    details_lines,
    headline,
    ranking_lines,
    table_row,
    waiting_lines,
)
from nightglass.verdict.on_record import OnRecord, read_on_record
from nightglass.verdict.purpose import with_choices
from nightglass.verdict.question import Question
from nightglass.verdict.records import Ranking

router = APIRouter(prefix="/bench/{key}")
PURPOSES = ("phone", "screen", "print 30 cm wide seen from 50 cm", "print 60 cm wide seen from 1 m")
QUESTIONS = {
    Question.PICTURE: "a whole picture",
    Question.SKY: "one patch of sky (panorama, crop, stack)",
}
CHARTS = {"ranking": ranking_chart, "frontier": frontier_chart}


class Choice(BaseModel):
    """What the person asks of the ranking; empty: as bench.toml says."""

    purpose: str = ""
    question: Question = Question.PICTURE
    release: str = ""
    limit: str | None = None
    """Largest blur, % of height; empty: none. None: as bench.toml says."""
    stars: str = ""
    """Weight of the stars, %; the glow has the rest."""
    body: str = ""
    """Where the bench has several; empty: the one of [body]."""
    all: bool = False
    """Every assumption, not only those that could change the order."""


Chosen = Annotated[Choice, Query()]


@router.get("/ranking")
def ranking(request: Request, bench: OfBench, session: InSession, choice: Chosen) -> Response:
    """Show the ranking; for a changed choice only the part that changes.

    Without a choice in the address the last one counts; `fresh` goes back to bench.toml.
    """
    if "fresh" in request.query_params:
        session.choices.pop(bench.folder, None)
    elif not request.query_params:
        choice = Choice.model_validate(session.choices.get(bench.folder, {}))
        if choice.body not in [body.name for body in bench.bodies]:
            choice = choice.model_copy(update={"body": ""})
    asked = bench_asked(bench, choice)
    found = ranked(asked, session, choice.question)
    if choice != Choice(all=choice.all):
        session.choices[bench.folder] = choice.model_dump(exclude={"all"}, exclude_none=True)
    values = _shown(bench, asked, found, session, choice)
    if is_part(request):
        base = f"/bench/{request.path_params['key']}"
        return page(request, "parts/ranking.html", base=base, **values)
    if session.works_ahead:
        session.shelf.get(bench, "ahead", lambda: _ahead(bench, session))
    return bench_page(
        request, bench, "ranking.html", "ranking", purposes=_purposes(bench), questions=QUESTIONS,
        bodies=[body.name for body in bench.bodies], chosen=_chosen(asked, choice), **values,
    )  # fmt: skip


@router.get("/ranking/{chart}.svg")
def chart(bench: OfBench, session: InSession, chart: str, choice: Chosen) -> Response:
    """Return a chart of the ranking."""
    if chart not in CHARTS:
        return Response(status_code=404)
    asked = bench_asked(bench, choice)
    found = ranked(asked, session, choice.question)
    drawn = session.shelf.get(
        asked, f"chart {chart}", lambda: chart_svg(CHARTS[chart](found)), _key(asked),
        choice.question,
    )  # fmt: skip
    return Response(drawn, media_type="image/svg+xml")


@router.get("/ranking/{chart}.json")
def chart_to_draw(bench: OfBench, session: InSession, chart: str, choice: Chosen) -> Response:
    """Return a chart of the ranking for the browser to draw."""
    if chart not in CHARTS:
        return Response(status_code=404)
    asked = bench_asked(bench, choice)
    found = ranked(asked, session, choice.question)
    drawn = session.shelf.get(
        asked, f"live {chart}", lambda: live_chart(CHARTS[chart](found), _linked(asked)),
        _key(asked), choice.question,
    )  # fmt: skip
    return Response(drawn, media_type="application/json")


@router.post("/ranking/keep")
def keep(request: Request, bench: OfBench, session: InSession, form: Form) -> Response:
    """Write the choice into bench.toml, for all commands and the card."""
    asked = bench_asked(bench, Choice.model_validate({k: form.get(k, "") for k in _KEPT}))
    seen = form.get("state", "")

    def change(document: Any) -> None:
        percent = None if asked.limit is None else asked.limit.percent
        words = asked.purpose.words or None
        with_values("purpose", words=words, limit_percent=percent)(document)
        with_values("time", release=asked.time.release)(document)
        with_values("score", a=asked.score.a)(document)

    change_bench(bench, seen, change)
    session.choices.pop(bench.folder, None)
    return go(f"/bench/{request.path_params['key']}/ranking")


_KEPT = ("purpose", "release", "limit", "stars")


def bench_asked(bench: BenchFile, choice: Choice) -> BenchFile:
    """Return the bench with what the person chose in place of what bench.toml says.

    Raises ValueError for a choice that can't be used.
    """
    bench = bench.on_body(choice.body or None)
    limit = number_of(choice.limit, "the limit of blur", "0.25") if choice.limit else None
    if choice.limit == "":
        bench = replace(bench, limit=None)
    remote = {"remote": True, "dial": False}.get(choice.release)
    bench = with_choices(bench, choice.purpose or None, remote, limit)
    if not choice.stars:
        return bench
    a = number_of(choice.stars, "the weight of the stars in %", "50") / 100
    if not 0 <= a <= 1:
        raise ValueError(f"the weight of the stars is {100 * a:g} %; allowed: 0 to 100")
    return replace(bench, score=ScoreChoice(a, 1 - a, bench.score.reference))


def on_record(bench: BenchFile, session: Session) -> OnRecord:
    """Return what is on record of a bench, kept while nothing changes."""
    return session.shelf.get(bench, "on record", lambda: read_on_record(bench), bench.body.name)


def ranked(asked: BenchFile, session: Session, question: Question) -> Ranking:
    """Return the ranking of a bench as asked, kept while nothing changes."""
    found = on_record(asked, session)
    # Other weights and limits rest on the same: only what they change is worked out again.
    ground = session.shelf.get(
        asked, "groundwork", lambda: found.groundwork(asked), _key(asked)[:-2]
    )
    return session.shelf.get(
        asked, "ranking", lambda: found.ranking(asked, question, ground), _key(asked), question
    )


def _ahead(bench: BenchFile, session: Session) -> bool:
    """Begin to work out what the form offers, so that a choice is answered at once."""
    offered = [
        *(Choice(purpose=words) for words in _purposes(bench)),
        Choice(question=Question.SKY),
        Choice(release="dial" if bench.time.release == "remote" else "remote"),
    ]

    def work() -> None:
        for choice in offered:
            try:
                ranked(bench_asked(bench, choice), session, choice.question)
            except KNOWN_FAULTS:
                # Who asks for it is told.
                return

    threading.Thread(target=work, name=f"ahead {bench.folder.name}", daemon=True).start()
    return True


def _linked(asked: BenchFile) -> tuple[Lens, ...]:
    """The lenses with pages of their own: those are of the body of [body]."""
    return () if asked.main_body else asked.lenses


def _key(asked: BenchFile) -> tuple[Any, ...]:
    return asked.body.name, asked.purpose, asked.time, asked.limit, asked.score


def _waiting(bench: BenchFile, session: Session) -> Waiting:
    return session.shelf.get(bench, "waiting", lambda: waiting_frames(bench))


def _purposes(bench: BenchFile) -> tuple[str, ...]:
    own = bench.purpose.words
    return PURPOSES if not own or own in PURPOSES else (own, *PURPOSES)


def _chosen(asked: BenchFile, choice: Choice) -> Mapping[str, Any]:
    return {
        "purpose": asked.purpose.words or "screen",
        "question": choice.question,
        "release": asked.time.release,
        "limit": "" if asked.limit is None else f"{asked.limit.percent:g}",
        "stars": f"{100 * asked.score.a:g}",
        **({"body": asked.body.name} if asked.other_bodies else {}),
    }


def _shown(
    bench: BenchFile, asked: BenchFile, found: Ranking, session: Session, choice: Choice
) -> dict[str, Any]:
    chosen = _chosen(asked, choice)
    rows = [table_row(standing, found.question) for standing in found.standings]
    return {
        "headline": headline(found) + (f", on {asked.body.name}" if asked.other_bodies else ""),
        "opening": [words.split(": --view")[0] for words in opening(found)],
        "standings": standing_blocks(found, _linked(asked)),
        "columns": list(rows[0]) if rows else [],
        "table": [[text.split("\n") for text in row.values()] for row in rows],
        "details": blocks_of(details_lines(found)),
        "below": blocks_of(ranking_lines(found, choice.all)),
        "waiting": [line.split("; finish with")[0] for line in waiting_lines(
            _waiting(bench, session), bench.folder)],
        "query": urlencode({**chosen, "question": choice.question.value}),
        "choice": chosen,
        "is_own": chosen != _chosen(bench, Choice()),
        "state": state_of(bench),
        "all": choice.all,
    }  # fmt: skip
