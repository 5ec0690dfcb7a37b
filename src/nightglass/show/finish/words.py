"""Codes of the finishing in words: one sentence for each finding, note, reason and difference."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from nightglass.finish.codes import (
    DifferenceCode,
    FindingCode,
    NoteCode,
    ProfileSource,
    UncomparedCode,
)

FINDINGS: dict[FindingCode, str] = {
    FindingCode.STARS_LOST: (
        "{lost} of {stars} stars are gone or nearly so; the losses begin {from_mag} magnitudes "
        "under the brightest star"
    ),
    FindingCode.GRAIN_SMOOTHED: (
        "noise in light is smoothed: at {scale_px} px {left} of the reference's is left"
    ),
    FindingCode.GRAIN_RAISED: (
        "noise in light is raised: at {scale_px} px it is {left} of the reference's"
    ),
    FindingCode.COLOUR_SMOOTHED: (
        "noise in colour is smoothed: at {scale_px} px {left} of the reference's is left"
    ),
    FindingCode.BLOTCHES: (
        "colour blotches of about {scale_px} px, {percent} of the sky's light: they stand out of "
        "the grain {times} times as much as in the reference"
    ),
    FindingCode.LIGHT_PATCHES: (
        "patches of unequal light of about {scale_px} px, {percent} of the sky's light: {times} "
        "times the reference's"
    ),
    FindingCode.STARS_SHARPENED: (
        "stars are narrower: {width_px} px at half their height, {reference_width_px} px before"
    ),
    FindingCode.STARS_SOFTENED: (
        "stars are wider: {width_px} px at half their height, {reference_width_px} px before"
    ),
    FindingCode.DARK_RINGS: "stars have dark rings, {depth} of the star's peak deep: sharpening",
    FindingCode.STAR_COLOUR: (
        "stars changed colour: red {red_stops}, blue {blue_stops} against green"
    ),
    FindingCode.SATURATION: "stars keep {left} of their colour",
    FindingCode.BACKGROUND_COLOUR: (
        "the background changed colour: red {red_stops}, blue {blue_stops} against green"
    ),
    FindingCode.SHADOWS_CLIPPED: "{percent} of the pixels are clipped at black in some colour",
    FindingCode.JPEG_BLOCKS: (
        "edges of JPEG's squares show: steps there are {ratio} times the largest others"
    ),
    FindingCode.WRONG_PROFILE: (
        "the colours fit only if the numbers are taken as {space}: the profile is wrong or was "
        "left out (misfit {misfit_stops} as the file says, {other_stops} as {space})"
    ),
}
"""A finding with its numbers."""

NOTES: dict[NoteCode, str] = {
    NoteCode.RAW_REFERENCE: (
        "the reference is a raw frame: noise under 4 px, white balance and the colours of stars "
        "are the developer's choice and are not judged"
    ),
    NoteCode.RESAMPLED: (
        "the picture does not lie on the reference's pixels: noise of 1 px is not judged"
    ),
    NoteCode.RESCALED: "the picture was made larger or smaller: noise under 4 px is not judged",
    NoteCode.TURNED: "the picture is turned against the reference",
    NoteCode.MIRRORED: "the picture is mirrored against the reference",
    NoteCode.BENT: (
        "the picture is bent against the reference: a lens correction, or a panorama's projection"
    ),
    NoteCode.BEYOND_REFERENCE: (
        "the picture reaches beyond the reference (a panorama?): only the common part is compared"
    ),
    NoteCode.NO_PROFILE: "no usable colour profile in the file: sRGB is assumed",
    NoteCode.COARSE_STEPS: "the file's numbers are coarser than the sky's noise",
    NoteCode.GREY: "a grey picture: colours are not compared",
    NoteCode.FEW_STARS: "fewer than 30 clear stars in common: figures of stars are rough",
}
"""What a reader should know of a comparison."""

UNCOMPARED: dict[UncomparedCode, str] = {
    UncomparedCode.OTHER_SCENE: (
        "its stars are not those of the reference: another scene, or smoothed away; name the "
        "frame that it was developed from"
    ),
    UncomparedCode.TOO_FEW_STARS: (
        "too few stars in common to lay it on the reference (8 are needed)"
    ),
    UncomparedCode.SMALL_OVERLAP: (
        "under 5 % of it lies on the reference; name the frame that it was developed from"
    ),
    UncomparedCode.TOO_SMALL: (
        "under 128 px on its short side: a thumbnail? Give the picture in full size"
    ),
}
"""Why a picture was not compared."""

DIFFERENCES: dict[DifferenceCode, str] = {
    DifferenceCode.SAME_FILE: "the files are the same, byte for byte",
    DifferenceCode.SAME_PIXELS: "every pixel is the same",
    DifferenceCode.KIND: "kind of file: {one}, {other}",
    DifferenceCode.SIZE: "size: {one} px, {other} px",
    DifferenceCode.SCALE: "scale against the reference: {one}, {other}",
    DifferenceCode.CROP: "crop: the second shows {ratio} of the first one's area",
    DifferenceCode.TURN: "the second is turned by {degrees} degrees{mirrored}",
    DifferenceCode.BITS: "bits per colour: {one}, {other}",
    DifferenceCode.PROFILE: "colour profile: {one}, {other}",
    DifferenceCode.PROFILE_MISSING: "no colour profile in {file}; the other has {profile}",
    DifferenceCode.SUBSAMPLING: "colour subsampling: {one}, {other}",
    DifferenceCode.QUANTISATION: "mean step of JPEG's numbers: {one}, {other}",
    DifferenceCode.BRIGHTNESS: "brightness of the sky: the second is {stops} from the first",
    DifferenceCode.CONTRAST: "contrast of stars over the sky: the second has {ratio} times",
    DifferenceCode.COLOUR: (
        "colour of the sky: the second has red {red_stops}, blue {blue_stops} against green"
    ),
    DifferenceCode.GRAIN: "noise of 1 px in light against the reference's: {one}, {other}",
    DifferenceCode.NOTHING_SEEN: "the pixels differ, but in nothing that this command measures",
}
"""What two exports differ in."""

PROFILES: dict[ProfileSource, str] = {
    ProfileSource.EMBEDDED: "the profile in the file",
    ProfileSource.ASSUMED: "assumed, no profile in the file",
    ProfileSource.RAW: "the camera's own colours",
}
"""Where a colour space comes from."""

PERCENT_OF_ONE = ("left", "depth")
"""Values that are shares of 1 and are said in per cent."""


def worded(text: str, values: Mapping[str, Any]) -> str:
    """Return a sentence of this module with its numbers as a reader writes them."""
    return text.format(**{name: _value(name, value) for name, value in values.items()})


def _value(name: str, value: Any) -> str:
    if name == "mirrored":
        return " and mirrored" if value else ""
    if isinstance(value, bool) or not isinstance(value, int | float):
        return "not known" if value is None else str(value)
    if name in PERCENT_OF_ONE:
        return f"{100 * value:.0f} %"
    if name.endswith("_stops") or name == "stops":
        return (
            f"{value:+.2f} stops"
            if name not in ("misfit_stops", "other_stops")
            else (f"{value:.3f} stops")
        )
    if isinstance(value, int):
        return str(value)
    if name == "percent":
        return f"{value:.2g} %"
    return f"{value:.1f}" if name in ("times", "degrees") else f"{value:.2f}"
