"""The verdict as plain data: rows, CSV for a spreadsheet, JSON for programs."""

from __future__ import annotations

import json
import math
from collections.abc import Sequence
from dataclasses import asdict
from typing import Any

from nightglass.bench.faults.copies import CopyFinding
from nightglass.bench.waiting import Waiting
from nightglass.show.csv_rows import csv_text
from nightglass.show.ranking.look_words import NAMES
from nightglass.show.ranking.note_words import note_words
from nightglass.verdict.codes import Note
from nightglass.verdict.records import Ranking, Standing, Times, Worth


def ranking_rows(ranking: Ranking) -> list[dict[str, Any]]:
    """Return one row per lens in the ranking, best place first.

    Units are in the names. A value that can't be known is None; `reason` then says why.
    """
    return [_standing_row(standing) for standing in ranking.standings]


def setting_rows(ranking: Ranking) -> list[dict[str, Any]]:
    """Return one row per measured setting, as judged, in the order of lens, zoom and f-number."""
    unbeaten = {worth.setting for worth in ranking.unbeaten}
    ordered = sorted(ranking.worths, key=lambda worth: worth.setting)
    return [{**_worth_row(worth), "unbeaten": worth.setting in unbeaten} for worth in ordered]


def to_csv(rows: Sequence[dict[str, Any]]) -> str:
    """Return rows as CSV (RFC 4180: commas, CRLF), the keys of the first as header.

    A missing value is an empty cell. Text that a spreadsheet would run as a formula gets an
    apostrophe in front. Raises ValueError for no rows.
    """
    if not rows:
        raise ValueError("no rows to write; rank at least one setting first")
    return csv_text([{key: _cell(value) for key, value in row.items()} for row in rows])


def to_json(ranking: Ranking, waiting: Waiting | None = None) -> str:
    """Return ranking_document as JSON. NaN and infinity have no place in it: they become null."""
    document = finite(ranking_document(ranking, waiting))
    return json.dumps(document, indent=2, ensure_ascii=False, allow_nan=False)


def ranking_document(ranking: Ranking, waiting: Waiting | None = None) -> dict[str, Any]:
    """Return the whole verdict: standings, settings, unbeaten ones, assumptions.

    waiting: files that take no part in it.
    """
    return {
        "question": ranking.question,
        "viewed_as": asdict(ranking.eye),
        "limit": None if ranking.limit is None else asdict(ranking.limit),
        "frames_not_on_record": None if waiting is None else waiting.not_on_record,
        "frames_without_setting": None
        if waiting is None
        else [{"file": path, "reason": reason} for path, reason in waiting.not_used],
        "reference": None if ranking.reference is None else asdict(ranking.reference),
        "standings": ranking_rows(ranking),
        "settings": setting_rows(ranking),
        "unbeaten": [_worth_row(worth) for worth in ranking.unbeaten],
        "jumps": [asdict(jump) for jump in ranking.jumps],
        "order_frequency": None
        if ranking.order_frequency is None
        else asdict(ranking.order_frequency),
        "sessions": [asdict(one) for one in ranking.sessions],
        "scatter": None if ranking.scatter is None else asdict(ranking.scatter),
        "not_tested": list(ranking.not_tested),
        "assumptions": [asdict(item) for item in ranking.assumptions],
        "not_ranked": [asdict(one) for one in ranking.not_ranked],
    }


def finite(value: Any) -> Any:
    """Return a nested value with NaN and infinity as None and numpy scalars as plain numbers."""
    if isinstance(value, dict):
        return {key: finite(item) for key, item in value.items()}
    if isinstance(value, list | tuple):
        return [finite(item) for item in value]
    if hasattr(value, "item") and not isinstance(value, str):
        value = value.item()
    if isinstance(value, float) and not math.isfinite(value):
        return None
    return value


def no_gain_reason(standing: Standing) -> str:
    """Return why a standing has no gain over the next: last, or limits keep them apart."""
    if standing.next_lower is None:
        return "no lower place"
    return "the next lens is over your limit"


