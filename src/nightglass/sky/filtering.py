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
from dataclasses import dataclass, fields
from typing import Literal

import numpy as np
from numpy.typing import NDArray

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
    value_sigma: Array
    neighbour_sigma: Array
    """Bright samples and their brightest neighbour [deviations above the dark level], for the
    picture: the diagonal is where a filtering body puts them."""

    def as_data(self) -> dict[str, object]:
        """Return the verdict as plain values, without the samples."""
        return {
            f.name: getattr(self, f.name) for f in fields(self) if not f.name.endswith("_sigma")
        }


def filtering(darks: Sequence[Frame]) -> tuple[Filtering, ...]:
    """Return a verdict per exposure mode and time of dark frames, in order of time.

    Raises ValueError without frames and for a frame that holds light: its level rises above the
    noise by more than a dark frame's does, or its files hold no mosaic.
    """
    if not darks:
        raise ValueError("no dark frames; take some with the cap on, in each mode and time you use")
    groups: dict[tuple[str, float | None], list[Frame]] = {}
    for dark in darks:
        if dark.kind != "mosaic":
            raise ValueError(
                f"{dark.file}: only a raw mosaic tells of filtering; this is a {dark.kind}"
            )
        known = dark.metadata
        key = (known.exposure_mode or "mode not recorded", known.exposure_true_s)
        groups.setdefault(key, []).append(dark)
    order = sorted(groups, key=lambda key: (key[1] or 0.0, key[0]))
    return tuple(_judge(mode, seconds, groups[mode, seconds]) for mode, seconds in order)


def _judge(mode: str, seconds: float | None, darks: Sequence[Frame]) -> Filtering:
    parts = [_bright_samples(dark) for dark in darks]
    value = np.concatenate([p[0] for p in parts])
    neighbour = np.concatenate([p[1] for p in parts])
    equal = np.concatenate([p[2] for p in parts])
    n = value.size
    shown = np.argsort(-value, kind="stable")[:MOST_KEPT]
    if n < LEAST_BRIGHT:
        return Filtering(
            mode, seconds, len(darks), "can't tell", n, None, None, None,
            f"only {n} bright samples; it takes {LEAST_BRIGHT}: more darks, longer, or warmer",
            value[shown], neighbour[shown],
        )  # fmt: skip
    alone = int(np.count_nonzero(value - neighbour > ALONE_SIGMA))
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
        value[shown], neighbour[shown],
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


def _bright_samples(dark: Frame) -> tuple[Array, Array, NDArray[np.bool_]]:
    """Bright samples, their brightest neighbour [deviations], equality with one of their colour."""
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
    return (
        (own / noise).astype(np.float64),
        (highest / noise).astype(np.float64),
        (own == same) | (own == around),
    )
