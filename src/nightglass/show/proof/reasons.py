"""Why a frame, a place or a prediction can't be compared, in words."""

from __future__ import annotations

from nightglass.proof.codes import FrameReasonCode, PlaceReasonCode, PredictionReasonCode
from nightglass.proof.reasons import FrameReason, PlaceReason, PredictionReason
from nightglass.show.sky.words.field import zone_reason_words
from nightglass.show.sky.words.motion import NO_ZONE
from nightglass.show.sky.words.night import LIMIT_SOURCES
from nightglass.show.sky.words.unsolved import ADVICE, unsolved_words

FRAME_REASONS = {
    FrameReasonCode.UNREADABLE: "can't be read ({error}); check its permissions",
    FrameReasonCode.DISK_ERROR: "{error}; check the name, its permissions and the disk",
    FrameReasonCode.NOT_DECODED: "{error}",
    FrameReasonCode.NOT_ASSIGNED: "{error}",
    FrameReasonCode.DEVELOPED: (
        "three planes, no mosaic (a developed picture): its sizes are not comparable with the "
        "bench's; give the raw file of this frame"
    ),
    FrameReasonCode.NOT_MEASURED: "{error}",
    FrameReasonCode.NOT_SOLVED: "not solved: {unsolved}",
    FrameReasonCode.NO_EXPOSURE: (
        "the exposure time is not recorded: lens and star motion are not told apart; state the "
        "true time in seconds (exposure_s in a [[frames]] table)"
    ),
    FrameReasonCode.NOT_ON_BENCH: (
        "this setting has no measured frame on the bench; shoot it there too, or the sky with one "
        "that has"
    ),
    FrameReasonCode.NO_ZONES: NO_ZONE,
}
PLACE_REASONS = {
    PlaceReasonCode.BENCH_NOT_MEASURED: "not measured on the bench",
    PlaceReasonCode.BENCH_AT_LIMIT: "at limit on the bench (at most {at_most_px:.1f} px): no ratio",
    PlaceReasonCode.BENCH_ERROR_UNKNOWN: ("the bench's error is not known: one frame without any"),
    PlaceReasonCode.ZONE_NOT_MEASURED: "no zone of the sky there was measured",
    PlaceReasonCode.NO_FRAME: "no frame of the sky could be used",
}
PREDICTION_REASONS = {
    PredictionReasonCode.NO_ZERO_POINT: (
        "no zero point: too few unclipped catalogue stars, or no exposure"
    ),
    PredictionReasonCode.NO_OPEN_SKY: "no open sky lies near a place that the bench has measured",
    PredictionReasonCode.NO_STAR_PREDICTED: "no star is predicted",
    PredictionReasonCode.NONE_FOUND: "none was found",
    PredictionReasonCode.NO_EFFICIENCY: (
        "bench.toml does not give the body's efficiency; a default says nothing of this body"
    ),
    PredictionReasonCode.NO_GAIN: (
        "electrons per count at this ISO are not known: gain_e_per_count in bench.toml"
    ),
    PredictionReasonCode.SKY_BRIGHTNESS_UNKNOWN: "the sky's brightness is not known",
    PredictionReasonCode.NO_LIMIT: "{limiting_from}",
}


def frame_reason_words(reason: FrameReason) -> str:
    """Return why nothing of a frame can be compared, and what to do."""
    failed = reason.unsolved
    unsolved = "" if failed is None else f"{unsolved_words(failed)}; {ADVICE[failed.advice]}"
    return FRAME_REASONS[reason.code].format(error=reason.error, unsolved=unsolved)


def place_reason_words(reason: PlaceReason) -> str:
    """Return why the lens alone can't be compared at a place."""
    words = PLACE_REASONS[reason.code].format(at_most_px=reason.at_most_px)
    zone = zone_reason_words(reason.zone_reason, reason.zone_stars)
    return f"{words} ({zone})" if zone else words


def prediction_reason_words(reason: PredictionReason) -> str:
    """Return why one of light, limit, stars and glow can't be compared."""
    source = "" if reason.limiting_from is None else LIMIT_SOURCES[reason.limiting_from]
    return PREDICTION_REASONS[reason.code].format(limiting_from=source)
