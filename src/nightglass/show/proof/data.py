"""Bench against sky as plain data."""

from __future__ import annotations

from typing import Any

from nightglass.gear.lens import LensSetting
from nightglass.proof.records import FrameNight, PlaceProof, Proof, setting_words
from nightglass.show.proof.text import next_step, place_ways, stand_in_words
from nightglass.verdict.records import Interval


def proof_data(proof: Proof) -> dict[str, Any]:
    """Return the comparison as plain values; what is not known is None."""
    return {
        "verdict": proof.verdict,
        "picture_height_px": proof.picture_height_px,
        "tau": _span_data(proof.tau),
        "stars_tau": _span_data(proof.stars_tau),
        "judged_at": list(proof.shared_places),
        "pairs_held": proof.pairs_held,
        "pairs_open": len(proof.pairs_open),
        "pairs_against": [
            {"tighter_on_the_bench": setting_words(a), "tighter_on_the_sky": setting_words(b)}
            for a, b in proof.pairs_against
        ],
        "settings": [
            {
                **_setting_data(setting.setting),
                "frames": list(setting.files),
                "largest_but_unseen": setting.unseen,
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
                "against": None if frame.night is None else _night_data(frame.night),
                "reason": frame.reason,
            }
            for frame in proof.frames
        ],
        "not_on_sky": [_setting_data(setting) for setting in proof.not_on_sky],
        "how": proof.how,
        "next": next_step(proof),
    }


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
            "reason": said.reason,
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
        "zone_note": stand_in_words(place),
        "frames": place.frames,
        "stars": place.stars,
        "bench_px": place.bench_px,
        "sky_px": place.sky_px,
        "bench_95": _span_data(place.bench_span),
        "sky_95": _span_data(place.sky_span),
        "ratio": _span_data(place.ratio),
        "trail_px": place.trail_px,
        "as_measured": {
            "bench_px": place.like_bench_px,
            "sky_px": place.like_sky_px,
            "ratio": _span_data(place.like_ratio),
            "stars": place.like_stars,
        },
        "differs": place.differs,
        "decided_by": next((way.name for way in place_ways(place) if way.decides), None),
        "lens_alone_differs": place.alone_differs if place.ratio is not None else None,
        "reason": place.reason,
    }
