"""What is known of a sensor: numbers with errors and codes, per ISO and colour."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from pathlib import Path

from nightglass.sensor.codes import DarkMethod, Finding, LeftOut, NotMet, Role


@dataclass(frozen=True)
class Known:
    """A measured number with its 1-sigma error; None where it can't be known."""

    value: float | None = None
    err: float | None = None
    at_most: float | None = None
    """95 % upper bound where only that is known."""


UNKNOWN = Known()


@dataclass(frozen=True)
class Said:
    """A code with its numbers and names; nightglass.show.sensor.words makes the sentence."""

    code: Finding
    values: Mapping[str, float | str] = field(default_factory=dict)


@dataclass(frozen=True)
class Taken:
    """What one file was taken for, and why it was left out if it was."""

    file: str
    role: Role
    iso: int | None = None
    exposure_s: float | None = None
    level_percent: float | None = None
    """Level of green above black in % of the range."""
    reason: LeftOut | None = None
    values: Mapping[str, float | str] = field(default_factory=dict)
    path: Path | None = None


@dataclass(frozen=True)
class ColourResult:
    """One colour of one ISO step."""

    colour: str
    black_counts: float | None
    """Mean of the bias frames, else the file's black."""
    gain_e_per_count: Known
    """K of EMVA 1288 is its inverse; at low light."""
    read_noise_e: Known
    """Temporal dark noise of a sample, rows that jump together included."""
    read_noise_counts: Known
    clipping_counts: float
    full_scale_e: Known
    """Electrons from black to clipping."""
    bend_percent: Known
    """How far the count at clipping lies under a straight line, told from the noise."""
    response_pattern_percent: Known
    """Unlike sensitivity of the pixels (PRNU1288) over a tile."""


@dataclass(frozen=True)
class Pattern:
    """Pattern and bands in the dark [electrons]; counts where the gain is not known."""

    unit: str
    row_noise: Known
    """Rows that jump together, anew in each frame."""
    row_pattern: Known
    """Rows that differ in the same way in each frame."""
    column_noise: Known
    column_pattern: Known
    pixel_pattern: Known
    """Pixels that differ in the dark (DSNU1288), without rows and columns."""


@dataclass(frozen=True)
class DarkResult:
    """The dark at one long time."""

    exposure_s: float
    frames: int
    current_e_per_s: Known
    method: DarkMethod | None
    hot_per_mpx: Known
    """Samples brighter than eight deviations in both frames of a pair, per million."""
    noise_e: Known
    """Read noise and the noise of the dark current together."""


@dataclass(frozen=True)
class Linearity:
    """Level against exposure time; EMVA 1288 Release 3.1, clause 6.7."""

    error_percent: Known
    """Mean distance from the straight line, 5 to 95 % of the range."""
    steps: int
    light_scatter_percent: float
    """How far two frames of one setting differ: what the light or the shutter did."""


@dataclass(frozen=True)
class IsoResult:
    """Everything known at one ISO step."""

    iso: int
    colours: tuple[ColourResult, ...]
    bias_frames: int
    flat_pairs: int
    flat_levels: int
    clipping_from: str
    pattern: Pattern | None
    darks: tuple[DarkResult, ...] = ()
    linearity: Linearity | None = None
    findings: tuple[Said, ...] = ()

    def colour(self, name: str = "green") -> ColourResult:
        """Return a colour's results; the only one of a sensor without a mosaic."""
        return next((c for c in self.colours if c.colour == name), self.colours[0])


@dataclass(frozen=True)
class SensorReport:
    """A body's sensor as its frames show it."""

    body: str | None
    serial: str | None
    isos: tuple[IsoResult, ...]
    taken: tuple[Taken, ...]
    second_gain_iso: int | None
    findings: tuple[Said, ...]
    """What concerns several steps."""
    not_met: tuple[NotMet, ...]
    """What the standard asks for and these frames don't give."""
    temperature_c: float | None = None

    @property
    def measured(self) -> bool:
        """Whether the read noise of any step is known in electrons."""
        return any(one.colour().read_noise_e != UNKNOWN for one in self.isos)

    @property
    def dark_paths(self) -> tuple[Path, ...]:
        """Files that were taken for dark frames."""
        return tuple(t.path for t in self.taken if t.role is Role.DARK and t.path is not None)
