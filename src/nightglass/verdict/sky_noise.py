"""The sky's own noise beside the sensor's: from which ISO on nothing is gained."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, replace

from nightglass.gear.benchfile import BenchFile, TimeChoice
from nightglass.gear.lens import Lens, LensSetting
from nightglass.light.iso import WorkingIso, working_iso
from nightglass.verdict.frame_light import sky_on_axis_e
from nightglass.verdict.times import longest_times


@dataclass(frozen=True)
class SkyNoise:
    """One lens wide open at its short end, at the longest time that the person's rule allows."""

    setting: LensSetting
    exposure_s: float
    shown_s: float
    """As it is set: the dial's mark, or the remote's seconds."""
    sky_e: float
    """Sky electrons per green sample at the frame centre."""
    working: WorkingIso
    total_noise_e: Mapping[int, float]
    """Root of the sky's electrons plus the read noise squared, by ISO."""

    @property
    def noise_e(self) -> float:
        """The sky's own noise: the root of its electrons."""
        return math.sqrt(self.sky_e)


def sky_noises(bench: BenchFile) -> tuple[SkyNoise, ...]:
    """Return the sky's noise for each lens of a bench, the faintest sky first.

    A rule on the lens's own blur needs spots that were measured: the trail's usual limit stands in.
    """
    choice = bench.time
    if choice.rule == "share of blur":
        choice = replace(TimeChoice(), release=choice.release, holds_at=choice.holds_at)
    found = [_of_lens(bench, lens, choice) for lens in bench.lenses]
    return tuple(sorted(found, key=lambda one: one.sky_e))


def _of_lens(bench: BenchFile, lens: Lens, choice: TimeChoice) -> SkyNoise:
    body = bench.body
    setting = LensSetting(body.name, lens.name, lens.focal_mm_min, lens.f_number_min_wide)
    times = longest_times(choice, body, setting.focal_mm, setting.f_number, lens.projection).chosen
    exposure_s = times.true_s(choice.release)
    sky_e = sky_on_axis_e(body, lens, setting, exposure_s, bench.sky)
    total = {iso: math.sqrt(sky_e + noise**2) for iso, noise in sorted(body.read_noise_e.items())}
    shown = times.shown_s(choice.release)
    return SkyNoise(setting, exposure_s, shown, sky_e, working_iso(body, sky_e), total)
