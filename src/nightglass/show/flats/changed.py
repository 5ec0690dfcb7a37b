"""What flats changed in a ranking, setting by setting, as a table."""

from __future__ import annotations

from collections.abc import Iterator

from nightglass.show.columns import table_lines
from nightglass.show.ranking.factor_words import cell
from nightglass.show.words import setting_title
from nightglass.verdict.records import Ranking, Worth

HEAD = (
    "setting", "corner before", "now [stops]", "stars before", "stars now", "score before",
    "score now",
)  # fmt: skip


def changed_lines(before: Ranking, after: Ranking) -> Iterator[str]:
    """Yield the order before and after, and a table of the settings that both rankings hold.

    The corner is star light lost there. Nothing where neither ranked a lens.
    """
    if not before.standings or not after.standings:
        return
    first = [one.standings[0].worth.setting for one in (before, after)]
    if first[0].lens == first[1].lens:
        yield f"{first[1].lens} comes first with the flats as without them."
    else:
        yield f"The flats change the order: {first[1].lens} comes before {first[0].lens} now."
    yield ""
    earlier = {worth.setting: worth for worth in before.worths}
    now = sorted(after.worths, key=lambda worth: -worth.score.value)
    rows = [_row(earlier[worth.setting], worth) for worth in now if worth.setting in earlier]
    yield from table_lines([HEAD, *rows], None, numbers=HEAD[1:])


def _row(before: Worth, now: Worth) -> tuple[str, ...]:
    return (
        setting_title(now.setting),
        f"{before.corner_stops:.2f}", f"{now.corner_stops:.2f}",
        cell("stars", before), cell("stars", now),
        f"{before.score.value:.0f}", f"{now.score.value:.0f}",
    )  # fmt: skip
