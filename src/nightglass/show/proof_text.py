"""Bench against sky in words and as a table."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from nightglass.gear.lens import LensSetting
from nightglass.show.words import NOT_TESTED, f_number, focal
from nightglass.verdict.proof_records import (
    FrameNight,
    PlaceProof,
    Proof,
    SettingProof,
    SkyFrame,
)
from nightglass.verdict.records import Interval

HEAD = (
    "place",
    "bench px",
    "sky px",
    "ratio",
    "95 %",
    "bench px",
    "sky px",
    "ratio",
    "95 %",
    "stars",
)
ABOVE = ("", "lens alone", "", "", "", "as measured, trail in", "", "", "", "")
NIGHT_HEAD = (
    "frame", "stars", "predicted", "ratio", "95 %", "limit G", "predicted", "apart", "95 %",
    "light", "95 %", "glow", "95 %",
)  # fmt: skip
SIDES = {1: "larger on the sky", -1: "smaller on the sky", 0: ""}

ONE_FRAME = (
    "one frame: how well it was focused is in its sizes, not in these intervals; two or more tell"
)
"""With focus that scatters by 4 %, three of four such intervals hold the truth, not 95 of 100
(design/proof_intervals.py)."""


def setting_words(setting: LensSetting) -> str:
    """Return a setting in one line: lens, focal length, f-number."""
    return f"{setting.lens}, {focal(setting.focal_mm)}, {f_number(setting.f_number)}"


def proof_lines(proof: Proof) -> Iterator[str]:
    """Yield everything that a person reads, frames last; the verdict comes first."""
    yield f"Verdict: {proof.verdict}."
    yield from order_lines(proof)
    for setting in proof.settings:
        yield ""
        yield from _setting_lines(setting)
    if proof.not_on_sky:
        yield ""
        yield f"No frame of the sky: {'; '.join(setting_words(s) for s in proof.not_on_sky)}"
    yield ""
    yield "Frames of the sky:"
    for frame in proof.frames:
        yield f"  {frame_words(frame)}"
    yield ""
    yield f"How: {proof.how}."


def next_step(proof: Proof) -> str:
    """Return the one thing to do next."""
    if not any(place.compared for s in proof.settings for place in s.places):
        return "shoot a frame of the sky with a setting of this bench: five lines in docs/sky.md"
    if proof.tau is None:
        return "shoot the sky with three or more settings of this bench, all in one night"
    odd = next((s for s in proof.settings if s.causes), None)
    if odd is None and proof.verdict.startswith("can't tell"):
        return "shoot each setting two or three times more, focusing before each, sky and bench"
    if odd is None:
        return "trust the ranking: nightglass rank"
    return f"focus again and shoot {setting_words(odd.setting)} once more, sky and bench"


def order_lines(proof: Proof) -> Iterator[str]:
    """Yield how the orders of settings agree; nothing where too few have both."""
    if proof.tau is None:
        return
    held, against, left = proof.pairs_held, len(proof.pairs_against), len(proof.pairs_open)
    yield (
        f"Order of settings by their largest place: Kendall's tau {proof.tau.value:.2f} "
        f"({proof.tau.low:.2f} to {proof.tau.high:.2f}); pairs that hold {held}, against "
        f"{against}, undecided {left}."
    )
    if (tau := proof.stars_tau) is not None:
        yield (
            f"Order of settings by their stars, predicted and found: tau {tau.value:.2f} "
            f"({tau.low:.2f} to {tau.high:.2f})."
        )
    for tighter, wider in proof.pairs_against:
        yield (
            f"  tighter on the bench, not on the sky: {setting_words(tighter)} before "
            f"{setting_words(wider)}"
        )


def _setting_lines(proof: SettingProof) -> Iterator[str]:
    yield setting_words(proof.setting)
    rows = [_row(place) for place in proof.places if place.compared]
    if rows:
        yield from _table([ABOVE, HEAD, *rows])
    yield from (f"  {note}" for note in place_notes(proof))
    if proof.nights:
        yield "  Light, limit and stars, as bench and night predict them, and as found:"
        yield from _table([NIGHT_HEAD, *(_night_row(*pair) for pair in proof.nights)])
        yield from _night_reasons(proof)
    if rows or proof.nights:
        yield from (f"  fits: {cause}" for cause in proof.causes)
        if not proof.causes:
            yield "  no difference beyond the errors"


def place_notes(proof: SettingProof) -> Iterator[str]:
    """Yield what a reader must know of the places: not tested, by a zone elsewhere, one frame."""
    if max((place.frames for place in proof.places), default=0) == 1:
        yield ONE_FRAME
    for place in proof.places:
        if not place.compared:
            yield f"{place.place}: {NOT_TESTED}, {place.reason}"
        elif not place.same_side:
            yield f"{place.place}: lens alone by a zone on another side, as far from the centre"


def _table(rows: Sequence[tuple[str, ...]]) -> Iterator[str]:
    # A heading above several columns needs no room of its own.
    widths = [max(len(row[k]) for row in rows if row is not ABOVE) for k in range(len(rows[0]))]
    for row in rows:
        line, end = "", 0
        for cell, width in zip(row, widths, strict=True):
            line = line.ljust(end) + cell
            end += width + 2
        yield "  " + line.rstrip()


def _row(place: PlaceProof) -> tuple[str, ...]:
    stars = str(place.like_stars or place.stars)
    return (
        place.place,
        number(place.bench_px),
        number(place.sky_px),
        *_ratio(place.ratio),
        number(place.like_bench_px),
        number(place.like_sky_px),
        *_ratio(place.like_ratio),
        f"{stars}  {SIDES[place.differs]}".rstrip(),
    )


def _night_row(file: str, night: FrameNight) -> tuple[str, ...]:
    stars, limit = night.stars, night.limit
    apart = "" if limit.ratio is None else f"{limit.ratio.value:+.2f}"
    return (
        file,
        "" if stars.found is None else f"{stars.found:.0f}",
        "" if stars.predicted is None else f"{stars.predicted:.0f}",
        *_ratio(stars.ratio),
        "" if limit.found is None else f"{limit.found:.2f}",
        "" if limit.predicted is None else f"{limit.predicted:.2f}",
        apart,
        span_words(limit.ratio, "+.2f"),
        *_ratio(night.light.ratio),
        *_ratio(night.glow.ratio),
    )


def _night_reasons(proof: SettingProof) -> Iterator[str]:
    told: dict[str, list[str]] = {}
    for _, night in proof.nights:
        for name in ("stars", "limit", "light", "glow"):
            reason = getattr(night, name).reason
            if reason and name not in told.setdefault(reason, []):
                told[reason].append(name)
    for reason, names in told.items():
        yield f"  {', '.join(names)}: can't be told: {reason}"
    shares = [night.tested_share for _, night in proof.nights]
    if min(shares) < 0.995:
        yield (
            f"  stars and limit over {100 * min(shares):.0f} % of the frame: open sky near places "
            "that the bench has measured"
        )


def frame_words(frame: SkyFrame) -> str:
    """Return a frame in one line: setting, what it holds, or why it can't be compared."""
    what = "setting not known" if frame.setting is None else setting_words(frame.setting)
    parts = [f"{frame.file}: {what}"]
    if frame.reason is not None:
        return f"{parts[0]}; not compared: {frame.reason}"
    parts.append(f"{frame.stars} stars")
    if frame.limiting_mag is not None:
        parts.append(f"limit G {frame.limiting_mag:.1f}")
    if frame.sky_mag_arcsec2 is not None:
        parts.append(f"sky {frame.sky_mag_arcsec2:.1f} G mag per square arcsecond")
    if frame.moved:
        parts.append("the camera moved")
    return "; ".join([*parts, *frame.conditions])


def number(value: float | None) -> str:
    """Return a size or ratio with two decimals; nothing for what is not known."""
    return "" if value is None else f"{value:.2f}"


def _ratio(interval: Interval | None) -> tuple[str, str]:
    return ("" if interval is None else f"{interval.value:.2f}", span_words(interval))


def span_words(interval: Interval | None, digits: str = ".2f") -> str:
    """Return an interval's ends in words; nothing where there is none."""
    if interval is None or interval.low is None or interval.high is None:
        return ""
    return f"{interval.low:{digits}} to {interval.high:{digits}}"


def size_words(value: float, interval: Interval | None, digits: str = ".2f") -> str:
    """Return a value with its interval in brackets, where there is one."""
    span = span_words(interval, digits)
    return f"{value:{digits}} ({span})" if span else f"{value:{digits}}"
