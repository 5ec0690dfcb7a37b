"""The field of a lens in plain words: which side is softer and whether it is real, where stars
point, what the light loses, and what the focus looks like."""

from __future__ import annotations

import math
from dataclasses import asdict

from nightglass.sky.zones.codes import FalloffReason, HintCode, SideVerdict, ZoneReason
from nightglass.sky.zones.field import (
    CENTRE,
    CORNERS,
    Field,
    Reading,
    Uneven,
)
from nightglass.sky.zones.field_hints import field_hints, side_verdict
from nightglass.sky.zones.zone import Zone

LEAN_ERRORS, LEAST_LEAN = 3.0, 0.05
ROW_NAMES = ("top", "middle", "bottom")
COLUMN_NAMES = ("far left", "half left", "middle", "half right", "far right")
SAME_ERRORS = 2.0
ZONE_REASONS = {
    ZoneReason.TOO_FEW_STARS: (
        "{stars} single unclipped stars stand out here; it takes five clear ones"
    ),
    ZoneReason.JOINED: (
        "counted with the zone beside it, toward the edge: each alone has too few stars"
    ),
    ZoneReason.NO_SPOT_FITS: "no spot fits its stars: too faint, too crowded, or no stars",
}
FALLOFF_REASONS = {
    FalloffReason.LITTLE_OPEN_SKY: "only {open_percent:.0f} % of the frame shows open sky",
    FalloffReason.TOO_FEW_STARS: (
        "too few unclipped catalogue stars over the field, or cloud over it"
    ),
    FalloffReason.BRIGHTER_AT_RIM: (
        "stars are brighter toward the rim than in the centre: cloud or haze"
    ),
}
SIDE_VERDICTS = {
    SideVerdict.NONE_SHOWN: "none shown",
    SideVerdict.TOO_SMALL_TO_SEE: "real, too small to see",
    SideVerdict.SOFTER: "real, {softer} softer",
}
HINTS = {
    HintCode.FAR_OUT_OF_FOCUS: (
        "even in the sharpest zone stars are {size_percent:.2f} % of picture height wide: the "
        "focus is far off, or dew or haze spreads them; focus on a bright star and compare"
    ),
    HintCode.SOFT_CENTRE: (
        "the centre is {ratio:.2f} times as soft as the sharpest zone: focus lies off the centre's "
        "best (or the field is curved, or the sensor leans); turn the focus a little and compare"
    ),
    HintCode.RADIAL_RIM: (
        "stars near the rim stretch radially (toward the middle): astigmatism or coma; if a small "
        "turn of the focus makes them stretch the other way, it is astigmatism"
    ),
    HintCode.TANGENTIAL_RIM: (
        "stars near the rim stretch tangentially (around the middle): astigmatism or coma; if a "
        "small turn of the focus makes them stretch the other way, it is astigmatism"
    ),
}


def reading_words(reading: Reading, percent: float) -> str:
    """Return the length of one part of the frame with error and range; percent: % per px."""
    if reading.length_px is None or reading.length_px_err is None:
        return "not tested"
    text = (
        f"{reading.length_px * percent:.3f} ± {reading.length_px_err * percent:.3f} % of height "
        f"({reading.length_px:.1f} px)"
    )
    if reading.zones > 1 and reading.least_px is not None and reading.most_px is not None:
        text += f", zones {reading.least_px * percent:.3f} to {reading.most_px * percent:.3f}"
    if reading.joined:
        text += f", {reading.joined} of them with the zone beside"
    return text


def uneven_words(found: Uneven, field: Field) -> str:
    """Return which side is softer, by how much with its interval, and whether that is real."""
    return (
        f"{found.side} over {found.other}: {found.ratio:.2f} (95 %: {found.low:.2f} to "
        f"{found.high:.2f}, {_pairs(found)}): {verdict_words(found, field)}"
    )


def verdict_words(found: Uneven, field: Field) -> str:
    """Return the word on a difference: real, real but not to be seen, or none shown."""
    return SIDE_VERDICTS[side_verdict(found, field)].format(softer=found.softer)


