"""What was measured of one spot in one colour, and the flags that go with it."""

from __future__ import annotations

from dataclasses import dataclass

from nightglass.optics.arrays import Floats32

FLAGS: dict[str, str] = {
    "clipped": "a sample reaches the clipping level: sizes are too large and not used",
    "faint": "too little light above the noise for this measure",
    "at limit": "smaller than the mosaic can resolve: only upper bounds are given",
    "round": "length and width differ by too little for an angle",
    "touches edge": "the aperture or its ring leaves the visible frame",
    "crowded": "another light stands inside the ring",
    "hot pixel inside": "a hot pixel inside the aperture was left out",
    "dead pixels inside": "pixels without light inside the spot were left out: wider errors, or no "
    "sizes where they are many",
    "lost": "no star stands out",
    "not a star": "a single hot pixel: its neighbours are at background",
    "colours disagree": "the colours differ beyond noise: green alone, with a wider error",
    "already demosaiced": "the file holds no mosaic: sizes are not comparable with raw ones",
}
"""Every flag with its meaning; messages and documents are made from this table."""


@dataclass(frozen=True)
class Spot:
    """One spot in one colour; None is "could not be measured", the flags say why.

    Names and definitions: docs/glossary.md. `_err` is 1-sigma of noise and method together,
    `_err_noise` of the noise alone.
    """

    file: str
    colour: str
    x_px: float | None = None
    y_px: float | None = None
    x_px_err: float | None = None
    y_px_err: float | None = None
    length_px: float | None = None
    length_px_err: float | None = None
    length_px_err_noise: float | None = None
    width_px: float | None = None
    width_px_err: float | None = None
    width_px_err_noise: float | None = None
    length_at_most_px: float | None = None
    width_at_most_px: float | None = None
    angle_degrees: float | None = None
    angle_degrees_err: float | None = None
    radial_angle_degrees: float | None = None
    ee50_px: float | None = None
    ee50_px_err: float | None = None
    ee80_px: float | None = None
    ee80_px_err: float | None = None
    core_length_px: float | None = None
    core_width_px: float | None = None
    core_parts: int | None = None
    skirt_length_px: float | None = None
    skirt_width_px: float | None = None
    skirt_floor_px: float | None = None
    lean: float | None = None
    lean_err: float | None = None
    noise_area_px: float | None = None
    noise_area_px_err: float | None = None
    colour_offset_red_px: float | None = None
    colour_offset_red_px_err: float | None = None
    colour_offset_blue_px: float | None = None
    colour_offset_blue_px_err: float | None = None
    colour_offset_red_radial_px: float | None = None
    colour_offset_red_tangential_px: float | None = None
    colour_offset_blue_radial_px: float | None = None
    colour_offset_blue_tangential_px: float | None = None
    peak_share: float | None = None
    flux_counts: float | None = None
    snr: float | None = None
    background_counts: float | None = None
    aperture_px: float | None = None
    clipping_from: str = "file"
    flags: tuple[str, ...] = ()


@dataclass(frozen=True)
class SpotImage:
    """The rebuilt spot of one colour: counts above background, (rows, columns), 1 px steps."""

    light: Floats32
    left_px: int
    top_px: int
    """Raw coordinates of light[0, 0]."""


@dataclass(frozen=True)
class Measured:
    """Everything that one frame gave: a Spot per colour and the rebuilt spots."""

    spots: tuple[Spot, ...]
    images: dict[str, SpotImage]
