"""What dark frames say of raw filtering, in plain words and as plain data."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import fields

from nightglass.sky.photometry.codes import FilterReason, FilterVerdict
from nightglass.sky.photometry.filtering import LEAST_BRIGHT, Filtering

VERDICTS = {
    FilterVerdict.FILTERED: "filtered",
    FilterVerdict.NOT_FILTERED: "not filtered",
    FilterVerdict.UNDECIDED: "can't tell",
}
FILTER_REASONS = {
    FilterReason.CUT_TO_NEIGHBOURS: (
        "single bright samples are cut to their neighbours: stars of 2 px and less lose light or "
        "vanish in this mode; prefer a mode or a shorter time that is not filtered, and compare "
        "lenses only within one mode"
    ),
    FilterReason.SOME_FRAMES: (
        "{filtered_frames} of {frames} frames are filtered, though all were taken alike by their "
        "tags: stars of 2 px and less lose light or vanish in those; look for a setting that the "
        "tags do not hold (noise reduction, firmware)"
    ),
    FilterReason.LONE_SAMPLES_MISSING: (
        "{alone} bright samples stand alone where a shorter exposure of this sensor lets one "
        "expect {alone_expected} or more (if all were equally warm): they are taken away, and "
        "small stars of 2 px and less with them; prefer a mode or a shorter time that is not "
        "filtered"
    ),
    FilterReason.KEPT: "bright single samples are kept: small stars are safe here",
    FilterReason.TOO_FEW_SAMPLES: (
        f"only {{bright}} bright samples; it takes {LEAST_BRIGHT}: more darks, longer, or warmer"
    ),
    FilterReason.MIXED: (
        "some bright samples stand alone and some do not: take dark frames in a warm room"
    ),
}


def filtering_data(found: Filtering) -> dict[str, object]:
    """Return a verdict as plain values, without the samples."""
    return {f.name: getattr(found, f.name) for f in fields(found) if not f.name.endswith("_sigma")}


def filtering_lines(found: Filtering) -> list[str]:
    """Return the lines on one mode and time that a person reads."""
    share = "" if found.alone_share is None else f", {100 * found.alone_share:.0f} % alone"
    frames = f"{found.frames} dark frame{'s' if found.frames > 1 else ''}"
    return [
        f"{taken_words(found)}, {frames}: {VERDICTS[found.verdict]} ({found.bright} bright "
        f"samples{share})",
        f"  {filter_reason_words(found)}",
    ]


def filter_reason_words(found: Filtering) -> str:
    """Return what a verdict rests on and what to do."""
    return FILTER_REASONS[found.reason].format(
        filtered_frames=found.filtered_frames,
        frames=found.frames,
        alone=found.alone,
        alone_expected=f"{found.alone_expected or 0.0:.0f}",
        bright=found.bright,
    )


def taken_words(found: Filtering) -> str:
    """Return mode and time, and the body and ISO that are recorded."""
    time = "time not recorded" if found.exposure_s is None else f"{found.exposure_s:.4g} s"
    iso = None if found.iso is None else f"ISO {found.iso}"
    mode = found.mode or "mode not recorded"
    return ", ".join(part for part in (found.body, iso, mode, time) if part)


def filtering_advice(found: Sequence[Filtering]) -> str:
    """Return what the verdicts mean for the settings of the night, in a sentence or two per body:
    no body's frames speak for another."""
    bodies = dict.fromkeys(one.body for one in found)
    parts = (_body_words([one for one in found if one.body == body]) for body in bodies)
    return ". ".join(part for body in parts for part in body) + "."


def _body_words(found: Sequence[Filtering]) -> list[str]:
    safe, filtered, unsure = (
        "; ".join(taken_words(one) for one in found if one.verdict is verdict)
        for verdict in (
            FilterVerdict.NOT_FILTERED,
            FilterVerdict.FILTERED,
            FilterVerdict.UNDECIDED,
        )
    )
    parts = []
    if filtered:
        parts.append(f"Small stars are erased at {filtered}")
        parts.append(
            f"Use {safe}" if safe else "Test shorter times and other modes: none of these is safe"
        )
        parts.append("A bench frame in one mode does not stand for the sky in another")
    elif safe:
        parts.append(f"No filtering at {safe}: these settings keep small stars")
    if unsure:
        parts.append(f"Can't tell at {unsure}: take more darks there")
    return parts
