"""The answer first: which ISO, and why."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from nightglass.light.defaults import NOISE_OVER_BEST
from nightglass.sensor.records import SensorReport
from nightglass.show.words import f_number, seconds, title_of
from nightglass.verdict.sky_noise import SkyNoise


def opening(report: SensorReport, skies: Sequence[SkyNoise]) -> Iterator[str]:
    """Yield the sentences that answer which ISO to set, as far as the frames do."""
    known = [one.iso for one in report.isos if one.colour().read_noise_e.value is not None]
    name = report.body or "this body"
    if not known:
        yield f"The read noise of {name} could not be measured; what is missing stands below."
        return
    if len(known) == 1:
        yield f"{name}: only ISO {known[0]} was measured, so nothing is said of other steps."
    else:
        yield from _which(report, skies, name)
    if report.second_gain_iso is not None:
        yield f"The sensor's second gain begins at ISO {report.second_gain_iso}."


def _which(report: SensorReport, skies: Sequence[SkyNoise], name: str) -> Iterator[str]:
    if not skies:
        best = min(report.isos, key=lambda one: one.colour().read_noise_e.value or float("inf"))
        noise = best.colour().read_noise_e.value
        yield (
            f"{name} reads with the least noise at ISO {best.iso} ({noise:.2f} electrons). Which "
            "ISO your sky needs takes a bench (nightglass new)."
        )
        return
    yield beyond_words(skies)
    dim = skies[0]
    yield (
        f"The sky alone makes {dim.noise_e:.1f} electrons of noise in a green pixel at the frame "
        f"centre ({setting_words(dim)}, the least of your lenses wide open)."
    )


def beyond_words(skies: Sequence[SkyNoise]) -> str:
    """Return from which ISO on nothing is gained under the person's sky, over all lenses."""
    isos = sorted({one.working.iso for one in skies if one.working.iso is not None})
    if not isos:
        return "Which ISO your sky needs is not known."
    top = max(iso for one in skies for iso in one.total_noise_e)
    if isos[-1] == top:
        return f"ISO {top}, the highest step measured, is the one to set under your sky."
    little = f"less than {NOISE_OVER_BEST.value:g} % of the noise"
    if len(isos) == 1:
        return f"Beyond ISO {isos[0]} next to nothing is gained under your sky ({little})."
    return (
        f"Beyond ISO {isos[-1]} next to nothing is gained under your sky ({little}); with lenses "
        f"that gather more sky, beyond ISO {isos[0]}."
    )


def setting_words(one: SkyNoise) -> str:
    """Return lens, focal length, f-number and time of a sky."""
    setting = one.setting
    name = title_of(setting.lens.split(" f/")[0], setting.focal_mm)
    return f"{name}, {f_number(setting.f_number)}, {seconds(one.shown_s)}"
