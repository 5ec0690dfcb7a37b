"""The cards of a bag: each lens with its panorama and stack, and the night at the bench's site."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from datetime import date

from nightglass.bench.records import SettingResult
from nightglass.gear.benchfile import BenchFile
from nightglass.gear.lens import Lens
from nightglass.plan.camera import Shot
from nightglass.plan.moment import evening_of
from nightglass.plan.night.night import plan_night
from nightglass.plan.panorama.usable import (
    USABLE_LIMIT_PERCENT,
    NothingUsableError,
    usable_of,
)
from nightglass.plan.usual import usual_panorama, usual_stack
from nightglass.plan.where import where
from nightglass.show.card.night_strip import night_strip
from nightglass.show.card.record import CardContext, LensCard, LensExtras, NightStrip, bag_cards
from nightglass.show.plan.panorama.stack import stack_line
from nightglass.show.plan.panorama.text import panorama_line
from nightglass.verdict.records import Ranking, Standing


def cards_of(
    bench: BenchFile,
    lenses: Sequence[Lens],
    ranking: Ranking,
    results: Sequence[SettingResult],
    night: str | None = None,
) -> tuple[LensCard, ...]:
    """Return a card for each lens, ranked ones by place.

    night: evening of the strip, like 2027-05-06; None is the coming night. Raises ValueError for
    a night without a site in bench.toml, and for dates that no calendar has.
    """
    strip = strip_of(bench, night)
    extras = {lens.name: LensExtras(focus_method=lens.focus or None) for lens in lenses}
    by_name = {lens.name: lens for lens in lenses}
    for standing in ranking.standings:
        lens = by_name.get(standing.worth.setting.lens)
        if lens is not None and not standing.over_limit:
            extras[lens.name] = _planned(bench, lens, standing, ranking, results)
    context = CardContext(bench.body, date.today(), strip, extras)
    return bag_cards(lenses, ranking, results, context)


def strip_of(bench: BenchFile, night: str | None = None) -> NightStrip | None:
    """Return the night's strip at the bench's site; None where no site is kept.

    Raises ValueError as cards_of does.
    """
    if bench.site.place is None:
        if night is not None:
            raise ValueError(
                '--night needs a place: keep it in bench.toml under [site], place = "52.1 N 4.4 E"'
            )
        return None
    there = where(None, site=bench.site)
    return night_strip(plan_night(there.place, evening_of(night, there), horizon=there.horizon))


def _planned(
    bench: BenchFile,
    lens: Lens,
    standing: Standing,
    ranking: Ranking,
    results: Sequence[SettingResult],
) -> LensExtras:
    """Panorama and stack of a ranked lens at its best setting and that setting's time."""
    setting, exposure_s = standing.worth.setting, standing.worth.exposure_s
    flat = Shot(bench.body, setting.focal_mm, setting.f_number, lens.projection)
    upright = replace(flat, portrait=True)
    result = next((r for r in results if r.setting == setting), None)
    limit_percent = None if ranking.limit is None else ranking.limit.percent
    stack = stack_line(usual_stack(flat, exposure_s))
    try:
        usable = usable_of(result, upright, limit_percent, standing.worth.measured_falloff)
    except NothingUsableError:
        # Said on this lens's card; the cards of the others go on.
        most = USABLE_LIMIT_PERCENT if limit_percent is None else limit_percent
        return LensExtras(lens.focus or None, None, stack, most)
    around = usual_panorama(upright, exposure_s, usable)
    return LensExtras(lens.focus or None, None if around is None else panorama_line(around), stack)
