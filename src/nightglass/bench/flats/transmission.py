"""Light of lenses against each other, from flats taken of one unchanged light."""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np

from nightglass.bench.flats.records import FlatFrame, RelativeLight

LEAST_ERR = 0.01
"""What marked times and f-numbers leave of a ratio whatever repeats say (common practice: the
iris of a lens comes back to 1 to 3 %)."""

Key = tuple[float, int | None, str]
"""f-number, ISO and body: only frames of the same gain are held against each other."""


def relative_light(
    frames: Sequence[FlatFrame], reference: str | None = None
) -> tuple[str | None, tuple[RelativeLight, ...]]:
    """Return the reference lens, and how much light each other lens passes against it.

    Counts at the frame's centre per second of the same marked f-number and ISO. It holds if the
    light was the same for all: that can't be seen in the frames. reference: a lens; without one,
    that with the most f-numbers in common with others. Raises ValueError for a lens that has no
    flats.
    """
    rates = _rates(frames)
    if reference is not None and reference not in rates:
        have = ", ".join(sorted(rates)) or "none"
        raise ValueError(f'no flats of the lens "{reference}"; lenses with flats: {have}')
    if len(rates) < 2:
        return None, ()
    chosen = reference or max(sorted(rates), key=lambda lens: _in_common(lens, rates))
    found = [_against(lens, chosen, rates) for lens in sorted(rates) if lens != chosen]
    told = tuple(one for one in found if one is not None)
    return (chosen if told else None), told


def _rates(frames: Sequence[FlatFrame]) -> dict[str, dict[Key, list[float]]]:
    """Logarithms of counts per second at the centre, per lens, f-number, ISO and body."""
    rates: dict[str, dict[Key, list[float]]] = {}
    for frame in frames:
        if frame.shading is None or frame.setting is None or not frame.exposure_s:
            continue
        key = frame.setting.f_number, frame.iso, frame.setting.body
        rate = math.log(frame.shading.centre_counts / frame.exposure_s)
        rates.setdefault(frame.setting.lens, {}).setdefault(key, []).append(rate)
    return rates


def _in_common(lens: str, rates: dict[str, dict[Key, list[float]]]) -> int:
    return sum(len(set(rates[lens]) & set(other)) for name, other in rates.items() if name != lens)


def _against(
    lens: str, reference: str, rates: dict[str, dict[Key, list[float]]]
) -> RelativeLight | None:
    common = sorted(set(rates[lens]) & set(rates[reference]), key=str)
    if not common:
        return None
    ratios = [float(np.mean(rates[lens][k]) - np.mean(rates[reference][k])) for k in common]
    spread = float(np.std(ratios, ddof=1) / math.sqrt(len(ratios))) if len(ratios) > 1 else 0.0
    repeats = math.hypot(*(_spread(rates[one], common) for one in (lens, reference)))
    times = math.exp(float(np.mean(ratios)))
    err = times * math.hypot(LEAST_ERR, max(spread, repeats))
    return RelativeLight(lens, reference, times, err, tuple(sorted({key[0] for key in common})))


def _spread(rates: dict[Key, list[float]], keys: Sequence[Key]) -> float:
    several = [np.std(rates[k], ddof=1) / math.sqrt(len(rates[k])) for k in keys
               if len(rates[k]) > 1]  # fmt: skip
    return float(np.mean(several)) if several else 0.0
