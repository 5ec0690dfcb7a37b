"""Bench against sky in words, as a table and as plain data."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

from nightglass.gear.lens import LensSetting
from nightglass.show.words import NOT_TESTED, f_number, focal
from nightglass.verdict.proof_records import PlaceProof, Proof, SettingProof, SkyFrame
from nightglass.verdict.records import Interval

HEAD = (
    "place", "bench px", "sky px", "sky / bench", "95 %", "with trail", "95 %", "trail px", "stars",
)  # fmt: skip


def setting_words(setting: LensSetting) -> str:
    """Return a setting in one line: lens, focal length, f-number."""
    return f"{setting.lens}, {focal(setting.focal_mm)}, {f_number(setting.f_number)}"


def proof_lines(proof: Proof) -> Iterator[str]:
    """Yield everything that a person reads, frames last; the verdict comes first."""
    yield f"Verdict: {proof.verdict}."
    yield from _order_lines(proof)
    for setting in proof.settings:
        yield ""
        yield from _setting_lines(setting)
    if proof.not_on_sky:
        yield ""
        yield f"No frame of the sky: {'; '.join(setting_words(s) for s in proof.not_on_sky)}"
    yield ""
    yield "Frames of the sky:"
    for frame in proof.frames:
        yield f"  {_frame_line(frame)}"
    yield ""
    yield f"How: {proof.how}."


def next_step(proof: Proof) -> str:
    """Return the one thing to do next."""
    if not any(setting.bench_worst for setting in proof.settings):
        return "shoot a frame of the sky with a setting of this bench: five lines in docs/sky.md"
    if proof.tau is None:
        return "shoot the sky with three or more settings of this bench, all in one night"
    odd = next((s for s in proof.settings if s.causes), None)
    if odd is None:
        return "trust the ranking: nightglass rank"
    return f"focus again and shoot {setting_words(odd.setting)} once more, sky and bench"


def proof_data(proof: Proof) -> dict[str, Any]:
    """Return the comparison as plain values; what is not known is None."""
    return {
        "verdict": proof.verdict,
        "tau": _span_data(proof.tau),
        "pairs_held": proof.pairs_held,
        "pairs_open": proof.pairs_open,
        "pairs_against": [
            {"tighter_on_the_bench": setting_words(a), "tighter_on_the_sky": setting_words(b)}
            for a, b in proof.pairs_against
        ],
        "settings": [
            {
                **_setting_data(setting.setting),
                "frames": list(setting.files),
                "causes": list(setting.causes),
                "places": [_place_data(place) for place in setting.places],
            }
            for setting in proof.settings
        ],
        "frames": [
            {
                "file": frame.file,
                "setting": None if frame.setting is None else _setting_data(frame.setting),
                "stars": frame.stars,
                "moved": frame.moved,
                "clipped_share": frame.clipped_share,
                "limiting_mag": frame.limiting_mag,
                "sky_mag_arcsec2": frame.sky_mag_arcsec2,
                "conditions": list(frame.conditions),
                "reason": frame.reason,
            }
            for frame in proof.frames
        ],
        "not_on_sky": [_setting_data(setting) for setting in proof.not_on_sky],
        "how": proof.how,
        "next": next_step(proof),
    }


def _order_lines(proof: Proof) -> Iterator[str]:
    if proof.tau is None:
        return
    held, against, left = proof.pairs_held, len(proof.pairs_against), proof.pairs_open
    yield (
        f"Order of settings by their largest place: Kendall's tau {proof.tau.value:.2f} "
        f"({proof.tau.low:.2f} to {proof.tau.high:.2f}); pairs that hold {held}, against "
        f"{against}, undecided {left}."
    )
    for tighter, wider in proof.pairs_against:
        yield (
            f"  tighter on the bench, not on the sky: {setting_words(tighter)} before "
            f"{setting_words(wider)}"
        )


def _setting_lines(proof: SettingProof) -> Iterator[str]:
    yield setting_words(proof.setting)
    rows = [HEAD, *(_row(place) for place in proof.places if place.ratio is not None)]
    widths = [max(len(row[k]) for row in rows) for k in range(len(HEAD))]
    if len(rows) > 1:
        for row in rows:
            cells = (cell.ljust(width) for cell, width in zip(row, widths, strict=True))
            yield "  " + "  ".join(cells).rstrip()
    for place in proof.places:
        if place.ratio is None:
            yield f"  {place.place}: {NOT_TESTED}, {place.reason}"
        elif not place.same_side:
            yield f"  {place.place}: the sky's zone lies on another side, as far from the centre"
    if any(place.ratio is not None for place in proof.places):
        yield from (f"  fits: {cause}" for cause in proof.causes)
        if not proof.causes:
            yield "  no difference beyond the errors"


def _row(place: PlaceProof) -> tuple[str, ...]:
    mark = {1: "  larger on the sky", -1: "  smaller on the sky", 0: ""}[place.differs]
    return (
        place.place,
        _number(place.bench_px),
        _number(place.sky_px),
        "" if place.ratio is None else f"{place.ratio.value:.2f}",
        _span(place.ratio),
        "" if place.trailed_ratio is None else f"{place.trailed_ratio.value:.2f}",
        _span(place.trailed_ratio),
        "" if place.trail_px is None else f"{place.trail_px:.1f}",
        f"{place.stars}{mark}",
    )


def _frame_line(frame: SkyFrame) -> str:
    what = "setting not known" if frame.setting is None else setting_words(frame.setting)
    parts = [f"{frame.file}: {what}"]
    if frame.reason is not None:
        return f"{parts[0]}; not compared: {frame.reason}"
    parts.append(f"{frame.stars} stars")
    if frame.limiting_mag is not None:
        parts.append(f"limit G {frame.limiting_mag:.1f}")
    if frame.sky_mag_arcsec2 is not None:
        parts.append(f"sky {frame.sky_mag_arcsec2:.1f} G mag per square arcsecond")
    if frame.moved:
        parts.append("the camera moved")
    return "; ".join([*parts, *frame.conditions])


def _number(value: float | None) -> str:
    return "" if value is None else f"{value:.2f}"


def _span(interval: Interval | None) -> str:
    if interval is None or interval.low is None or interval.high is None:
        return ""
    return f"{interval.low:.2f} to {interval.high:.2f}"


def _span_data(interval: Interval | None) -> dict[str, float | None] | None:
    if interval is None:
        return None
    return {"value": interval.value, "low": interval.low, "high": interval.high}


def _setting_data(setting: LensSetting) -> dict[str, Any]:
    return {
        "body": setting.body,
        "lens": setting.lens,
        "focal_mm": setting.focal_mm,
        "f_number": setting.f_number,
    }


def _place_data(place: PlaceProof) -> dict[str, Any]:
    return {
        "place": place.place,
        "field_radius": place.field_radius,
        "sky_field_radius": place.sky_radius,
        "same_side": place.same_side,
        "frames": place.frames,
        "stars": place.stars,
        "bench_px": place.bench_px,
        "sky_px": place.sky_px,
        "ratio": _span_data(place.ratio),
        "trail_px": place.trail_px,
        "bench_trailed_px": place.bench_trailed_px,
        "sky_trailed_px": place.sky_trailed_px,
        "trailed_ratio": _span_data(place.trailed_ratio),
        "differs": place.differs,
        "reason": place.reason,
    }
