"""The same optical spot on two pixel pitches: the pixel's share, and whether intervals hold.

Run: python design/two_pitches.py [spots without noise] [spots on a sensor]. About 2 minutes for 150
and 12 minutes for 200 on an idle core.

Spots of defocus, astigmatism, coma and spherical aberration, 14 to 60 um long, fall on pixels of
3.0 to 4.4 um and of 5.0 to 6.5 um. Without noise: how many squares of the pitch the pixels add to
the square of the length. On a sensor with a Bayer mosaic and noise, five frames at five places of
the pixel on each body, each frame refocused within 4 %: the ratio with the pixels taken out, by the
code that `nightglass bodies` runs. Both bodies show one spot, so its truth is 1.
"""

from __future__ import annotations

import math
import sys

import numpy as np
from numpy.typing import NDArray
from spot_shapes import BLACK, CLASS_OF, CLIPPING, GAIN, PATTERN, rays_length_um, term

from nightglass.bench.across.ratio import MeanLength, measured_ratio, pixel_free_ratio
from nightglass.bench.combined.combine import Repeats, pooled_scatter
from nightglass.frame.record import Frame, Metadata
from nightglass.optics.extent import extent
from nightglass.optics.wavefront import Pupil
from nightglass.scene.sensor import Background, Sensor, Window, expose, in_mosaic
from nightglass.scene.star import LED_COLOUR, FineSpot, Star, fine_spot
from nightglass.spot.measure import measure_frame

Array = NDArray[np.float64]
SMALL_UM, LARGE_UM = (3.0, 4.4), (5.0, 6.5)
LENGTHS_UM = (14.0, 60.0)
REPEATS, POOLED, REFOCUS = 5, 4, 0.04
"""Frames of a place; places of the lens that share its scatter; scatter of focusing."""
SIDE_PX, LEAST_STEPS = 260, 4


def draw(rng: np.random.Generator) -> tuple[str, Pupil]:
    """Return the dominant term of a spot and its pupil."""
    n, azimuth = float(rng.choice([1.4, 2.0, 2.8, 4.0, 5.6])), float(rng.uniform(0, 360))
    cut, radius = (0.0, 0.0), 1.0
    if rng.random() < 0.6:
        away, a = float(rng.uniform(0.2, 0.8)), math.radians(azimuth)
        cut, radius = (away * math.cos(a), away * math.sin(a)), 1.05
    dominant = list(CLASS_OF)[rng.integers(len(CLASS_OF))]
    length_um = math.exp(rng.uniform(*np.log(LENGTHS_UM)))
    zernikes: dict[int, float] = {}
    for name in (*CLASS_OF, "trefoil"):
        share = 1.0 if name == dominant else float(rng.uniform(0, 0.5)) * (rng.random() > 0.35)
        share *= 0.5 if name == "trefoil" else 1.0
        share *= float(rng.choice([-1, 1]))
        one = rays_length_um(Pupil(n, term(name, 1.0, azimuth), cut, radius))
        for j, value in term(name, share * length_um / one, azimuth).items():
            zernikes[j] = zernikes.get(j, 0.0) + value
    zernikes[2] = zernikes[3] = 0.0
    return dominant, Pupil(n, zernikes, cut, radius)


