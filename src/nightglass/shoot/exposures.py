"""Exposure steps for the source: the brightest raw sample shall stand at 40 to 70 % of clipping.

The peak goes with time x ISO; between f-numbers of one lens with the light that the aperture
passes, as long as the spot keeps its size. So a step worked out from another setting is a start,
and the peak of its first frame says what to correct.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from nightglass.bench.combined.sightings import Sighting
from nightglass.gear.body import Body
from nightglass.gear.dial import exact_f_number, nearest_dial_step, true_time_s
from nightglass.gear.lens import LensSetting
from nightglass.shoot.codes import ExposureSource
from nightglass.shoot.records import Exposure

LEAST_PEAK, MOST_PEAK = 0.40, 0.70
PEAK_AIM = math.sqrt(LEAST_PEAK * MOST_PEAK)
"""The middle in stops: a dial in thirds always has a step from there to either end."""
LEAST_USEFUL_PEAK = 0.02
"""Under 2 % of clipping noise and black level make the peak itself uncertain."""
FLICKER_S = 0.02
"""A lamp on the mains brightens every 1/100 or 1/120 s; two periods even that out."""
CLIPPED_STOPS = 1.0
"""How much shorter than the shortest clipped frame to begin: its true peak is not known."""


@dataclass(frozen=True)
class Trial:
    """What one frame on record says of exposure."""

    setting: LensSetting
    place: str
    exposure_s: float
    iso: int | None
    peak_share: float
    clipped: bool


def trials(sightings: Iterable[Sighting]) -> tuple[Trial, ...]:
    """Return what the frames on record say of exposure, those that show no peak left out."""
    found = []
    for sighting in sightings:
        peak, time = sighting.spot.peak_share, sighting.belongs.exposure_s
        clipped = "clipped" in sighting.spot.flags
        if time is None or peak is None or (peak < LEAST_USEFUL_PEAK and not clipped):
            continue
        belongs = sighting.belongs
        found.append(
            Trial(belongs.setting, sighting.place, time, belongs.iso, max(peak, 0.0), clipped)
        )
    return tuple(found)


def exposure(setting: LensSetting, place: str, known: Sequence[Trial], body: Body) -> Exposure:
    """Return the dial step for a setting at a place, from what is on record.

    Frames of the same setting and place count most; then those of the same lens, scaled by the
    light that the aperture passes. Clipped frames alone say only: shorter.
    """
    same = [t for t in known if t.setting == setting and t.place == place]
    clean = [t for t in same if not t.clipped]
    if clean:
        return _step(_brightest(clean), 1.0, body, ExposureSource.SAME)
    if same:
        shortest = min(same, key=lambda t: t.exposure_s)
        time = shortest.exposure_s * 2**-CLIPPED_STOPS
        return _at(time, shortest.iso, None, body, ExposureSource.CLIPPED)
    others = [t for t in known if t.setting.lens == setting.lens and not t.clipped]
    if not others:
        return Exposure(ExposureSource.UNKNOWN)
    nearest = min(others, key=lambda t: (_apart(t, setting), t.place != place))
    alike = [t for t in others if (t.setting, t.place) == (nearest.setting, nearest.place)]
    light = _light_ratio(nearest.setting, setting)
    return _step(_brightest(alike), light, body, ExposureSource.SCALED)


def step_for(exposure_s: float, peak_share: float, body: Body) -> Exposure:
    """Return the step after a frame whose peak was off: what brings it to the middle."""
    trial = Trial(LensSetting(body.name, "", 1.0, 1.0), "", exposure_s, None, peak_share, False)
    return _step(trial, 1.0, body, ExposureSource.SAME)


def shorter_step(exposure_s: float, body: Body) -> Exposure:
    """Return the step after a clipped frame: one stop shorter, as its true peak is not known."""
    return _at(exposure_s * 2**-CLIPPED_STOPS, None, None, body, ExposureSource.CLIPPED)


def _brightest(several: Sequence[Trial]) -> Trial:
    """The frame at the ISO of the last one whose peak rose fastest.

    The peak of a narrow spot is a lower bound: its nucleus may fall on another colour. The highest
    of several is nearest to what may clip.
    """
    iso = several[-1].iso
    return max((t for t in several if t.iso == iso), key=lambda t: t.peak_share / t.exposure_s)


def _step(trial: Trial, light: float, body: Body, source: ExposureSource) -> Exposure:
    """light: what the setting passes over what the trial's passed."""
    rate = trial.peak_share * light / trial.exposure_s
    return _at(PEAK_AIM / rate, trial.iso, rate, body, source)


def _at(
    time_s: float, iso: int | None, rate: float | None, body: Body, source: ExposureSource
) -> Exposure:
    step = nearest_dial_step(time_s, body.dial_end_s)
    true_s = true_time_s(step.marked_s, body.dial_end_s)
    return Exposure(
        source,
        step.marked_s,
        true_s,
        iso,
        None if rate is None else rate * true_s,
        flicker=true_s < FLICKER_S,
    )


def _light_ratio(one: LensSetting, other: LensSetting) -> float:
    """Light that a point source gives through the other setting over the one: D squared."""
    return (
        (other.focal_mm / exact_f_number(other.f_number))
        / (one.focal_mm / exact_f_number(one.f_number))
    ) ** 2


def _apart(trial: Trial, setting: LensSetting) -> float:
    """How far a frame's setting is from another [stops of light, and zoom]."""
    zoom = abs(math.log2(trial.setting.focal_mm / setting.focal_mm))
    stops = abs(math.log2(_light_ratio(trial.setting, setting)))
    return stops + 4 * zoom
