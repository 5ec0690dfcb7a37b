"""What a reader must know of one step's numbers: filtered or cut raw, light that flickers, gaps."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from nightglass.sensor.bands import deviation
from nightglass.sensor.codes import Finding
from nightglass.sensor.records import ColourResult, Said
from nightglass.sensor.transfer import Transfer

if TYPE_CHECKING:
    from nightglass.sensor.iso_step import StepFrames

SMOOTHED_CORRELATION = 0.02
"""White noise has none; the lightest smoothing of neighbours (1 : 30 : 1) gives 0.06."""
SURE_SIGMA = 5.0
MOVED_COUNTS, MOVED_SHARE = 1.0, 0.001
SKIPPED_STEP, WHOLE_STEP = 1.15, 1.1
FLICKER_PERCENT = 3.0
BENT_PERCENT = 0.5
SHOWN_SHARE = 0.1
"""Rows that jump by a tenth of a pixel's noise are seen as bands: common practice."""


def doubts(
    frames: StepFrames, green: ColourResult, transfer: Transfer | None, hidden: bool
) -> tuple[Said, ...]:
    """Return what must be known of a step. hidden: whole counts hide its read noise."""
    return (
        *_of_the_dark(frames, green, hidden),
        *_of_the_raw(frames, green),
        *_of_the_light(frames, green, transfer),
    )


def _of_the_dark(frames: StepFrames, green: ColourResult, hidden: bool) -> list[Said]:
    said = []
    if len(frames.bias_looks) < 2:
        said.append(Said(Finding.NO_BIAS, {"frames": len(frames.bias_looks)}))
    if hidden:
        said.append(Said(Finding.COARSE_COUNTS, {"gain": green.gain_e_per_count.value or 0.0}))
    if frames.cut_below:
        share = max(c.lowest_share for one in frames.bias_looks for c in one.colours)
        said.append(Said(Finding.BLACK_CLIPPED, {"percent": 100 * share}))
        if green.read_noise_e.value is not None:
            said.append(Said(Finding.NOISE_FROM_FLATS))
    said += _bands_shown(frames, green)
    said += [Said(Finding.ONE_DARK, {"seconds": s}) for s, dark in frames.darks if dark.frames < 2]
    return said


def _bands_shown(frames: StepFrames, green: ColourResult) -> list[Said]:
    found = frames.bias.bands if frames.bias else None
    noise = green.read_noise_counts.value
    if found is None or not noise or frames.cut_below:
        return []
    said = []
    for code, parts in (
        (Finding.ROWS_SHOW, (found.row_noise, found.row_pattern)),
        (Finding.COLUMNS_SHOW, (found.column_noise, found.column_pattern)),
    ):
        worst = max((deviation(part) for part in parts), key=lambda k: k.value or 0.0)
        value, err = worst.value or 0.0, worst.err or 0.0
        if value > SHOWN_SHARE * noise and value > SURE_SIGMA * err:
            said.append(Said(code, {"percent": 100 * value / noise}))
    return said


def _of_the_raw(frames: StepFrames, green: ColourResult) -> list[Said]:
    """Black moved, noise smoothed, values skipped."""
    said = []
    number = frames.any_look.green.number
    stated = float(frames.any_look.black[number])
    full = green.clipping_counts - stated
    if frames.bias is not None and not frames.cut_below:
        away = float(frames.bias.level[number]) - stated
        if abs(away) > max(MOVED_COUNTS, MOVED_SHARE * full):
            values: dict[str, float | str] = {"counts": away, "file": stated}
            said.append(Said(Finding.BLACK_MOVED, values))
    correlation = _correlation(frames)
    if correlation is not None:
        said.append(Said(Finding.SMOOTHED, {"percent": 100 * correlation}))
    return said + _skipped(frames, number)


def _correlation(frames: StepFrames) -> float | None:
    """Correlation of neighbours where noise was smoothed, None where it was not."""
    found = []
    if frames.bias is not None and not frames.cut_below:
        found += [(c, frames.bias.correlation_err) for c in frames.bias.correlation]
    for pair in frames.flats:
        err = 1 / float(np.sqrt(np.nansum(pair.tiles.samples)))
        found += [(float(np.nanmean(c)), err) for c in (pair.tiles.across, pair.tiles.down)]
    sure = [c for c, err in found if c > SMOOTHED_CORRELATION and c > SURE_SIGMA * err]
    return float(np.median(sure)) if len(sure) > len(found) / 4 else None


def _skipped(frames: StepFrames, number: int) -> list[Said]:
    dark = frames.value_step(number)
    lit = [float(pair.step[number]) for pair in frames.flats if pair.step_known]
    if dark is not None and dark > SKIPPED_STEP:
        return [Said(Finding.COUNTS_SKIPPED, {"step": dark})]
    if lit and max(lit) > SKIPPED_STEP and min(lit) < WHOLE_STEP:
        return [Said(Finding.COARSE_HIGHLIGHTS, {"step": max(lit)})]
    return []


def _of_the_light(frames: StepFrames, green: ColourResult, transfer: Transfer | None) -> list[Said]:
    said = []
    if not frames.flats:
        return [Said(Finding.NO_FLATS)]
    if transfer is None or transfer.gain_e_per_count.value is None:
        said.append(Said(Finding.NOT_A_LINE))
    elif transfer.straight:
        said.append(Said(Finding.FEW_LEVELS, {"levels": transfer.levels}))
    ratios = [pair.ratio for pair in frames.flats]
    scatter = 100 * float(np.sqrt(np.mean([(ratio - 1) ** 2 for ratio in ratios]) / 2))
    if scatter > FLICKER_PERCENT:
        said.append(Said(Finding.LIGHT_FLICKERS, {"percent": scatter}))
    bend = green.bend_percent
    if bend.value is not None and bend.err is not None:
        sure = abs(bend.value) > SURE_SIGMA * bend.err
        if sure and abs(bend.value) > BENT_PERCENT:
            said.append(Said(Finding.BENT, {"percent": bend.value}))
    return said
