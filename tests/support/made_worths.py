"""Worths made up for the case: every number as given, no frame behind it."""

from __future__ import annotations

import math

from nightglass.gear.lens import LensSetting
from nightglass.light.falloff import FalloffSource
from nightglass.light.iso import IsoReason, WorkingIso
from nightglass.verdict.records import FrameTimes, Interval, Worth
from nightglass.verdict.times import times_within
from nightglass.verdict.view.look import Look, Shape

TIMES = FrameTimes(times_within(30.0, 30.0), times_within(12.0, 30.0), "centre")
ISO = WorkingIso(800, IsoReason.LOW_NOISE, 2.0, 1600, 1.0)


def make_looks(worst_place: str = "centre") -> tuple[Look, ...]:
    shapes = ((Shape.POINTS, 1.2), (Shape.DRAWN_OUT, 1.8), (Shape.DRAWN_OUT, 2.4))
    names = ("phone", "screen", "print 60 cm wide seen from 1 m")
    return tuple(
        Look(name, shape, widths, Shape.STREAKS, 3.5, worst_place)
        for name, (shape, widths) in zip(names, shapes, strict=True)
    )


def make_worth(
    setting: LensSetting,
    stars: float = 1000.0,
    glow: float = 100.0,
    blur: float = 0.2,
    limit: float | None = None,
    **more: object,
) -> Worth:
    """A setting within a limit on its worst blur, or over it."""
    given: dict[str, object] = {
        "setting": setting, "times": TIMES, "exposure_s": 32.0, "release": "dial", "iso": ISO,
        "gathered_mm2_s": 1000.0, "falloff": FalloffSource.MODEL, "corner_stops": 0.3,
        "factors": {"stars": stars, "glow": glow, "stars_on_sky": stars, "glow_on_sky": glow},
        "score": Interval(math.nan, None, None), "other_score": 50.0, "peak_kept": 0.5,
        "crowded_share": 0.1, "looks": make_looks(), "lens_tightness_percent": blur,
        "lens_tightness_percent_err": 0.01 * blur, "worst_place": "centre",
        "mean_tightness_percent": 0.8 * blur, "tightness_percent": blur + 0.1,
        "trail_percent": 0.17, "at_limit": False,
        "over_limit_percent": blur - limit if limit is not None and blur > limit else None,
        "places_measured": ("centre",),
    }  # fmt: skip
    return Worth(**{**given, **more})  # type: ignore[arg-type]
