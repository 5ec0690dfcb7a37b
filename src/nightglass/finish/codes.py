"""Codes of what the finishing did; nightglass.show words them."""

from __future__ import annotations

from enum import StrEnum


class FindingCode(StrEnum):
    """What was done to the stars, the noise and the colours."""

    STARS_LOST = "stars_lost"
    GRAIN_SMOOTHED = "grain_smoothed"
    GRAIN_RAISED = "grain_raised"
    COLOUR_SMOOTHED = "colour_smoothed"
    BLOTCHES = "blotches"
    LIGHT_PATCHES = "light_patches"
    STARS_SHARPENED = "stars_sharpened"
    STARS_SOFTENED = "stars_softened"
    DARK_RINGS = "dark_rings"
    STAR_COLOUR = "star_colour"
    SATURATION = "saturation"
    BACKGROUND_COLOUR = "background_colour"
    SHADOWS_CLIPPED = "shadows_clipped"
    JPEG_BLOCKS = "jpeg_blocks"
    WRONG_PROFILE = "wrong_profile"


class NoteCode(StrEnum):
    """What a reader should know of a picture and of how it was compared."""

    RAW_REFERENCE = "raw_reference"
    RESAMPLED = "resampled"
    RESCALED = "rescaled"
    TURNED = "turned"
    MIRRORED = "mirrored"
    BENT = "bent"
    BEYOND_REFERENCE = "beyond_reference"
    NO_PROFILE = "no_profile"
    COARSE_STEPS = "coarse_steps"
    GREY = "grey"
    FEW_STARS = "few_stars"


class UncomparedCode(StrEnum):
    """Why a picture could not be compared."""

    OTHER_SCENE = "other_scene"
    TOO_FEW_STARS = "too_few_stars"
    SMALL_OVERLAP = "small_overlap"
    TOO_SMALL = "too_small"


class DifferenceCode(StrEnum):
    """In what two exports of the same frame differ."""

    SAME_FILE = "same_file"
    SAME_PIXELS = "same_pixels"
    KIND = "kind"
    SIZE = "size"
    SCALE = "scale"
    CROP = "crop"
    TURN = "turn"
    BITS = "bits"
    PROFILE = "profile"
    PROFILE_MISSING = "profile_missing"
    SUBSAMPLING = "subsampling"
    QUANTISATION = "quantisation"
    BRIGHTNESS = "brightness"
    CONTRAST = "contrast"
    COLOUR = "colour"
    GRAIN = "grain"
    NOTHING_SEEN = "nothing_seen"


class ProfileSource(StrEnum):
    """Where the colour space of a picture comes from."""

    EMBEDDED = "embedded"
    ASSUMED = "assumed"
    RAW = "raw"


ALL_CODES: tuple[type[StrEnum], ...] = (
    FindingCode, NoteCode, UncomparedCode, DifferenceCode, ProfileSource,
)  # fmt: skip
