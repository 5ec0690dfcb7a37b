"""What flats say: frame by frame, setting by setting, lens against lens."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

from nightglass.bench.flats.shading import Shading
from nightglass.gear.lens import LensSetting
from nightglass.light.falloff import PupilFalloff


class FlatFault(StrEnum):
    """Why a frame was left out."""

    UNREADABLE = "unreadable"
    NO_MOSAIC = "no_mosaic"
    NOT_OF_BENCH = "not_of_bench"
    SAME_FILE = "same_file"
    CLIPPED = "clipped"
    TOO_DARK = "too_dark"
    NOT_EVEN = "not_even"


@dataclass(frozen=True)
class FlatFrame:
    """One file of flats/: what it shows, or why it was left out."""

    name: str
    content_hash: str = ""
    setting: LensSetting | None = None
    iso: int | None = None
    exposure_s: float | None = None
    shading: Shading | None = None
    fault: FlatFault | None = None
    detail: str = ""
    """Of a fault: the cause as the reader of files or of bench.toml gave it."""
    misfit_mag: float | None = None


@dataclass(frozen=True)
class SettingFalloff:
    """The falloff of a setting from its flats."""

    setting: LensSetting
    falloff: PupilFalloff
    frames: tuple[str, ...]
    corner_flat_stops: float
    """Light per pixel lost in the corner: the pupil's and the projection's share."""


@dataclass(frozen=True)
class RelativeLight:
    """How much more light a lens passes at the same marked f-number than the reference lens."""

    lens: str
    reference: str
    times: float
    err: float
    f_numbers: tuple[float, ...]


@dataclass(frozen=True)
class FlatReport:
    """All that flats/ says."""

    frames: tuple[FlatFrame, ...]
    settings: tuple[SettingFalloff, ...]
    light: tuple[RelativeLight, ...]
    reference: str | None
    """The lens that the others are held against; None where there are not two at one f-number."""
