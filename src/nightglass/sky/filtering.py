"""Does the body erase small stars in its raw files? Told from dark frames.

In a dark frame a hot pixel stands alone. A body that filters its raw data takes such a pixel for
a fault and cuts it to the brightest of its neighbours; a small sharp star suffers the same. So:
of each bright sample, compare it with the brightest of its 24 neighbours and of its neighbours of
the same colour. Unfiltered, bright samples stand far above; filtered, they lie at exactly the
neighbour's value or in pairs.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, fields, replace
from typing import Literal

import numpy as np
from numpy.typing import NDArray
from scipy.stats import chi2

from nightglass.frame.record import Frame
from nightglass.sky.skylevel import sky_level

Array = NDArray[np.float64]
Verdict = Literal["filtered", "not filtered", "can't tell"]

BRIGHT_SIGMA = 8.0
"""Deviations above the dark level from which a sample counts as bright."""
ALONE_SIGMA = 5.0
LEAST_BRIGHT = 40
ALONE_UNFILTERED, ALONE_FILTERED = 0.6, 0.2
"""Share of bright samples that stand alone: hot pixels of a sensor hardly ever touch."""
EQUAL_FILTERED = 0.2
"""Share of bright samples that equal a neighbour exactly; by chance under 2 %."""
MOST_KEPT = 3000
MISSING_SHARE = 0.3
"""Lone samples per frame over those of a shorter exposure of the same sensor, under which they
have been taken away: dark current only grows with time."""
CROPS, CROP_HALF_PX = 6, 5
SMALL_STARS_PX = 2.0
LONG_ENOUGH_S = 4.0
USUAL_HOT_PER_MPX = 1.0
"""Single bright pixels that any sensor shows in seconds, per million samples: common practice, no
published source."""


@dataclass(frozen=True)
class Filtering:
    """The verdict on the dark frames of one exposure mode and time."""

    mode: str
    exposure_s: float | None
    frames: int
    verdict: Verdict
    bright: int
    alone_share: float | None
    alone_interval: tuple[float, float] | None
    """95 % (Wilson)."""
    equal_share: float | None
    words: str
    alone: int
    """Bright samples that stand alone."""
    value_sigma: Array
    neighbour_sigma: Array
    """Bright samples and their brightest neighbour [deviations above the dark level], for the
    picture: the diagonal is where a filtering body puts them."""
    crops_sigma: tuple[NDArray[np.float32], ...] = ()
    """Bright samples with their surroundings as recorded, brightest first, over the whole range
    of brightness."""

    @property
    def time_words(self) -> str:
        """Return mode and time."""
        time = "time not recorded" if self.exposure_s is None else f"{self.exposure_s:.4g} s"
        return f"{self.mode}, {time}"

    def as_data(self) -> dict[str, object]:
        """Return the verdict as plain values, without the samples."""
        return {
            f.name: getattr(self, f.name) for f in fields(self) if not f.name.endswith("_sigma")
        }


@dataclass(frozen=True)
class DarkSamples:
    """The bright samples of one dark frame [deviations above its dark level]."""

    mode: str
    exposure_s: float | None
    sensor: tuple[str | None, int | None]
    """Body and ISO."""
    value: Array
    neighbour: Array
    equal: NDArray[np.bool_]
    """Whether a sample equals one of its neighbours."""
    crops: tuple[NDArray[np.float32], ...]


def filtering(darks: Sequence[Frame]) -> tuple[Filtering, ...]:
    """Return a verdict per exposure mode and time of dark frames, in order of time.

    Raises ValueError without frames and as dark_samples does.
    """
    return judge([dark_samples(dark) for dark in darks])


def judge(darks: Sequence[DarkSamples]) -> tuple[Filtering, ...]:
    """Return a verdict per exposure mode and time, in order of time.

    Raises ValueError without frames.
    """
    if not darks:
        raise ValueError("no dark frames; take some with the cap on, in each mode and time you use")
    groups: dict[tuple[str, float | None], list[DarkSamples]] = {}
    for dark in darks:
        groups.setdefault((dark.mode, dark.exposure_s), []).append(dark)
    order = sorted(groups, key=lambda key: (key[1] or 0.0, key[0]))
    judged = [_judge(mode, seconds, groups[mode, seconds]) for mode, seconds in order]
    sensors = {dark.sensor for dark in darks}
    return tuple(_missing(judged) if len(sensors) == 1 else judged)


def setting_words(verdicts: Sequence[Filtering]) -> str:
    """Return what the verdicts mean for the settings of the night, in one sentence or two."""
    safe = [v.time_words for v in verdicts if v.verdict == "not filtered"]
    filtered = [v.time_words for v in verdicts if v.verdict == "filtered"]
    unsure = [v.time_words for v in verdicts if v.verdict == "can't tell"]
    parts = []
    if filtered:
        parts.append(f"Small stars are erased at {'; '.join(filtered)}")
        parts.append(
            f"Use {'; '.join(safe)}" if safe else "Test shorter times and other modes: none of "
            "these is safe"
        )  # fmt: skip
        parts.append("A bench frame in one mode does not stand for the sky in another")
    elif safe:
        parts.append(f"No filtering at {'; '.join(safe)}: these settings keep small stars")
    if unsure:
        parts.append(f"Can't tell at {'; '.join(unsure)}: take more darks there")
    return ". ".join(parts) + "."


def sky_hint(hot_pixels: int, samples: int, exposure_s: float | None, star_px: float) -> str | None:
    """Return a hint on filtering from a frame of the sky alone, None where it gives none.

    star_px: median length of its stars, trail in it: above 2 px a filter leaves stars alone, so
    nothing is said. Only dark frames give a verdict.
    """
    if exposure_s is None or exposure_s < LONG_ENOUGH_S or not star_px <= SMALL_STARS_PX:
        return None
    if hot_pixels > USUAL_HOT_PER_MPX * samples / 1e6:
        return None
    return (
        f"only {hot_pixels} single hot pixels in {samples / 1e6:.0f} million: a dark frame was "
        "taken off, or the body filters its raw data and small stars with it; dark frames tell "
        "(--dark)"
    )


def _missing(judged: Sequence[Filtering]) -> list[Filtering]:
    """Judge again what lacks the lone samples that a shorter exposure of the same sensor shows."""
    found = []
    for one in judged:
        shorter = [
            other
            for other in judged
            if other.verdict == "not filtered"
            and other.exposure_s is not None
            and one.exposure_s is not None
            and other.exposure_s <= one.exposure_s
        ]
        expected = max((o.alone / o.frames for o in shorter), default=0.0) * one.frames
        # Two-sided 95 % upper end of a Poisson count.
        most = 0.5 * float(chi2.ppf(0.975, 2 * one.alone + 2))
        if one.verdict == "can't tell" and most < MISSING_SHARE * expected:
            words = (
                f"{one.alone} bright samples stand alone where a shorter exposure of this sensor "
                f"lets one expect {expected:.0f} or more (if all were equally warm): they are "
                "taken away, and small stars of 2 px and less with them; prefer a mode or a "
                "shorter time that is not filtered"
            )
            one = replace(one, verdict="filtered", words=words)
        found.append(one)
    return found


def _judge(mode: str, seconds: float | None, darks: Sequence[DarkSamples]) -> Filtering:
    value = np.concatenate([dark.value for dark in darks])
    neighbour = np.concatenate([dark.neighbour for dark in darks])
    equal = np.concatenate([dark.equal for dark in darks])
    n = value.size
    shown = np.argsort(-value, kind="stable")[:MOST_KEPT]
    alone = int(np.count_nonzero(value - neighbour > ALONE_SIGMA))
    crops = max((dark.crops for dark in darks), key=len)
    if n < LEAST_BRIGHT:
        return Filtering(
            mode, seconds, len(darks), "can't tell", n, None, None, None,
            f"only {n} bright samples; it takes {LEAST_BRIGHT}: more darks, longer, or warmer",
            alone, value[shown], neighbour[shown], crops,
        )  # fmt: skip
    low, high = wilson(alone, n)
    equals = float(np.mean(equal))
    if high < ALONE_FILTERED or (equals > EQUAL_FILTERED and high < ALONE_UNFILTERED):
        verdict: Verdict = "filtered"
        words = (
            "single bright samples are cut to their neighbours: stars of 2 px and less lose light "
            "or vanish in this mode; prefer a mode or a shorter time that is not filtered, and "
            "compare lenses only within one mode"
        )
    elif low > ALONE_UNFILTERED and equals < EQUAL_FILTERED:
        verdict, words = "not filtered", "bright single samples are kept: small stars are safe here"
    else:
        verdict = "can't tell"
        words = "some bright samples stand alone and some do not: take dark frames in a warm room"
    return Filtering(
        mode, seconds, len(darks), verdict, n, alone / n, (low, high), equals, words,
        alone, value[shown], neighbour[shown], crops,
    )  # fmt: skip


def wilson(hits: int, trials: int) -> tuple[float, float]:
    """Return the 95 % interval of a share; Wilson 1927, J. Am. Stat. Assoc. 22, 209."""
    if trials < 1:
        raise ValueError(f"trials is {trials}; a share takes at least one")
    z = 1.959964
    share = hits / trials
    middle = (share + z * z / (2 * trials)) / (1 + z * z / trials)
    half = z * math.sqrt(share * (1 - share) / trials + z * z / (4 * trials**2))
    half /= 1 + z * z / trials
    return max(0.0, middle - half), min(1.0, middle + half)


def dark_samples(dark: Frame) -> DarkSamples:
    """Return the bright samples of a dark frame with their brightest neighbours.

    Raises ValueError for a frame that holds light (its level rises above the noise by more than a
    dark frame's does) and for a file without a mosaic.
    """
    if dark.kind != "mosaic":
        raise ValueError(
            f"{dark.file}: only a raw mosaic tells of filtering; this is a {dark.kind}"
        )
    sky = sky_level(dark)
    level, noise = float(np.nanmedian(sky.level)), float(np.nanmedian(sky.noise))
    black = float(np.mean(dark.black))
    if level > 20 * noise + 0.05 * float(np.min(dark.clipping)):
        raise ValueError(
            f"{dark.file}: level {level:.0f} counts above black; this is no dark frame: cap on, "
            "eyepiece covered"
        )
    samples = dark.samples.astype(np.float32) - np.float32(level + black)
    rows, columns = np.nonzero(samples[4:-4, 4:-4] > BRIGHT_SIGMA * noise)
    rows, columns = rows + 4, columns + 4
    own = samples[rows, columns]
    around = np.full(own.size, -np.inf, dtype=np.float32)
    same = np.full(own.size, -np.inf, dtype=np.float32)
    p, q = dark.pattern.shape
    colour = dark.pattern[rows % p, columns % q]
    for dy in range(-4, 5):
        for dx in range(-4, 5):
            if dy == 0 and dx == 0:
                continue
            there = samples[rows + dy, columns + dx]
            if max(abs(dy), abs(dx)) <= 2:
                around = np.maximum(around, there)
            alike = dark.pattern[(rows + dy) % p, (columns + dx) % q] == colour
            same = np.where(alike & (max(abs(dy), abs(dx)) <= 2), np.maximum(same, there), same)
    highest = np.maximum(around, same)
    known = dark.metadata
    return DarkSamples(
        mode=known.exposure_mode or "mode not recorded",
        exposure_s=known.exposure_true_s,
        sensor=(known.body, known.iso),
        value=(own / noise).astype(np.float64),
        neighbour=(highest / noise).astype(np.float64),
        equal=(own == same) | (own == around),
        crops=_crops(samples / np.float32(noise), rows, columns),
    )


def _crops(
    samples: NDArray[np.float32], rows: NDArray[np.intp], columns: NDArray[np.intp]
) -> tuple[NDArray[np.float32], ...]:
    """A few bright samples with their surroundings, from the brightest to the median one."""
    half = CROP_HALF_PX
    inside = (rows >= half) & (rows < samples.shape[0] - half)
    inside &= (columns >= half) & (columns < samples.shape[1] - half)
    rows, columns = rows[inside], columns[inside]
    order = np.argsort(-samples[rows, columns], kind="stable")
    picked = np.unique(np.linspace(0, order.size // 2, CROPS).astype(int))
    return tuple(
        samples[r - half : r + half + 1, c - half : c + half + 1].copy()
        for r, c in ((rows[k], columns[k]) for k in order[picked[picked < order.size]])
    )
