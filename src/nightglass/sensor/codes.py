"""What the sensor room says in codes; nightglass.show.sensor.words words them."""

from __future__ import annotations

from enum import StrEnum


class Role(StrEnum):
    """What a frame was taken for."""

    BIAS = "bias"
    DARK = "dark"
    FLAT = "flat"
    OVEREXPOSED = "overexposed"
    LEFT_OUT = "left_out"


class LeftOut(StrEnum):
    """Why a frame was left out."""

    UNREADABLE = "unreadable"
    NO_MOSAIC = "no_mosaic"
    OTHER_BODY = "other_body"
    OTHER_MODE = "other_mode"
    TOO_SMALL = "too_small"
    ISO_UNKNOWN = "iso_unknown"
    TIME_UNKNOWN = "time_unknown"
    BETWEEN_TIMES = "between_times"
    NOT_EVEN = "not_even"
    LIGHT_LEAK = "light_leak"
    ALONE = "alone"
    SAME_FILE = "same_file"


class DarkMethod(StrEnum):
    """What tells the dark current; EMVA 1288 Release 3.1, clause 7.1 has both."""

    LEVEL = "level"
    NOISE = "noise"


class Finding(StrEnum):
    """What a reader must know of the numbers of a step or of the whole sensor."""

    NO_BIAS = "no_bias"
    NO_FLATS = "no_flats"
    FEW_LEVELS = "few_levels"
    NOT_A_LINE = "not_a_line"
    COARSE_COUNTS = "coarse_counts"
    BLACK_CLIPPED = "black_clipped"
    NOISE_FROM_FLATS = "noise_from_flats"
    BLACK_MOVED = "black_moved"
    SMOOTHED = "smoothed"
    COUNTS_SKIPPED = "counts_skipped"
    COARSE_HIGHLIGHTS = "coarse_highlights"
    LIGHT_FLICKERS = "light_flickers"
    BENT = "bent"
    ROWS_SHOW = "rows_show"
    COLUMNS_SHOW = "columns_show"
    NO_DARKS = "no_darks"
    ONE_DARK = "one_dark"
    DARK_LEVEL_HIDDEN = "dark_level_hidden"
    TEMPERATURE_UNKNOWN = "temperature_unknown"
    LINEARITY_NOT_TESTED = "linearity_not_tested"
    CLIPPING_FROM_FILE = "clipping_from_file"
    ISO_NAME_DIFFERS = "iso_name_differs"
    ISO_FROM_NAME = "iso_from_name"
    BODY_UNKNOWN = "body_unknown"
    MULTIPLIED = "multiplied"
    ONLY_A_TAG = "only_a_tag"
    SAME_NOISE = "same_noise"


class NotMet(StrEnum):
    """What EMVA 1288 asks for and frames of a photographer don't give."""

    LIGHT_NOT_CALIBRATED = "light_not_calibrated"
    LIGHT_NOT_ONE_COLOUR = "light_not_one_colour"
    LENS_IN_FRONT = "lens_in_front"
    FEW_STEPS = "few_steps"
    FEW_DARK_TIMES = "few_dark_times"
    FEW_FRAMES_FOR_PATTERN = "few_frames_for_pattern"
    ONE_TEMPERATURE = "one_temperature"


ALL_CODES = (Role, LeftOut, DarkMethod, Finding, NotMet)
