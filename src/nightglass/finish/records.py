"""What came out of holding one developed picture against its reference."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from nightglass.finish.codes import DifferenceCode, FindingCode, NoteCode, UncomparedCode
from nightglass.finish.picture import FileFacts
from nightglass.finish.placing.align import Placement
from nightglass.finish.tone import Tone
from nightglass.optics.arrays import Flags, Floats32


@dataclass(frozen=True)
class StarBin:
    """Stars of one magnitude: fainter_mag under the brightest star that both could show.

    left: how many keep at least half of the light that the tone alone would give them.
    light_share: median of that share.
    """

    fainter_mag: int
    stars: int
    left: int
    light_share: float


@dataclass(frozen=True)
class StarShape:
    """The mean star of picture and reference in one tone.

    width_px: full width at half maximum. ring: darkest ring around it, share of the peak below
    the reference's. Errors from eighths of the stars; None with fewer than 8.
    """

    width_px: float
    reference_width_px: float
    ratio: float
    ratio_err: float
    ring: float
    ring_err: float
    stars: int


@dataclass(frozen=True)
class NoiseBand:
    """Noise of one scale [% of the sky's light], real colour taken out; err: one sigma share.

    left: noise over that of the reference in the picture's tone. blotches: colour noise over
    grain, relative to the same in the reference. None is "not told apart from nothing".
    """

    scale_px: int
    light_percent: float
    light_left: float | None
    colour_percent: float
    colour_left: float | None
    blotches: float | None
    err: float
    judged: bool


@dataclass(frozen=True)
class ColourShift:
    """Change of red and blue against green [stops], with its error; positive is more of it."""

    red_stops: float
    blue_stops: float
    err_stops: float

    @property
    def largest_stops(self) -> float:
        """The larger of both without its sign."""
        return max(abs(self.red_stops), abs(self.blue_stops))


@dataclass(frozen=True)
class Blocks:
    """Steps at the edges of 8 px squares over steps elsewhere, picture and reference."""

    ratio: float
    err: float
    reference_ratio: float


@dataclass(frozen=True)
class Finding:
    """One thing that the finishing did, its numbers, and its worst place in the picture [px]."""

    code: FindingCode
    values: Mapping[str, float | int | str]
    x_px: int
    y_px: int


@dataclass(frozen=True)
class View:
    """The worst place of a finding: (side, side, 3) of reference in the same tone, and picture.

    stars: (side, side), what is no sky. sky, noise: level per colour and noise of the light, for
    the stretch that both share.
    """

    code: FindingCode
    reference: Floats32
    picture: Floats32
    stars: Flags
    sky: tuple[float, float, float]
    noise: float


@dataclass(frozen=True)
class Audit:
    """All of one picture; reason is set, and all measures empty, where it was not compared."""

    facts: FileFacts
    notes: tuple[NoteCode, ...]
    reason: UncomparedCode | None = None
    placement: Placement | None = None
    tones: tuple[Tone, Tone, Tone] | None = None
    stars: tuple[StarBin, ...] = ()
    shape: StarShape | None = None
    noise: tuple[NoiseBand, ...] = ()
    star_shift: ColourShift | None = None
    background_shift: ColourShift | None = None
    saturation: float | None = None
    saturation_err: float | None = None
    clipped_percent: float | None = None
    reference_clipped_percent: float | None = None
    blocks: Blocks | None = None
    findings: tuple[Finding, ...] = ()
    views: tuple[View, ...] = ()
    pixels_hash: str = ""
    """Of the decoded samples, to tell equal pixels in unlike files."""


@dataclass(frozen=True)
class Difference:
    """One thing in which two exports differ; numbers and names of both."""

    code: DifferenceCode
    values: Mapping[str, float | int | str | None]


@dataclass(frozen=True)
class ExportPair:
    """Two developed pictures of one reference and what they differ in."""

    one: str
    other: str
    differences: tuple[Difference, ...]


@dataclass(frozen=True)
class Finish:
    """All pictures held against one reference."""

    reference: FileFacts
    reference_notes: tuple[NoteCode, ...]
    reference_stars: int
    audits: tuple[Audit, ...]
    pairs: tuple[ExportPair, ...]
