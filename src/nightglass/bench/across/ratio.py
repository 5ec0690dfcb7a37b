"""The ratio of a length on two bodies, with its interval."""

from __future__ import annotations

import math
from dataclasses import dataclass

from scipy.special import stdtrit

from nightglass.bench.across.pixel import (
    METHOD_PX,
    PIXEL_SQUARES_ERR,
    with_pixel_um,
    without_pixel_um,
)
from nightglass.bench.across.records import RatioInterval
from nightglass.bench.combined.combine import Scatter

TWO_SIDED_95 = 0.975


@dataclass(frozen=True)
class MeanLength:
    """The mean length of some repeats on one body."""

    length_um: float
    pitch_um: float
    repeats: int
    scatter: Scatter | None
    """Of a single repeat, on the logarithm; None where it is not known."""
    shared_log_err: float = 0.0
    """1-sigma error that drift and sessions leave, on the logarithm."""

    @property
    def pixel_free_um(self) -> float:
        """The length with the pixels taken out [um]."""
        return without_pixel_um(self.length_um, self.pitch_um)

    @property
    def gain(self) -> float:
        """Relative change of the pixel-free length over that of the length itself."""
        return (self.length_um / self.pixel_free_um) ** 2

    @property
    def fixed_log_err(self) -> float:
        """1-sigma error that more repeats don't lessen, on the logarithm."""
        return math.hypot(METHOD_PX * self.pitch_um / self.length_um, self.shared_log_err)


def measured_ratio(one: MeanLength, other: MeanLength, place_log_err: float) -> RatioInterval:
    """Return other over one as measured. place_log_err: of places that lie a little apart."""
    return _interval(other.length_um / one.length_um, one, other, (1.0, 1.0), place_log_err)


def pixel_free_ratio(one: MeanLength, other: MeanLength, place_log_err: float) -> RatioInterval:
    """Return other over one with the pixels of both taken out.

    Raises ValueError for a length that pixels alone would make.
    """
    ratio = other.pixel_free_um / one.pixel_free_um
    pixels = PIXEL_SQUARES_ERR / 2 * abs(_squares(other) - _squares(one))
    gains = one.gain, other.gain
    return _interval(ratio, one, other, gains, math.hypot(place_log_err, pixels))


def ratio_from_pixels(one: MeanLength, other: MeanLength) -> tuple[float, float]:
    """Return other over one of a spot that both lenses drew alike, and its 1-sigma error."""
    squares = [size.pixel_free_um for size in (one, other)]
    # The geometric mean: neither body is the truth.
    spot_um = math.sqrt(squares[0] * squares[1])
    ratio = with_pixel_um(spot_um, other.pitch_um) / with_pixel_um(spot_um, one.pitch_um)
    seen = [(size.pitch_um / with_pixel_um(spot_um, size.pitch_um)) ** 2 for size in (one, other)]
    return ratio, ratio * PIXEL_SQUARES_ERR / 2 * abs(seen[1] - seen[0])


def _squares(size: MeanLength) -> float:
    return (size.pitch_um / size.pixel_free_um) ** 2


def _interval(
    ratio: float,
    one: MeanLength,
    other: MeanLength,
    gains: tuple[float, float],
    common_log_err: float,
) -> RatioInterval:
    """Student's t with degrees of freedom by Welch and Satterthwaite (Welch 1947, Biometrika 34,
    28); errors that no repeats told have no end of them."""
    if one.scatter is None or other.scatter is None:
        return RatioInterval(ratio, None, None)
    variance, weakness = common_log_err**2, 0.0
    for size, scatter, gain in ((one, one.scatter, gains[0]), (other, other.scatter, gains[1])):
        repeats = (gain * scatter.deviation) ** 2 / size.repeats
        variance += repeats + (gain * size.fixed_log_err) ** 2
        weakness += repeats**2 / scatter.dof
    freedom = variance**2 / weakness if weakness > 0 else math.inf
    reach = float(stdtrit(min(freedom, 1e6), TWO_SIDED_95)) * math.sqrt(variance)
    return RatioInterval(ratio, ratio * math.exp(-reach), ratio * math.exp(reach))
