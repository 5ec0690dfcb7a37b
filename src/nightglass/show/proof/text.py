"""Bench against sky in words and as a table."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from nightglass.proof.codes import Method
from nightglass.proof.reasons import PredictionReason
from nightglass.proof.records import (
    FrameNight,
    PlaceProof,
    Proof,
    SettingProof,
    SkyFrame,
)
from nightglass.show.columns import Heading, Part, Table, lines_of
from nightglass.show.proof.causes import cause_words
from nightglass.show.proof.reasons import (
    frame_reason_words,
    place_reason_words,
    prediction_reason_words,
)
from nightglass.show.proof.verdict import order_lines, setting_words, verdict_words
from nightglass.show.words import NOT_TESTED, percent
from nightglass.verdict.records import Interval

HEAD = ("place", "", "bench", "sky", "sky over bench", "95 %", "stars", "")
NIGHT_HEAD = (
    "frame", "stars", "predicted", "ratio", "95 %", "limit G", "predicted", "apart", "95 %",
    "light", "95 %", "glow", "95 %",
)  # fmt: skip
SIDES = {1: "larger on the sky", -1: "smaller on the sky", 0: ""}

METHODS = {Method.LENS_ALONE: "lens alone", Method.AS_MEASURED: "as measured"}
NOT_CONFIRMED = "not as measured"
HOW = (
    "lens alone: the sky's spot with the stars' motion taken out, at the bench's place, against "
    "the bench's mean spot. As measured: the bench's spot drawn in the place of the frame's own "
    "stars (light, places, trails, neighbours, noise), and both measured by the same code; it "
    "decides where both are known, because these stars stand at the place itself. A size as "
    "measured can be smaller than that of the lens alone, although the trail is in it: single "
    "stars lose their faint tails in noise and among neighbours, on sky and bench alike. Ratios "
    "are sky over bench, 95 %. Stars and limit: the bench's spot with the night's zero point and "
    "noise; light and glow: lens and body as in bench.toml. Left out: focus that was set only once "
    "on the night"
)
NO_DIFFERENCE = "no difference beyond the errors"
ONE_FRAME = (
    "one frame: how well it was focused is in its sizes, not in these intervals; two or more tell"
)
"""With focus that scatters by 4 %, three of four such intervals hold the truth, not 95 of 100
(design/proof_intervals.py)."""


def proof_lines(proof: Proof, width: int | None = None) -> Iterator[str]:
    """Yield the proof as lines; width: of the terminal, None for a file."""
    yield from lines_of(proof_parts(proof), width)


def proof_parts(proof: Proof) -> Iterator[Part]:
    """Yield everything that a person reads, frames last; the verdict comes first."""
    yield f"Verdict: {verdict_words(proof.verdict)}."
    yield from order_lines(proof)
    for setting in proof.settings:
        yield ""
        yield from _setting_parts(setting, proof.picture_height_px)
    if proof.not_on_sky:
        yield ""
        yield f"No frame of the sky: {'; '.join(setting_words(s) for s in proof.not_on_sky)}"
    yield ""
    yield "Frames of the sky:"
    for frame in proof.frames:
        yield f"  {frame_words(frame)}"
    yield ""
    yield f"How: {HOW}."


def _setting_parts(proof: SettingProof, height_px: float) -> Iterator[Part]:
    yield Heading(setting_words(proof.setting))
    rows = [row for place in proof.places for row in _place_rows(place, height_px)]
    if rows:
        yield "  Sizes of stars, % of picture height (px):"
        yield Table(HEAD, tuple(rows))
    yield from (f"  {note}" for note in place_notes(proof))
    if proof.nights:
        yield "  Light, limit and stars, as bench and night predict them, and as found:"
        yield Table(NIGHT_HEAD, tuple(_night_row(*pair) for pair in proof.nights))
        yield from _night_reasons(proof)
    if rows or proof.nights:
        yield from (f"  fits: {cause_words(cause)}" for cause in proof.causes)
        if not proof.causes:
            yield f"  {NO_DIFFERENCE}"


def place_notes(proof: SettingProof) -> Iterator[str]:
    """Yield what a reader must know of the places: not tested, by another zone, one frame."""
    if max((place.frames for place in proof.places), default=0) == 1:
        yield ONE_FRAME
    for place in proof.places:
        if not place.compared:
            why = "" if place.reason is None else f", {place_reason_words(place.reason)}"
            yield f"{place.place}: {NOT_TESTED}{why}"
        elif (words := stand_in_words(place)) is not None:
            yield f"* {place.place}: {words}"


def _place_rows(place: PlaceProof, height_px: float) -> Iterator[tuple[str, ...]]:
    for k, way in enumerate(place_comparisons(place)):
        yield (
            "" if k else marked(place),
            way.name,
            height_words(way.bench_px, height_px),
            height_words(way.sky_px, height_px),
            *_ratio(way.ratio),
            str(way.stars),
            way.words,
        )


@dataclass(frozen=True)
class Comparison:
    """One of the two comparisons of a place, as tables show it."""

    method: Method
    bench_px: float | None
    sky_px: float | None
    ratio: Interval | None
    stars: int
    decides: bool
    words: str
    """What it says: larger, smaller, or nothing beyond the errors."""

    @property
    def name(self) -> str:
        """Its name in tables."""
        return METHODS[self.method]


def place_comparisons(place: PlaceProof) -> Iterator[Comparison]:
    """Yield the comparisons that a place has, the one that decides last."""
    alike = place.as_measured_ratio is not None
    if place.ratio is not None:
        words = SIDES[place.lens_alone_differs]
        if alike and words and place.lens_alone_differs != place.differs:
            words = f"{words}, but {NOT_CONFIRMED}"
        yield Comparison(
            Method.LENS_ALONE,
            place.bench_px,
            place.sky_px,
            place.ratio,
            place.stars,
            not alike,
            words,
        )
    if alike:
        yield Comparison(
            Method.AS_MEASURED,
            place.as_measured_bench_px,
            place.as_measured_sky_px,
            place.as_measured_ratio,
            place.as_measured_stars,
            True,
            SIDES[place.differs],
        )


def stand_in_words(place: PlaceProof) -> str | None:
    """Return which zone of the sky speaks for the lens alone at a place, if it is not simply the
    one that holds the place."""
    if place.ratio is None:
        return None
    parts = []
    if place.zone_kind == "elsewhere":
        parts.append("a zone in another part of the frame, as far from the centre")
    elif place.zone_kind == "beside":
        parts.append(
            f"the zone beside it, its middle {place.zone_away_percent or 0.0:.0f} % of height "
            "away, carried here by the change between zones"
        )
    if place.zone_joined:
        parts.append("two zones joined, because each alone has too few stars")
    return f"{METHODS[Method.LENS_ALONE]} by {'; '.join(parts)}" if parts else None


def marked(place: PlaceProof) -> str:
    """Return a place's name, with a star where a note tells whose zone stands in."""
    return f"{place.place} *" if stand_in_words(place) else place.place


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
    kinds: dict[PredictionReason, list[str]] = {}
    for _, night in proof.nights:
        for name in ("stars", "limit", "light", "glow"):
            reason = getattr(night, name).reason
            if reason and name not in kinds.setdefault(reason, []):
                kinds[reason].append(name)
    for reason, names in kinds.items():
        yield f"  {', '.join(names)}: can't be told: {prediction_reason_words(reason)}"
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
        return f"{parts[0]}; not compared: {frame_reason_words(frame.reason)}"
    parts.append(f"{frame.stars} stars")
    if frame.limiting_mag is not None:
        parts.append(f"limit G {frame.limiting_mag:.1f}")
    if frame.sky_mag_arcsec2 is not None:
        parts.append(f"sky {frame.sky_mag_arcsec2:.1f} G mag per square arcsecond")
    if frame.moved:
        parts.append("the camera moved")
    return "; ".join([*parts, *frame.conditions])


def height_words(size_px: float | None, height_px: float) -> str:
    """Return a size in % of the picture height, and in px; nothing for what is not known."""
    return "" if size_px is None else f"{percent(100 * size_px / height_px)} ({size_px:.2f} px)"


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