def _standing_row(standing: Standing) -> dict[str, Any]:
    gain, wide, uneven = standing.gain_over_next_percent, standing.wide_open, standing.uneven
    return {
        "place": standing.place,
        "tied_with": "; ".join(standing.tied_with),
        **_worth_row(standing.worth),
        "over_limit": standing.over_limit,
        "next_lower": standing.next_lower,
        "hardly_visible": standing.hardly_visible,
        "different_picture": standing.different_picture,
        "gain_over_next_percent": gain.value if gain else None,
        "gain_over_next_low_percent": gain.low if gain else None,
        "gain_over_next_high_percent": gain.high if gain else None,
        "shorter_score": standing.shorter_score,
        "longer_score": standing.longer_score,
        "tighter_f_number": standing.tighter and standing.tighter.setting.f_number,
        "tighter_score": standing.tighter and standing.tighter.score.value,
        "wide_open_f_number": wide and wide.worth.setting.f_number,
        "wide_open_light_stops": wide and wide.light_stops,
        "wide_open_score": wide and wide.worth.score.value,
        "wide_open_reason": wide and wide.reason,
        "corners_ratio": uneven and uneven.ratio,
        "corners_worst": uneven and uneven.worst_place,
        "corners_chance": uneven and uneven.chance,
        "corners_score_without": uneven and uneven.score_without,
        **_copy_row(standing.copy),
        "reason": _reason(standing),
    }


def _copy_row(copy: CopyFinding | None) -> dict[str, Any]:
    """What the places at equal radius say of this copy, whether they differ or not."""
    return {
        "copy_verdict": copy and copy.verdict,
        "copy_reason": copy and copy.reason,
        "copy_ratio": copy and copy.ratio,
        "copy_worst": copy and copy.worst_place,
        "copy_best": copy and copy.best_place,
        "copy_chance": copy and copy.chance,
        "copy_power": copy and copy.power,
        "copy_found_ratio": copy and copy.found_ratio,
    }


def _worth_row(worth: Worth) -> dict[str, Any]:
    span = worth.tightness_interval
    row = {
        "body": worth.setting.body,
        "lens": worth.setting.lens,
        "focal_mm": worth.setting.focal_mm,
        "f_number": worth.setting.f_number,
        "exposure_s": worth.exposure_s,
        "release": worth.release,
        "holds_at": worth.times.holds_at,
        **_times_row(worth.times.chosen),
        **{f"other_{key}": value for key, value in _times_row(worth.times.other).items()},
        "iso": worth.iso.iso,
        "iso_reason": worth.iso.reason,
        "iso_noise_over_best_percent": worth.iso.noise_over_best_percent,
        "iso_next": worth.iso.next_iso,
        "iso_next_costs_stops": worth.iso.next_costs_stops,
        "score": worth.score.value,
        "score_low": worth.score.low,
        "score_high": worth.score.high,
        **worth.factors,
        "other_score": worth.other_score,
        "gathered_mm2_s": worth.gathered_mm2_s,
        "falloff": worth.falloff,
        "corner_stops": worth.corner_stops,
        "peak_kept": worth.peak_kept,
        "crowded_share": worth.crowded_share,
        **_looks_row(worth),
        "lens_tightness_percent": worth.lens_tightness_percent,
        "lens_tightness_percent_err": worth.lens_tightness_percent_err,
        "lens_tightness_low_percent": span.low if span else None,
        "lens_tightness_high_percent": span.high if span else None,
        "mean_tightness_percent": worth.mean_tightness_percent,
        "tightness_percent": worth.tightness_percent,
        "trail_percent": worth.trail_percent,
        "worst_place": worth.worst_place,
        "places_measured": "; ".join(worth.places_measured),
        "at_limit": worth.at_limit,
        "eligible": worth.eligible,
        "over_limit_percent": worth.over_limit_percent,
        "notes": [asdict(note) for note in worth.notes],
    }
    return {key: finite(value) for key, value in row.items()}


def _looks_row(worth: Worth) -> dict[str, Any]:
    return {
        f"look_{name}_{part}": getattr(look, part)
        for name, look in zip(NAMES, worth.looks, strict=True)
        for part in ("typical", "typical_widths", "worst", "worst_widths", "worst_place")
    }


def _times_row(times: Times) -> dict[str, float]:
    return asdict(times)


def _reason(standing: Standing) -> str:
    reasons = []
    if standing.gain_over_next_percent is None:
        reasons.append(f"no gain: {no_gain_reason(standing)}")
    elif standing.gain_over_next_percent.low is None:
        reasons.append("no interval of the gain: spread not known")
    if standing.worth.score.low is None:
        reasons.append("no interval of the score: spread not known")
    if standing.worth.lens_tightness_percent_err is None:
        at_limit = "at limit, an upper bound" if standing.worth.at_limit else "spread not known"
        reasons.append(f"no error of tightness: {at_limit}")
    if standing.worth.iso.iso is None:
        reasons.append("no ISO: read noise not known")
    return "; ".join(reasons)


def _cell(value: Any) -> Any:
    if isinstance(value, list):
        return "; ".join(note_words(Note(**note)) for note in value)
    return value
