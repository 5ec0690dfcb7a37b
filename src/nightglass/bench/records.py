"""Results per setting: what the verdict reads."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from nightglass.bench.codes import BenchNote
from nightglass.gear.lens import LensSetting
from nightglass.optics.arrays import Floats32

ErrorSource = Literal["repeats", "photons alone"]


@dataclass(frozen=True)
class Combined:
    """One quantity over the repeats of a setting at one place; None where it can't be known."""

    value: float | None
    err: float | None
    """1-sigma error of the mean."""
    at_most: float | None = None
    """95 % upper bound where the quantity is at limit."""
    values: tuple[float, ...] = ()
    """The single repeats (at-limit ones are left out and counted in ZoneResult)."""

    @property
    def bound(self) -> float | None:
        """The value, else its 95 % upper bound; None if neither is known."""
        return self.at_most if self.value is None else self.value


@dataclass(frozen=True)
class SharedError:
    """What the correction of drift and sessions leaves of a zone's error, on the logarithm.

    Two zones differ through it by the difference of their vectors: each entry is one independent
    error of 1 sigma that all zones share.
    """

    length: tuple[float, ...]
    area: tuple[float, ...]
    """Of the noise area."""
    degrees_of_freedom: float
    visit_length: float = 0.0
    """1-sigma error from the scatter of visits; each setting's own."""
    visit_area: float = 0.0


@dataclass(frozen=True)
class ZoneResult:
    """All repeats of one setting with the star at one place of the frame (green)."""

    place: str
    x_px: float
    y_px: float
    field_radius: float
    """0 centre, 1 corner."""
    frames: int
    """Frames that gave a measurement."""
    refused: int
    """Frames that gave none, with the reasons in the store."""
    at_limit_frames: int
    length_px: Combined
    width_px: Combined
    ee50_px: Combined
    ee80_px: Combined
    skirt_length_px: Combined
    noise_area_px: Combined
    lean: Combined
    angle_degrees: Combined
    radial_angle_degrees: Combined
    colour_offset_red_px: Combined
    colour_offset_blue_px: Combined
    error_source: ErrorSource
    stamp: Floats32 | None = None
    """Mean rebuilt green spot, 1 px steps, centre of light at the central sample, sum 1."""
    flags: tuple[str, ...] = ()
    shared: SharedError | None = None
    """None where neither drift nor sessions were taken out."""
    rolled: tuple[bool, ...] = ()
    """Of each value of length_px: whether the camera lay turned by half a circle about its line of
    sight; empty where no frame says so."""
    refocused: bool | None = None
    """Whether the lens was focused anew for each frame; None: not said of all of them."""
    source_px: float | None = None
    """Width of the source's own image; None: nothing is said of it."""


@dataclass(frozen=True)
class SettingResult:
    """One lens setting with every place where it was measured."""

    setting: LensSetting
    zones: tuple[ZoneResult, ...]
    sessions: int = 1
    notes: tuple[BenchNote, ...] = ()
