"""All that the frames of one ISO step tell."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from nightglass.optics.arrays import Floats
from nightglass.sensor.bands import deviation
from nightglass.sensor.dark import DarkLevel, dark_result
from nightglass.sensor.dark_pairs import DarkPairs
from nightglass.sensor.flat_pairs import FlatPair, clipping_of, timed_levels
from nightglass.sensor.linearity import linearity
from nightglass.sensor.look import FrameLook
from nightglass.sensor.quantised import sigma_before_rounding
from nightglass.sensor.records import (
    UNKNOWN,
    ColourResult,
    DarkResult,
    IsoResult,
    Known,
    Pattern,
)
from nightglass.sensor.step_doubts import doubts
from nightglass.sensor.transfer import Transfer, photon_transfer, points_of

NAMES = ("red", "green", "blue")


@dataclass(frozen=True)
class StepFrames:
    """The frames of one ISO step, measured in pairs."""

    iso: int
    any_look: FrameLook
    """One of its frames: all have one mosaic and one white level."""
    bias_looks: tuple[FrameLook, ...]
    bias: DarkPairs | None
    darks: tuple[tuple[float, DarkPairs], ...]
    """By time."""
    flats: tuple[FlatPair, ...]
    lit: tuple[FrameLook, ...]
    """All lit frames, overexposed ones too."""

    @property
    def cut_below(self) -> bool:
        """Whether the bias frames' noise is cut at black."""
        return any(colour.cut_below for one in self.bias_looks for colour in one.colours)

    @property
    def black(self) -> Floats:
        """Level of no light per colour number: of the bias frames, else of the file."""
        if self.bias is None or self.cut_below:
            return self.any_look.black
        return self.bias.level

    @property
    def dark_pattern(self) -> float:
        """Variance of green's pixels in the dark, from pixel to pixel [counts^2]."""
        pattern = self.bias.pattern[self.any_look.green.number] if self.bias else UNKNOWN
        return max(pattern.value or 0.0, 0.0)

    def value_step(self, colour: int) -> float | None:
        """Distance of the values in use in the dark, else in the faintest flat that tells."""
        own = [c.step for one in self.bias_looks for c in one.colours if c.number == colour]
        lit = [f.step[colour] for f in self.flats if f.step_known]
        return next((step for step in (*own, *lit) if step is not None), None)


@dataclass(frozen=True)
class _Colour:
    """One colour on its way to a result."""

    number: int
    noise: Known
    """Before rounding, rows included [counts]."""
    hidden: bool
    transfer: Transfer | None
    full_counts: float


def iso_result(frames: StepFrames) -> IsoResult:
    """Return gain, noise, pattern and dark of one step, with what a reader must know of them."""
    look = frames.any_look
    clipping, clipping_from = clipping_of(frames.lit, look.white)
    colours = [
        _colour(frames, colour.number, float(clipping[colour.number])) for colour in look.colours
    ]
    results = tuple(_result(frames, one, float(clipping[one.number])) for one in colours)
    green = next((k for k, one in enumerate(colours) if one.number == 1), 0)
    gain = results[green].gain_e_per_count
    return IsoResult(
        iso=frames.iso,
        colours=results,
        bias_frames=len(frames.bias_looks),
        flat_pairs=len(frames.flats),
        flat_levels=max((c.transfer.levels for c in colours if c.transfer), default=0),
        clipping_from=clipping_from,
        pattern=_pattern(frames, colours[green].number, gain),
        darks=_darks(frames, colours[green].number, gain),
        linearity=linearity(timed_levels(frames.flats), colours[green].full_counts),
        findings=doubts(
            frames,
            results[green],
            colours[green].transfer,
            hidden=colours[green].hidden,
        ),
    )


def _colour(frames: StepFrames, number: int, clipping: float) -> _Colour:
    full = clipping - float(frames.black[number])
    noise, hidden = UNKNOWN, False
    within_rows = UNKNOWN
    if frames.bias is not None and not frames.cut_below:
        noise, hidden = _noise(frames.bias, number, frames.value_step(number) or 1.0)
        within_rows = _without_rows(noise, frames.bias)
    points = points_of(
        [f.tiles for f in frames.flats], number, full,
        [float(f.step[number]) ** 2 / 12 for f in frames.flats],
    )  # fmt: skip
    return _Colour(number, noise, hidden, photon_transfer(points, within_rows, full), full)


