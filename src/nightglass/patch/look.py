"""Two settings looked at side by side: one patch of the sky, three ways of looking."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from nightglass.gear.benchfile import BenchFile
from nightglass.gear.lens import LensSetting
from nightglass.light.counts import COUNTS_END_G
from nightglass.light.defaults import V_MINUS_G
from nightglass.light.photons import star_magnitude
from nightglass.patch.recorded import FramePlace, RecordedPatch, recorded_patch
from nightglass.patch.stars import PatchStars, patch_stars
from nightglass.patch.viewed import ViewedPatch, viewed_patch
from nightglass.verdict.candidate import Candidate
from nightglass.verdict.judge import JudgedBench
from nightglass.verdict.order.pair import SettingPair, setting_pair
from nightglass.verdict.purpose import PURPOSES, eye_of, eye_of_purpose, frame_shape_of
from nightglass.verdict.view.eye import Eye

SIDE_DEGREES = 6.0
MARGIN_DEGREES = 1.0
BELOW_NOISE = 0.5
"""Stars are drawn down to this signal-to-noise: fainter ones are part of the sky's light."""
SHEETS = 6
"""Pairs on the blind sheet: the same lens in all of them by guessing happens once in 32."""


@dataclass(frozen=True)
class Wish:
    """What to draw: where in the sky, where in the frame, how large, how many frames."""

    ra_degrees: float
    dec_degrees: float
    place: FramePlace
    side_degrees: float = SIDE_DEGREES
    frames: tuple[int, int] = (1, 1)
    seed: int = 7


@dataclass(frozen=True)
class Looked:
    """Both settings' patches: as recorded, and as each viewer sees them."""

    pair: SettingPair
    wish: Wish
    recorded: tuple[RecordedPatch, RecordedPatch]
    eyes: tuple[Eye, ...]
    views: tuple[tuple[ViewedPatch, ViewedPatch], ...]
    """(A, B) for each eye."""
    from_catalogue: int
    stars: int


@dataclass(frozen=True)
class BlindPair:
    """One row of the blind sheet: two pictures in random order, other noise in each row."""

    left: ViewedPatch
    right: ViewedPatch
    left_is_one: bool


def look_at(
    bench: JudgedBench, file: BenchFile, one: LensSetting, other: LensSetting, wish: Wish
) -> Looked:
    """Return one patch as two settings record it and as phone, screen and print show it.

    Raises ValueError as setting_pair and recorded_patch do.
    """
    pair = setting_pair(bench, one, other)
    candidates = (bench.candidates[one], bench.candidates[other])
    stars = _stars(candidates, wish)
    recorded = _recorded(candidates, stars, wish, wish.seed)
    shape = frame_shape_of(file)
    eyes = tuple(eye_of(words, shape) for words in PURPOSES)
    views = tuple(_views(recorded, candidates, eye) for eye in eyes)
    return Looked(pair, wish, recorded, eyes, views, stars.from_catalogue, len(stars.magnitude_g))


def blind_pairs(
    bench: JudgedBench, file: BenchFile, one: LensSetting, other: LensSetting, wish: Wish
) -> tuple[Eye, tuple[BlindPair, ...]]:
    """Return the eye of the person's purpose, and pairs in random order for a blind look."""
    candidates = (bench.candidates[one], bench.candidates[other])
    stars = _stars(candidates, wish)
    eye = eye_of_purpose(file.purpose, frame_shape_of(file))
    # As often left as right, in random order.
    order = np.random.default_rng(wish.seed).permutation(np.arange(SHEETS) % 2 == 0)
    rows = []
    for k, left_is_one in enumerate(order):
        recorded = _recorded(candidates, stars, wish, wish.seed + 1 + k)
        first, second = _views(recorded, candidates, eye)
        pair = (first, second) if left_is_one else (second, first)
        rows.append(BlindPair(*pair, bool(left_is_one)))
    return eye, tuple(rows)


def _stars(candidates: Sequence[Candidate], wish: Wish) -> PatchStars:
    faintest = max(_faintest_g(one, n) for one, n in zip(candidates, wish.frames, strict=True))
    return patch_stars(
        wish.ra_degrees, wish.dec_degrees, wish.side_degrees, faintest, MARGIN_DEGREES, wish.seed
    )


def _faintest_g(one: Candidate, frames: int) -> float:
    """Magnitude at which a point of one pixel stands half its noise above the sky."""
    light = one.light
    noise = math.sqrt(float(light.sky_e.max()) + light.read_noise.electrons**2)
    electrons = BELOW_NOISE * noise / math.sqrt(frames)
    magnitude = star_magnitude(electrons / light.exposure_s, light.path, 1.0, light.extinction_mag)
    return min(float(magnitude) - V_MINUS_G.value, COUNTS_END_G)


def _recorded(
    candidates: Sequence[Candidate], stars: PatchStars, wish: Wish, seed: int
) -> tuple[RecordedPatch, RecordedPatch]:
    first, second = (
        recorded_patch(one, stars, wish.place, 2 * seed + k, wish.frames[k])
        for k, one in enumerate(candidates)
    )
    return first, second


def _views(
    recorded: tuple[RecordedPatch, RecordedPatch], candidates: Sequence[Candidate], eye: Eye
) -> tuple[ViewedPatch, ViewedPatch]:
    first, second = (
        viewed_patch(patch, one.body, eye) for patch, one in zip(recorded, candidates, strict=True)
    )
    return first, second
