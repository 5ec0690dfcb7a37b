"""Bench against sky as plain data."""

from __future__ import annotations

from dataclasses import asdict
from typing import Any

from nightglass.gear.lens import LensSetting
from nightglass.proof.reasons import FrameReason, PlaceReason, PredictionReason
from nightglass.proof.records import (
    Cause,
    FrameNight,
    NextStep,
    PlaceProof,
    Proof,
    Verdict,
)
from nightglass.show.proof.text import place_comparisons
from nightglass.verdict.records import Interval


def proof_data(proof: Proof) -> dict[str, Any]:
    """Return the comparison as plain values; what is not known is None."""
    return {
        "verdict": _verdict_data(proof.verdict),
        "picture_height_px": proof.picture_height_px,
        "tau": _span_data(proof.tau),
        "stars_tau": _span_data(proof.stars_tau),
        "judged_at": list(proof.shared_places),
        "pairs_held": proof.pairs_held,
        "pairs_open": len(proof.pairs_open),
        "pairs_against": [
            {"tighter_on_the_bench": _setting_data(a), "tighter_on_the_sky": _setting_data(b)}
            for a, b in proof.pairs_against
        ],
        "settings": [
            {
                **_setting_data(setting.setting),
                "frames": list(setting.files),
                "largest_but_unseen": setting.unseen,
                "causes": [_cause_data(cause) for cause in setting.causes],
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
                "against": None if frame.night is None else _night_data(frame.night),
                "reason": _frame_reason_data(frame.reason),
            }
            for frame in proof.frames
        ],
        "not_on_sky": [_setting_data(setting) for setting in proof.not_on_sky],
        "next": _next_data(proof.next_step),
    }


def _verdict_data(verdict: Verdict) -> dict[str, Any]:
    return {
        "code": verdict.code,
        "undecided": verdict.undecided,
        "settings": verdict.settings,
        "places": list(verdict.places),
        "odd": [_setting_data(setting) for setting in verdict.odd],
        "odd_pairs": [[_setting_data(s) for s in pair] for pair in verdict.odd_pairs],
        "largest_but_unseen": [
            {"place": place, "setting": _setting_data(setting)} for place, setting in verdict.unseen
        ],
        "fewest_places": None if verdict.fewest is None else _setting_data(verdict.fewest),
    }


def _next_data(step: NextStep) -> dict[str, Any]:
    setting = None if step.setting is None else _setting_data(step.setting)
    return {"code": step.code, "setting": setting, "place": step.place}


def _cause_data(cause: Cause) -> dict[str, Any]:
    return {
        "code": cause.code,
        "factors": list(cause.factors),
        "conditions": list(cause.conditions),
        "stars": cause.stars,
    }


def _frame_reason_data(reason: FrameReason | None) -> dict[str, Any] | None:
    """Code, what the failing step said (empty where the code says all), why it is not solved."""
    if reason is None:
        return None
    failed = reason.unsolved
    unsolved = failed and {
        "reason": failed.reason,
        "stars": failed.stars,
        "advice": failed.advice,
    }
    return {"code": reason.code, "error": reason.error, "unsolved": unsolved}


def _prediction_reason_data(reason: PredictionReason | None) -> dict[str, Any] | None:
    return None if reason is None else asdict(reason)


def _place_reason_data(reason: PlaceReason | None) -> dict[str, Any] | None:
    return None if reason is None else asdict(reason)


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


def _night_data(night: FrameNight) -> dict[str, Any]:
    kinds = {
        name: {
            "predicted": said.predicted,
            "found": said.found,
            "difference" if name == "limiting_mag" else "ratio": _span_data(said.ratio),
            "differs": said.differs,
            "reason": _prediction_reason_data(said.reason),
        }
        for name, said in (
            ("stars", night.stars),
            ("limiting_mag", night.limit),
            ("zero_point_mag", night.light),
            ("glow", night.glow),
        )
    }
    return {**kinds, "tested_share": night.tested_share, "beyond_catalogue": night.beyond_share}


def _place_data(place: PlaceProof) -> dict[str, Any]:
    """Sizes in px; % of height is 100 times px over picture_height_px."""
    return {
        "place": place.place,
        "field_radius": place.field_radius,
        "sky_field_radius": place.sky_radius,
        "zone": None if place.ratio is None else place.zone_kind,
        "zone_away_percent": place.zone_away_percent,
        "zone_joined": place.zone_joined,
        "frames": place.frames,
        "stars": place.stars,
        "bench_px": place.bench_px,
        "sky_px": place.sky_px,
        "bench_95": _span_data(place.bench_span),
        "sky_95": _span_data(place.sky_span),
        "ratio": _span_data(place.ratio),
        "trail_px": place.trail_px,
        "as_measured": {
            "bench_px": place.as_measured_bench_px,
            "sky_px": place.as_measured_sky_px,
            "ratio": _span_data(place.as_measured_ratio),
            "stars": place.as_measured_stars,
        },
        "differs": place.differs,
        "decided_by": next((way.method for way in place_comparisons(place) if way.decides), None),
        "lens_alone_differs": place.lens_alone_differs if place.ratio is not None else None,
        "reason": _place_reason_data(place.reason),
    }
