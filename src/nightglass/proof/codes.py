"""Codes of everything that a proof says; nightglass.show.proof has their words."""

from __future__ import annotations

from enum import StrEnum


class VerdictCode(StrEnum):
    """Whether the order of settings on the bench is that on the sky."""

    HOLDS = "holds"
    HOLDS_BUT = "holds_but"
    CONTRADICTED = "contradicted"
    TOO_CLOSE = "too_close"
    MAY_BE_UNRELATED = "may_be_unrelated"
    TOO_FEW_SETTINGS = "too_few_settings"
    NO_SHARED_PLACE = "no_shared_place"


class NextStepCode(StrEnum):
    """The one thing to do next."""

    SHOOT_THE_SKY = "shoot_the_sky"
    SHOOT_MORE_SETTINGS = "shoot_more_settings"
    SHOOT_UNSEEN_PLACE = "shoot_unseen_place"
    REPEAT_EVERY_SETTING = "repeat_every_setting"
    REFOCUS = "refocus"
    TRUST_THE_RANKING = "trust_the_ranking"


class FrameReasonCode(StrEnum):
    """Why nothing of a frame of the sky can be compared."""

    UNREADABLE = "unreadable"
    DISK_ERROR = "disk_error"
    NOT_DECODED = "not_decoded"
    NOT_ASSIGNED = "not_assigned"
    DEVELOPED = "developed"
    NOT_MEASURED = "not_measured"
    NOT_SOLVED = "not_solved"
    NO_EXPOSURE = "no_exposure"
    NOT_ON_BENCH = "not_on_bench"
    NO_ZONES = "no_zones"


class PlaceReasonCode(StrEnum):
    """Why the lens alone can't be compared at a place."""

    BENCH_NOT_MEASURED = "bench_not_measured"
    BENCH_AT_LIMIT = "bench_at_limit"
    BENCH_ERROR_UNKNOWN = "bench_error_unknown"
    ZONE_NOT_MEASURED = "zone_not_measured"
    NO_FRAME = "no_frame"


class PredictionReasonCode(StrEnum):
    """Why light, limit, stars or glow can't be compared."""

    NO_ZERO_POINT = "no_zero_point"
    NO_OPEN_SKY = "no_open_sky"
    NO_STAR_PREDICTED = "no_star_predicted"
    NONE_FOUND = "none_found"
    NO_EFFICIENCY = "no_efficiency"
    NO_GAIN = "no_gain"
    SKY_BRIGHTNESS_UNKNOWN = "sky_brightness_unknown"
    NO_LIMIT = "no_limit"


class CauseCode(StrEnum):
    """Known causes of a difference between bench and sky."""

    FOCUS_EVERYWHERE = "focus_everywhere"
    FOCUS = "focus"
    OUTER_LARGER = "outer_larger"
    BENCH_TOO_LARGE = "bench_too_large"
    OUTER_SMALLER = "outer_smaller"
    ONLY_OUTER_SMALLER = "only_outer_smaller"
    RAW_FILTERING = "raw_filtering"
    LESS_LIGHT = "less_light"
    MORE_LIGHT = "more_light"
    FEWER_STARS = "fewer_stars"
    MORE_STARS = "more_stars"
    CAMERA_MOVED = "camera_moved"
    BRIGHT_SKY = "bright_sky"
    CLIPPED_STARS = "clipped_stars"
    FEW_STARS = "few_stars"
    ZONE_OFF_PLACE = "zone_off_place"
    NONE_KNOWN = "none_known"


class StarsFactor(StrEnum):
    """What makes the stars of a frame fewer or more than predicted."""

    LARGER_SPOTS = "larger_spots"
    MERGED_OR_CLOUD = "merged_or_cloud"
    FILTERED_STARS = "filtered_stars"
    SMALLER_BETWEEN_PLACES = "smaller_between_places"
    RICH_FIELD = "rich_field"


class AssumptionCode(StrEnum):
    """Choices that enter only a proof; those it shares with a ranking are the ranking's."""

    PLACE_GIVEN = "place_given"
    PLACE_UNKNOWN = "place_unknown"
    AIRMASS_OF_AIM = "airmass_of_aim"
    FAINTEST_STAR = "faintest_star"
    STAR_COUNTS = "star_counts"
    EFFICIENCY_UNKNOWN = "efficiency_unknown"
    GAIN_GIVEN = "gain_given"
    GAIN_FROM_NOISE = "gain_from_noise"
    GAIN_MEASURED = "gain_measured"
    READ_NOISE_MEASURED = "read_noise_measured"
    READ_NOISE_GIVEN = "read_noise_given"
    BLUR_BETWEEN_PLACES = "blur_between_places"
    INTERVALS = "intervals"
    LEFT_OUT = "left_out"


class Method(StrEnum):
    """The two comparisons of a place."""

    LENS_ALONE = "lens_alone"
    AS_MEASURED = "as_measured"


ALL_CODES: tuple[type[StrEnum], ...] = (
    VerdictCode,
    NextStepCode,
    FrameReasonCode,
    PlaceReasonCode,
    PredictionReasonCode,
    CauseCode,
    StarsFactor,
    AssumptionCode,
    Method,
)
