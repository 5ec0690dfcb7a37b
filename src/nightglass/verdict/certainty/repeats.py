"""Repeats of all settings pooled: how far one frame more would move each zone."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from nightglass.bench.combined.combine import POOL_LEAST_DOF, Repeats, Scatter, pooled_scatter
from nightglass.bench.records import Combined, SettingResult, ZoneResult
from nightglass.gear.body import Body
from nightglass.verdict.blur import usable_zones
from nightglass.verdict.certainty.spread import (
    BOOTSTRAP_LEAST_REPEATS,
    ZoneSpread,
    satterthwaite,
)


@dataclass(frozen=True)
class PooledRepeats:
    """Relative scatter of single frames: per lens, and over the whole bench."""

    areas: dict[str, Scatter]
    lengths: dict[str, Scatter]
    bench_area: Scatter | None
    bench_length: Scatter | None

    def area_of(self, lens: str) -> Scatter | None:
        """Return the scatter of ln(noise area) for a lens: its own, else the bench's."""
        return self.areas.get(lens, self.bench_area)

    def length_of(self, lens: str) -> Scatter | None:
        """Return the scatter of ln(length) for a lens: its own, else the bench's."""
        return self.lengths.get(lens, self.bench_length)


def pool_repeats(results: Sequence[SettingResult]) -> PooledRepeats:
    """Return the relative scatter of repeats, pooled over all settings and places of a lens.

    A lens with fewer than 4 degrees of freedom takes the scatter of the whole bench: its own
    would make Student's t so wide (3.2 and more) that it says nothing.
    """
    zones: dict[str, list[ZoneResult]] = {}
    for result in sorted(results, key=lambda r: r.setting):
        zones.setdefault(result.setting.lens, []).extend(usable_zones(result))
    areas, lengths = {}, {}
    for lens, own in zones.items():
        area, length = pooled_scatter(_areas(own)), pooled_scatter(_lengths(own))
        if area and area.dof >= POOL_LEAST_DOF:
            areas[lens] = area
        if length and length.dof >= POOL_LEAST_DOF:
            lengths[lens] = length
    everything = [zone for own in zones.values() for zone in own]
    return PooledRepeats(
        areas, lengths, pooled_scatter(_areas(everything)), pooled_scatter(_lengths(everything))
    )


def zone_spreads(
    zones: Sequence[ZoneResult],
    powers: Mapping[str, Sequence[float]],
    body: Body,
    lens: str,
    pool: PooledRepeats,
) -> tuple[ZoneSpread, ...]:
    """Return how far the repeats of each zone move the verdict.

    powers: by the code of each factor that the zones' blur moves, one per zone.
    """
    spreads = []
    for k, zone in enumerate(zones):
        area_err, freedom = _log_err(zone.noise_area_px, pool.area_of(lens), zone.frames)
        length_err, _ = _log_err(zone.length_px, pool.length_of(lens), zone.frames)
        spreads.append(
            ZoneSpread(
                place=zone.place,
                powers={code: of_zones[k] for code, of_zones in powers.items()},
                log_area_err=area_err,
                degrees_of_freedom=freedom,
                length_percent=100 * (zone.length_px.bound or math.nan) / body.picture_height_px,
                length_log_err=length_err,
                repeats=_deviations(zone.noise_area_px.values),
                shared=zone.shared,
            )
        )
    return tuple(spreads)


def length_log_err(zone: ZoneResult, lens: str, pool: PooledRepeats) -> tuple[float, float]:
    """Return the 1-sigma error of ln(length) of a zone and its degrees of freedom.

    What drift and sessions leave is in it. inf degrees: the error comes from photons alone; nan
    error: nothing is known.
    """
    err, freedom = _log_err(zone.length_px, pool.length_of(lens), zone.frames)
    if zone.shared is None or zone.length_px.value is None:
        return err, freedom
    beside = math.hypot(*zone.shared.length, zone.shared.visit_length) ** 2
    total, joint = satterthwaite([(err**2, freedom), (beside, zone.shared.degrees_of_freedom)])
    return math.sqrt(total), joint


def _areas(zones: Sequence[ZoneResult]) -> list[Repeats]:
    return [Repeats(_positive(zone.noise_area_px.values)) for zone in zones]


def _lengths(zones: Sequence[ZoneResult]) -> list[Repeats]:
    return [Repeats(_positive(zone.length_px.values)) for zone in zones]


def _positive(values: Sequence[float]) -> tuple[float, ...]:
    return tuple(v for v in values if v > 0)


def _log_err(quantity: Combined, scatter: Scatter | None, frames: int) -> tuple[float, float]:
    """1-sigma error of the mean of the logarithm, and its degrees of freedom (inf: photons)."""
    if quantity.value is None or quantity.value <= 0:
        # An upper bound counts as it stands: 95 % of frames are below it.
        return 0.0, math.inf
    if scatter is not None:
        repeats = max(1, len(quantity.values) or frames)
        return scatter.deviation / math.sqrt(repeats), float(scatter.dof)
    if quantity.err is None:
        return math.nan, math.inf
    return quantity.err / quantity.value, math.inf


def _deviations(values: Sequence[float]) -> tuple[float, ...]:
    kept = _positive(values)
    if len(kept) < BOOTSTRAP_LEAST_REPEATS:
        return ()
    logs = np.log(kept)
    return tuple(float(v) for v in logs - logs.mean())
