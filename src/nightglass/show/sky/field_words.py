"""The field of a lens in plain words: which side is softer and whether it is real, where stars
point, what the light loses, and what the focus looks like."""

from __future__ import annotations

import math

from nightglass.sky.photometry.conditions import Night
from nightglass.sky.zones.field import (
    CENTRE,
    CORNERS,
    LEAST_OPEN,
    Field,
    Reading,
    Uneven,
    place_of,
)
from nightglass.sky.zones.motion import Motion
from nightglass.sky.zones.zone import JOINED, Zone

NOT_SEEN_PERCENT = 0.01
"""Difference in % of picture height that nobody sees on a picture: common practice."""
RADIAL_UP_TO, TANGENTIAL_FROM = 30.0, 60.0
LEAN_ERRORS, LEAST_LEAN = 3.0, 0.05
ROW_NAMES = ("top", "middle", "bottom")
COLUMN_NAMES = ("far left", "half left", "middle", "half right", "far right")
SOFTER_MIDDLE = 1.25
"""Centre over the sharpest other zone from which focus or a curved field is worth a word."""
SAME_ERRORS = 2.0
FAR_OUT_PERCENT = 0.4
"""Size of stars of a lens that is out of focus everywhere: on a bench under it is called good."""
RATE_ERRORS, LEAST_OFF, MOST_OFF, MOST_RATE_ERR = 3.0, 0.03, 0.3, 0.1
"""Rates this far from 1 may be the shutter's: beyond, a mount or a drift is likelier."""
SAME_TIME = 0.01
RIM = 0.75
"""Of a zone's distance from the frame's middle over that of the farthest one: the rim."""


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
        f"{found.high:.2f}, {_pairs(found)}): {verdict(found, field)}"
    )


def verdict(found: Uneven, field: Field) -> str:
    """Return the word on a difference: real, real but not to be seen, or none shown."""
    if not found.real:
        return "none shown"
    sizes = [zone.length_px for zone in field.measured if zone.length_px is not None]
    mean = sum(sizes) / len(sizes)
    if abs(found.ratio - 1) * mean * field.percent < NOT_SEEN_PERCENT:
        return "real, too small to see"
    return f"real, {found.softer} softer"


def _pairs(found: Uneven) -> str:
    return f"{found.pairs} {'pair' if found.pairs == 1 else 'pairs'} of zones"


def falloff_words(field: Field) -> str:
    """Return the stops that stars lose at the edge and in the corner, with errors, or why that is
    not told."""
    falloff = field.falloff
    if falloff is None:
        return f"light lost: not tested, {field.no_falloff}"
    parts = [
        f"{falloff.stops(radius):.2f} ± {falloff.stops_err(radius):.2f} stops at {place}"
        for place, radius in (("the short sides", falloff.edge_radius), ("the corners", 1.0))
    ]
    return f"light lost: {', '.join(parts)} (from {falloff.stars} catalogue stars)"


def cover_words(night: Night) -> str | None:
    """Return a note on a frame that shows little open sky; None where it shows enough."""
    if night.open_sky >= LEAST_OPEN:
        return None
    return (
        f"only {100 * night.open_sky:.0f} % of the frame shows open sky: its brightness and the "
        "limiting magnitude hold for that part, and thin cloud may lie over it too"
    )


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


def turn_words(zone: Zone) -> str:
    """Return where a zone's star points: radial, tangential, slanting or round."""
    away = zone.radial_angle_degrees
    if away is None:
        return "round"
    if away <= RADIAL_UP_TO:
        return "radial"
    return "tangential" if away >= TANGENTIAL_FROM else "slanting"


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


def focus_words(field: Field) -> list[str]:
    """Return hints on focus and the shape of the field; empty where the zones give none."""
    hints = []
    sizes = [_size(z) for z in field.measured]
    if sizes and min(sizes) * field.percent > FAR_OUT_PERCENT:
        hints.append(
            f"even in the sharpest zone stars are {min(sizes) * field.percent:.2f} % of picture "
            "height wide: the focus is far off, or dew or haze spreads them; focus on a bright "
            "star and compare"
        )
    centre = [z for z in field.measured if place_of(z) == "centre"]
    outer = [z for z in field.measured if place_of(z) != "centre"]
    if centre and len(outer) >= 4:
        middle, sharpest = min(map(_size, centre)), min(map(_size, outer))
        if middle > SOFTER_MIDDLE * sharpest:
            hints.append(
                f"the centre is {middle / sharpest:.2f} times as soft as the sharpest zone: focus "
                "lies off the centre's best (or the field is curved, or the sensor leans); turn "
                "the focus a little and compare"
            )
    away = [_from_middle(z, field) for z in field.zones]
    rim = [z for z in outer if _from_middle(z, field) >= RIM * max(away)]
    turned = [turn_words(z) for z in rim]
    for word, means in (("radial", "toward the middle"), ("tangential", "around the middle")):
        if len(rim) >= 4 and turned.count(word) >= 0.75 * len(rim):
            hints.append(
                f"stars near the rim stretch {word}ly ({means}): astigmatism or coma; if a small "
                "turn of the focus makes them stretch the other way, it is astigmatism"
            )
    return hints


def shutter_words(
    motion: Motion, exposure_s: float | None, marked_s: float | None = None
) -> str | None:
    """Return the hint that another exposure time explains the stars as well; None without one.

    exposure_s: true seconds by which the trails were judged; marked_s: the time that the file
    says. A rate near the sky's own that is not 1 looks like a mount, and is more often a true
    time taken for a dial's mark or the other way.
    """
    rate, err = motion.rate, motion.rate_err
    if exposure_s is None or rate is None or err is None or motion.moved or err > MOST_RATE_ERR:
        return None
    # Where a mount is told, the rate is another than the sky's for certain.
    least = LEAST_OFF if motion.tracked else max(RATE_ERRORS * err, LEAST_OFF)
    if not least < abs(rate - 1) < MOST_OFF:
        return None
    open_s, open_err = rate * exposure_s, max(err * exposure_s, 0.05)
    words = (
        f"the trails are the sky's own if the shutter was open {open_s:.1f} ± {open_err:.1f} s "
        f"instead of {exposure_s:.4g} s"
    )
    if marked_s is None or abs(marked_s / exposure_s - 1) < SAME_TIME or (
        abs(open_s - marked_s) > max(RATE_ERRORS * open_err, SAME_TIME * marked_s)
    ):  # fmt: skip
        return f"{words}: --exposure-s states the true time"
    return (
        f"{words}: with a remote release or a timer the {marked_s:g} s of the file can be the true "
        f"time; --exposure-s {marked_s:g} states it"
    )


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
    reason = zone.reason or ""
    return reason if reason == JOINED else f"not tested: {reason}"


def _from_middle(zone: Zone, field: Field) -> float:
    return math.hypot(zone.x_px - (field.width_px - 1) / 2, zone.y_px - (field.height_px - 1) / 2)


def _size(zone: Zone) -> float:
    return float(((zone.length_px or 0.0) * (zone.width_px or 0.0)) ** 0.5)