def _noise(bias: DarkPairs, number: int, step: float) -> tuple[Known, bool]:
    """Temporal dark noise before rounding, rows and columns that jump included."""
    variance = bias.variance[number]
    if variance.value is None or variance.err is None or bias.bands is None:
        return UNKNOWN, False
    value, err = variance.value, variance.err
    for line in (bias.bands.row_noise, bias.bands.column_noise):
        if line.value is not None and line.err is not None and line.value > 2 * line.err:
            value, err = value + line.value, math.hypot(err, line.err)
    mean, spread = float(bias.level[number]), float(bias.spread[number])
    return sigma_before_rounding(Known(value, err), mean, spread, step)


def _without_rows(noise: Known, bias: DarkPairs) -> Known:
    """Variance of the noise within its row, before rounding: what the flats' tiles hold too."""
    if noise.value is None or noise.err is None or bias.bands is None:
        return UNKNOWN
    value, err = noise.value**2, 2 * noise.value * noise.err
    for line in (bias.bands.row_noise,):
        if line.value is not None and line.err is not None and line.value > 2 * line.err:
            value -= line.value
    return Known(max(value, 0.0), err)


def _result(frames: StepFrames, one: _Colour, clipping: float) -> ColourResult:
    gain = one.transfer.gain_e_per_count if one.transfer else UNKNOWN
    noise = one.noise
    if frames.cut_below and one.transfer and gain.value is not None:
        # What is left of the noise in the bias frames is too small; the lit frames' is whole.
        noise = deviation(one.transfer.dark_variance)
    colours = frames.any_look.colours
    return ColourResult(
        colour="grey" if len(colours) == 1 else NAMES[one.number],
        black_counts=float(frames.black[one.number]),
        gain_e_per_count=gain,
        read_noise_e=_times(noise, gain),
        read_noise_counts=noise,
        clipping_counts=clipping,
        full_scale_e=_times(Known(one.full_counts, 0.0), gain),
        bend_percent=one.transfer.bend_percent(one.full_counts) if one.transfer else UNKNOWN,
        response_pattern_percent=_response(frames, one.number),
    )


def _times(counts: Known, gain: Known) -> Known:
    """Counts in electrons; the errors of both count."""
    if gain.value is None or gain.err is None:
        return UNKNOWN
    if counts.value is None or counts.err is None:
        if counts.at_most is None:
            return UNKNOWN
        return Known(at_most=counts.at_most * (gain.value + 1.645 * gain.err))
    value = counts.value * gain.value
    return Known(value, math.hypot(counts.err * gain.value, counts.value * gain.err))


def _response(frames: StepFrames, number: int) -> Known:
    """Unlike sensitivity, from the pairs at 5 to 70 % of the range, the dark's pattern off."""
    squares, weights = [], []
    for pair in frames.flats:
        share, err = pair.pattern_share(number)
        level = float(np.nanmedian(pair.tiles.level[:, number]))
        dark = frames.bias.pattern[number].value if frames.bias else None
        if np.isfinite(err) and np.isfinite(level):
            squares.append(share - (dark or 0.0) / level**2)
            weights.append(1 / max(err, 1e-12) ** 2)
    if not squares:
        return UNKNOWN
    square = Known(
        float(np.average(squares, weights=weights)) * 1e4, 1e4 / math.sqrt(float(sum(weights)))
    )
    return deviation(square)


def _pattern(frames: StepFrames, number: int, gain: Known) -> Pattern | None:
    bias = frames.bias
    if bias is None or bias.bands is None or frames.cut_below:
        return None
    unit = "counts" if gain.value is None else "e"
    factor = Known(1.0, 0.0) if gain.value is None else gain
    parts = (
        bias.bands.row_noise, bias.bands.row_pattern, bias.bands.column_noise,
        bias.bands.column_pattern, bias.pattern[number],
    )  # fmt: skip
    return Pattern(unit, *(_times(deviation(part), factor) for part in parts))


def _darks(frames: StepFrames, number: int, gain: Known) -> tuple[DarkResult, ...]:
    none = DarkLevel(UNKNOWN, ())
    bias = none if frames.bias is None or frames.cut_below else _level(frames.bias, number)
    return tuple(
        dark_result(seconds, _level(pairs, number), bias, gain, pairs.hot_per_mpx)
        for seconds, pairs in frames.darks
    )


def _level(pairs: DarkPairs, number: int) -> DarkLevel:
    return DarkLevel(pairs.variance[number], tuple(float(m[number]) for m in pairs.means))


def step_frames_isos(*groups: Sequence[int]) -> list[int]:
    """Return every ISO that any group of frames has, rising."""
    return sorted({iso for group in groups for iso in group})
