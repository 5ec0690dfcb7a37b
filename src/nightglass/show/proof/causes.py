"""Known causes of a difference between bench and sky, in words."""

from __future__ import annotations

from nightglass.proof.codes import CauseCode, StarsFactor
from nightglass.proof.records import Cause

CAUSES = {
    CauseCode.FOCUS_EVERYWHERE: "focus: every place is larger on the sky by about the same",
    CauseCode.FOCUS: "focus: places are larger on the sky",
    CauseCode.OUTER_LARGER: (
        "distance or field curvature: only outer places are larger on the sky; the bench's star "
        "stood nearer than the sky's, or the lens sat otherwise in its mount"
    ),
    CauseCode.BENCH_TOO_LARGE: (
        "the bench: every place is smaller on the sky; its focus or its light's size"
    ),
    CauseCode.OUTER_SMALLER: (
        "distance or field curvature: only outer places are smaller on the sky"
    ),
    CauseCode.ONLY_OUTER_SMALLER: (
        "focus, distance or field curvature: only outer places could be compared, and they are "
        "smaller on the sky"
    ),
    CauseCode.RAW_FILTERING: (
        "raw filtering of small stars: dark frames tell (nightglass sky --dark)"
    ),
    CauseCode.LESS_LIGHT: (
        "less light than bench.toml says: haze or thin cloud, a lens that passes less "
        "(transmission), dew, or the body's efficiency"
    ),
    CauseCode.MORE_LIGHT: (
        "more light than bench.toml says: clearer air than assumed, or the body's efficiency or "
        "gain"
    ),
    CauseCode.FEWER_STARS: "fewer stars than predicted",
    CauseCode.MORE_STARS: "more stars than predicted",
    CauseCode.CAMERA_MOVED: "trail: the camera moved beyond what the sky explains",
    CauseCode.BRIGHT_SKY: "faint skirts drown in a bright sky",
    CauseCode.CLIPPED_STARS: (
        "clipped stars left out: only the fainter ones, with less skirt, are used"
    ),
    CauseCode.FEW_STARS: "few stars: a place rests on fewer than {stars}",
    CauseCode.ZONE_OFF_PLACE: "place: the sky's zone lies nearer to or farther from the centre",
    CauseCode.NONE_KNOWN: "no known cause fits",
}
FACTORS = {
    StarsFactor.LARGER_SPOTS: "the larger spots",
    StarsFactor.MERGED_OR_CLOUD: "neighbours that merge, or thin cloud in parts",
    StarsFactor.FILTERED_STARS: CAUSES[CauseCode.RAW_FILTERING],
    StarsFactor.SMALLER_BETWEEN_PLACES: "spots between the bench's places are smaller than assumed",
    StarsFactor.RICH_FIELD: "the field is richer in faint stars than the mean sky",
}


def cause_words(cause: Cause) -> str:
    """Return a cause in one line, with what narrows it down."""
    words = CAUSES[cause.code].format(stars=cause.stars)
    if cause.conditions:
        return f"{' and '.join(cause.conditions)}: {words}"
    if cause.factors:
        return f"{words}: {'; '.join(FACTORS[factor] for factor in cause.factors)}"
    return words