def _pairs(found: Uneven) -> str:
    return f"{found.pairs} {'pair' if found.pairs == 1 else 'pairs'} of zones"


def falloff_words(field: Field) -> str:
    """Return the stops that stars lose at the edge and in the corner, with errors, or why that is
    not told."""
    falloff = field.falloff
    if falloff is None:
        return f"light lost: not tested, {falloff_reason_words(field)}"
    parts = [
        f"{falloff.stops(radius):.2f} ± {falloff.stops_err(radius):.2f} stops at {place}"
        for place, radius in (("the short sides", falloff.edge_radius), ("the corners", 1.0))
    ]
    return f"light lost: {', '.join(parts)} (from {falloff.stars} catalogue stars)"


def falloff_reason_words(field: Field) -> str:
    """Return why the light that a lens loses is not known; empty where it is."""
    if field.falloff_reason is None:
        return ""
    return FALLOFF_REASONS[field.falloff_reason].format(open_percent=100 * (field.open_sky or 0.0))


def trail_words(zone: Zone) -> str:
    """Return a zone's trail [px] with its error, or that it is the sky's own within the errors:
    trails come from one fit to the whole frame."""
    if zone.trail_seen_px is None:
        return ""
    x, y = zone.trail_seen_px
    long, err = math.hypot(x, y), zone.trail_err_px
    if err is None:
        return f"{long:.1f}"
    # Along the trail; a trail of no length has no direction.
    share = (x / long, y / long) if long > 0 else (0.7, 0.7)
    along = math.hypot(share[0] * err[0], share[1] * err[1])
    expected = zone.trail_expected_px
    if expected is not None and math.dist((x, y), expected) <= SAME_ERRORS * math.hypot(*err):
        return f"as the sky's ± {along:.1f}"
    return f"{long:.1f} ± {along:.1f}"


def lean_words(zone: Zone) -> str:
    """Return to which side a zone's star has its tail; empty where it is none worth a word."""
    if zone.lean is None or abs(zone.lean) < max(LEAST_LEAN, LEAN_ERRORS * (zone.lean_err or 0)):
        return ""
    return "tail outward" if zone.lean > 0 else "tail inward"


def lean_number(zone: Zone) -> str:
    """Return a zone's lean with its error, signed, positive outward; empty where it is unknown."""
    if zone.lean is None:
        return ""
    return f"{zone.lean:+.2f} ± {zone.lean_err or 0.0:.2f}".replace("-", "\N{MINUS SIGN}")


def colour_numbers(zone: Zone) -> tuple[str, str]:
    """Return how far a zone's red and blue light lie from its green [px], with errors; empty where
    the frame has no colours."""
    found = [
        "" if offset is None else f"{math.hypot(*offset):.2f} ± {zone.offset_err_px or 0.0:.2f}"
        for offset in (zone.red_offset_px, zone.blue_offset_px)
    ]
    return found[0], found[1]


def hint_words(field: Field) -> list[str]:
    """Return hints on focus and the shape of the field; empty where the zones give none."""
    return [HINTS[hint.code].format(**asdict(hint)) for hint in field_hints(field)]


def zone_name(zone: Zone) -> str:
    """Return the place of a zone in words: "top left", "centre", "top, middle", "bottom right
    (two zones)"."""
    at = (zone.row, zone.column)
    if at == CENTRE:
        return "centre"
    name = CORNERS.get(at, f"{ROW_NAMES[zone.row]}, {COLUMN_NAMES[zone.column]}")
    return f"{name} (two zones)" if zone.columns > 1 else name


def unknown_words(zone: Zone) -> str:
    """Return why nothing is said of a zone by itself."""
    reason = zone_reason_words(zone.reason, zone.stars)
    return reason if zone.reason is ZoneReason.JOINED else f"not tested: {reason}"


def zone_reason_words(reason: ZoneReason | None, stars: int | None) -> str:
    """Return why nothing is known of a zone with so many stars; empty without a reason."""
    return "" if reason is None else ZONE_REASONS[reason].format(stars=stars)
