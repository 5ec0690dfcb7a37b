"""Two settings looked at side by side: one patch of the sky, three ways of looking."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from nightglass.gear.benchfile import BenchFile
from nightglass.gear.lens import LensSetting
from nightglass.light.counts import COUNTS_END_G
from nightglass.light.defaults import V_MINUS_G
from nightglass.light.photons import star_magnitude
from nightglass.patch.expected import expected_gain_percent
from nightglass.patch.made import Made, SameMinutes, eye_in, made_of_frames, made_within
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
    """What to draw: where in the sky, where in the frame, how large, of what it is made."""

    ra_degrees: float
    dec_degrees: float
    place: FramePlace
    side_degrees: float = SIDE_DEGREES
    frames: tuple[int, int] = (1, 1)
    """Not asked where both get the same minutes."""
    seed: int = 7
    same: SameMinutes | None = None


@dataclass(frozen=True)
class Looked:
    """Both settings' patches: as recorded, and as each viewer sees them."""

    pair: SettingPair
    wish: Wish
    made: tuple[Made, Made]
    expected_gain_percent: float
    """Score of A over B as they were made, for the person's purpose."""
    kept: tuple[bool, bool]
    """Whether the seams of a panorama can keep the place that is drawn; True without seams."""
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

    Raises ValueError as setting_pair, made_within and recorded_patch do.
    """
    pair = setting_pair(bench, one, other)
    candidates = (bench.candidates[one], bench.candidates[other])
    made = _made(candidates, file, wish)
    stars = _stars(candidates, made, wish)
    recorded = _recorded(candidates, made, stars, wish, wish.seed)
    shape = frame_shape_of(file)
    gain = expected_gain_percent(bench, candidates, made, eye_of_purpose(file.purpose, shape))
    eyes = tuple(eye_of(words, shape) for words in PURPOSES)
    views = tuple(_views(recorded, candidates, made, eye) for eye in eyes)
    sides = wish.place.of_sides(file.body)
    kept = (made[0].uses(*sides), made[1].uses(*sides))
    return Looked(
        pair, wish, made, gain, kept, recorded, eyes, views, stars.from_catalogue,
        len(stars.magnitude_g),
    )  # fmt: skip


def blind_pairs(
    bench: JudgedBench, file: BenchFile, found: Looked
) -> tuple[Eye, tuple[BlindPair, ...]]:
    """Return the eye of the person's purpose, and pairs in random order for a blind look."""
    candidates = (
        bench.candidates[found.pair.one.setting],
        bench.candidates[found.pair.other.setting],
    )
    wish, made = found.wish, found.made
    stars = _stars(candidates, made, wish)
    eye = eye_of_purpose(file.purpose, frame_shape_of(file))
    # As often left as right, in random order.
    order = np.random.default_rng(wish.seed).permutation(np.arange(SHEETS) % 2 == 0)
    rows = []
    for k, left_is_one in enumerate(order):
        recorded = _recorded(candidates, made, stars, wish, wish.seed + 1 + k)
        first, second = _views(recorded, candidates, made, eye)
        pair = (first, second) if left_is_one else (second, first)
        rows.append(BlindPair(*pair, bool(left_is_one)))
    return eye, tuple(rows)


Two = tuple[Candidate, Candidate]
"""A and B."""


def _made(candidates: Two, file: BenchFile, wish: Wish) -> tuple[Made, Made]:
    if wish.same is None:
        return made_of_frames(wish.frames[0]), made_of_frames(wish.frames[1])
    one, other = candidates
    return (
        made_within(one, other, file, wish.same, 0),
        made_within(other, one, file, wish.same, 1),
    )


def _stars(candidates: Two, made: tuple[Made, Made], wish: Wish) -> PatchStars:
    faintest = max(_faintest_g(one, m.frames) for one, m in zip(candidates, made, strict=True))
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
    candidates: Two, made: tuple[Made, Made], stars: PatchStars, wish: Wish, seed: int
) -> tuple[RecordedPatch, RecordedPatch]:
    first, second = (
        recorded_patch(one, stars, wish.place, 2 * seed + k, made[k].frames)
        for k, one in enumerate(candidates)
    )
    return first, second


def _views(
    recorded: tuple[RecordedPatch, RecordedPatch],
    candidates: Two,
    made: tuple[Made, Made],
    eye: Eye,
) -> tuple[ViewedPatch, ViewedPatch]:
    one, other = candidates
    return (
        viewed_patch(recorded[0], one.body, eye_in(one, other, made[0], eye)),
        viewed_patch(recorded[1], other.body, eye_in(other, one, made[1], eye)),
    )
