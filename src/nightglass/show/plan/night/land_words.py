"""Words for the land below the stars: blue hour, focus, exposure."""

from __future__ import annotations

from nightglass.plan.codes import BlueHourCode
from nightglass.plan.night.land import LandExposure, LandFocus

BLUE_HOUR_WORDS: dict[BlueHourCode, str] = {
    BlueHourCode.SUN_DOES_NOT_PASS: "No blue hour: the sun does not pass from -4° to -8° this "
    "night.",
}


def focus_words(focus: LandFocus) -> str:
    """Return where to focus for the land, and what that does to the stars."""
    return (
        f"Focused at {focus.hyperfocal_m:.1f} m the land is sharp from {focus.near_limit_m:.1f} m "
        f"by the print custom, but stars are blurred by {focus.star_blur_percent:.3f} % of picture "
        "height. Take a frame for the stars and one for the land; one focus serves both from "
        f"{focus.star_hyperfocal_m:.0f} m."
    )


def exposure_words(land: LandExposure) -> str:
    """Return the time for the land under moon or stars."""
    return (
        f"Land by {land.source.value} ({land.illuminance_lux * 1000:.2g} mlx, a guess good to a "
        f"stop): about {_seconds(land.exposure_s)} at f/{land.f_number:g}, ISO {land.iso}. Lower "
        "ISO and longer time give the same light with less noise; take it apart from the stars."
    )


def _seconds(time_s: float) -> str:
    if time_s < 9.95:
        return f"{time_s:.1f} s"
    return f"{time_s:.0f} s" if time_s < 120 else f"{time_s / 60:.0f} min"