def noiseless_um(fine: FineSpot, pitch_um: float) -> float:
    """Return the length of a spot through pixels alone."""
    keep = max(k for k in range(1, fine.steps // LEAST_STEPS + 1) if fine.steps % k == 0)
    light = fine.light[1].astype(np.float64)[::keep, ::keep]
    light = np.pad(light, math.ceil(0.6 * light.shape[0]))
    return extent(light, keep / fine.steps).length_px * pitch_um


def drawn_on(
    pupil: Pupil,
    pitch_um: float,
    rng: np.random.Generator,
    colours: tuple[int, ...] = (0, 1, 2),
) -> FineSpot:
    """Return a spot at a place of its own between the pixels."""
    x, y = SIDE_PX / 2 + rng.uniform(-1, 1, 2)
    return fine_spot(Star(pupil, x, y), pitch_um, colours)


def measured_px(fine: FineSpot, pitch_um: float, rng: np.random.Generator) -> float | None:
    """Return the length that one frame gives; None at limit."""
    chip = Sensor(SIDE_PX, SIDE_PX, pitch_um, PATTERN, BLACK, CLIPPING, GAIN, 4.0)
    # Another place between the pixels: a fine sample is what a pixel there would collect.
    row, column = rng.integers(fine.steps, size=2)
    colours = {
        c: light[row :: fine.steps, column :: fine.steps] * np.float32(LED_COLOUR[c])
        for c, light in fine.light.items()
    }
    one = in_mosaic(chip, colours, fine.left_px, fine.top_px)
    bright = np.float32(rng.uniform(0.4, 0.7) * chip.full_scale_e / float(one.light_e.max()))
    frame = Frame(
        samples=expose(chip, [Window(one.light_e * bright, one.left_px, one.top_px)],
                       Background(6.0), rng),
        pattern=PATTERN, black=np.full((2, 2), float(BLACK)),
        clipping=np.full((2, 2), float(CLIPPING)), kind="mosaic", metadata=Metadata(), file="",
        content_hash="",
    )  # fmt: skip
    spots = measure_frame(frame, (SIDE_PX / 2, SIDE_PX / 2), gain_e_per_count=GAIN).spots
    return next(s for s in spots if s.colour == "green").length_px


def pixel_squares(number: int) -> tuple[str, float] | None:
    """Return a spot's dominant term, and the squares of the pitch that pixels add."""
    rng = np.random.default_rng([71, number])
    dominant, pupil = draw(rng)
    pitches = float(rng.uniform(*SMALL_UM)), float(rng.uniform(*LARGE_UM))
    small, large = (noiseless_um(drawn_on(pupil, pitch, rng, (1,)), pitch) for pitch in pitches)
    if large < 3 * pitches[1]:
        return None
    return dominant, (large**2 - small**2) / (pitches[1] ** 2 - pitches[0] ** 2)


def on_body(
    pupil: Pupil, pitch: float, rng: np.random.Generator
) -> tuple[MeanLength, float] | None:
    """Return the mean length on one body, and mean measured minus true length [px]."""
    fine, lengths, off = drawn_on(pupil, pitch, rng), [], []
    true_px = noiseless_um(fine, pitch) / pitch
    for _ in range(REPEATS):
        found = measured_px(fine, pitch, rng)
        if found is None:
            return None
        off.append(found - true_px)
        lengths.append(found * math.exp(rng.normal(0, REFOCUS)))
    # The lens's other places share its scatter, as `nightglass bodies` has it.
    others = [np.exp(rng.normal(0, REFOCUS, REPEATS)) for _ in range(POOLED - 1)]
    scatter = pooled_scatter(Repeats(tuple(map(float, v))) for v in (lengths, *others))
    return MeanLength(float(np.mean(lengths)) * pitch, pitch, REPEATS, scatter), float(np.mean(off))


def main(noiseless: int, tries: int) -> None:
    """Print the pixel's share, then bias and coverage."""
    squares = [one for k in range(noiseless) if (one := pixel_squares(k)) is not None]
    if squares:
        values = np.array([value for _, value in squares])
        print(f"{len(values)} spots: pixels add {np.median(values):.3f} squares of the pitch, "
              f"scatter {np.std(values):.3f}")  # fmt: skip
        for name in CLASS_OF:
            own = np.array([value for dominant, value in squares if dominant == name])
            print(f"  {name:12} {len(own):4} spots: {np.median(own):.3f} +- {np.std(own):.3f}")
    raw, free, inside, raw_inside, off = [], [], [], [], []
    for k in range(tries):
        rng = np.random.default_rng([72, k])
        _, pupil = draw(rng)
        pitches = float(rng.uniform(*SMALL_UM)), float(rng.uniform(*LARGE_UM))
        both = [on_body(pupil, pitch, rng) for pitch in pitches]
        if both[0] is None or both[1] is None:
            continue
        one, other = both[0][0], both[1][0]
        off += [both[0][1], both[1][1]]
        before, left = measured_ratio(one, other, 0.0), pixel_free_ratio(one, other, 0.0)
        raw.append(math.log(before.value))
        free.append(math.log(left.value))
        inside.append(left.holds_one)
        raw_inside.append(before.holds_one)
    if not inside:
        return
    count, share = len(inside), np.mean(inside)
    print(f"{count} spots on a sensor: mean length off by {np.mean(off):+.3f} px, "
          f"scatter {np.std(off):.3f} px")  # fmt: skip
    print(f"  as measured: {100 * np.mean(raw):+.2f} %, scatter {100 * np.std(raw):.2f} %, "
          f"1 inside {100 * np.mean(raw_inside):.1f} % of the intervals")  # fmt: skip
    print(f"  pixels out:  {100 * np.mean(free):+.2f} % +- "
          f"{100 * np.std(free) / math.sqrt(count):.2f} %, scatter {100 * np.std(free):.2f} %, "
          f"1 inside {100 * share:.1f} +- {100 * math.sqrt(share * (1 - share) / count):.1f} % "
          "of the intervals")  # fmt: skip


if __name__ == "__main__":
    main(*(int(typed) for typed in [*sys.argv[1:], "150", "200"][:2]))
