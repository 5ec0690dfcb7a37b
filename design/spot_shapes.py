"""Which class does a spot belong to, and how often is a wrong one named?

Run: python design/spot_shapes.py [spots to learn from] [spots to try]. About 8 minutes for 2,200
and 750 on an idle core. Prints the table of bench/faults/shape_table.py, what each pair of limits
would name (cross-validated on the spots learned from), then what the table on record names.

Each spot has one dominant term: defocus or spherical aberration (round), astigmatism at a focal
line (line), coma (one-sided). Alone it makes 6 to 20 px by counting rays; each other term up to
half of that, trefoil up to a quarter; six in ten pupils are cut as a vignetted lens cuts them;
three wavelengths of the green band. Learned from noiseless spots through square pixels; tried on
other ones that went through a sensor with a Bayer mosaic and noise and were measured.
"""

from __future__ import annotations

import math
import sys
from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import minimize
from scipy.special import softmax
from scipy.stats import binomtest

from nightglass.bench.combined.stamp import mean_stamp
from nightglass.bench.faults.shape import (
    LEAST_LENGTH_PX,
    LEAST_WIDTH_PX,
    RING_SHARE,
    Form,
    Shape,
    form_of,
    named_shape,
)
from nightglass.frame.record import Frame, Metadata
from nightglass.optics.extent import extent
from nightglass.optics.wavefront import Pupil, opening, seidel, wavefront_um
from nightglass.scene.sensor import Background, Sensor, Window, expose, in_mosaic
from nightglass.scene.star import LED_COLOUR, Star, fine_spot
from nightglass.spot.measure import measure_frame
from nightglass.spot.record import SpotImage

Array = NDArray[np.float64]
CLASS_OF = {
    "defocus": Shape.ROUND,
    "spherical": Shape.ROUND,
    "astigmatism": Shape.LINE,
    "coma": Shape.ONE_SIDED,
}
CLASSES = (Shape.ROUND, Shape.LINE, Shape.ONE_SIDED)
SIDE_PX, BLACK, CLIPPING, GAIN = 400, 512, 16383, 2.0
PATTERN = np.array([[0, 1], [1, 2]], dtype=np.uint8)
AXIS = np.linspace(-1, 1, 61)
RIDGE = 5e-4
"""By cross-validation: 1e-3 names 1.5 % less, 3e-4 names 0.8 % more and a tenth more wrongly."""
LEARN, TRY = 11, 14
"""Seeds: no spot that is tried was learned from or chose a limit."""


@dataclass(frozen=True)
class Drawn:
    """A spot with known terms."""

    dominant: str
    pupil: Pupil
    pitch_um: float


def term(name: str, w_um: float, azimuth_degrees: float) -> dict[int, float]:
    """Return the Noll coefficients of one term."""
    if name == "defocus":
        return seidel(w020_um=w_um)
    if name == "spherical":
        return {11: seidel(w040_um=w_um)[11]}
    if name == "astigmatism":
        return seidel(w222_um=w_um, azimuth_degrees=azimuth_degrees)
    if name == "coma":
        found = seidel(w131_um=w_um, azimuth_degrees=azimuth_degrees)
        return {j: found[j] for j in (7, 8)}
    a = math.radians(azimuth_degrees)
    return {9: w_um * math.sin(3 * a), 10: w_um * math.cos(3 * a)}


def rays_length_um(pupil: Pupil) -> float:
    """Return the length between 5 and 95 % of the rays."""
    x, y = np.meshgrid(AXIS, AXIS)
    gy, gx = np.gradient(wavefront_um(pupil.zernikes_um, x, y), AXIS, AXIS)
    lit = opening(pupil, x, y, AXIS[1] - AXIS[0]) > 0.5
    u, v = (2 * pupil.f_number * g[lit] for g in (gx, gy))
    u, v = u - u.mean(), v - v.mean()
    turn = 0.5 * math.atan2(2 * np.mean(u * v), np.mean(u * u) - np.mean(v * v))
    spans = [
        np.ptp(np.quantile(u * math.cos(t) + v * math.sin(t), (0.05, 0.95)))
        for t in (turn, turn + math.pi / 2)
    ]
    return float(max(spans))


def draw(rng: np.random.Generator) -> Drawn:
    """Return a spot of one dominant term."""
    n, pitch = float(rng.choice([1.4, 2.0, 2.8, 4.0])), float(rng.uniform(3.3, 6.1))
    azimuth = float(rng.uniform(0, 360))
    a = math.radians(azimuth)
    cut, radius = (0.0, 0.0), 1.0
    if rng.random() < 0.6:
        away = float(rng.uniform(0.2, 0.8))
        cut, radius = (away * math.cos(a), away * math.sin(a)), 1.05
    dominant = list(CLASS_OF)[rng.integers(len(CLASS_OF))]
    length_um = pitch * math.exp(rng.uniform(math.log(6), math.log(20)))
    zernikes: dict[int, float] = {}
    for name in (*CLASS_OF, "trefoil"):
        share = 1.0 if name == dominant else float(rng.uniform(0, 0.5))
        share *= 0.5 if name == "trefoil" else 1.0
        if name != dominant and rng.random() < 0.35:
            share = 0.0
        one = rays_length_um(Pupil(n, term(name, 1.0, azimuth), cut, radius))
        w = float(rng.choice([-1, 1])) * share * length_um / one
        for j, value in term(name, w, azimuth).items():
            zernikes[j] = zernikes.get(j, 0.0) + value
    zernikes[2] = zernikes[3] = 0.0
    return Drawn(dominant, Pupil(n, zernikes, cut, radius), pitch)


def noiseless(drawn: Drawn, rng: np.random.Generator) -> Form | None:
    """Return the form of a spot through pixels alone; None under the sizes that are named."""
    x, y = SIDE_PX / 2 + rng.uniform(-1, 1, 2)
    fine = fine_spot(Star(drawn.pupil, x, y), drawn.pitch_um, (1,))
    light = np.pad(fine.on_pixels(1), 40)
    found = extent(light)
    if found.length_px < LEAST_LENGTH_PX or found.width_px < LEAST_WIDTH_PX:
        return None
    where = [(found.x_px, found.y_px)]
    stamp = mean_stamp([SpotImage(light, 0, 0)], where, [found.aperture_px])
    return None if stamp is None else form_of(stamp.astype(np.float64), found.length_px)


def measured(drawn: Drawn, rng: np.random.Generator) -> Form | None:
    """Return the form of a spot measured on a frame; None under the sizes that are named."""
    x, y = SIDE_PX / 2 + rng.uniform(-1, 1, 2)
    fine = fine_spot(Star(drawn.pupil, x, y), drawn.pitch_um)
    chip = Sensor(SIDE_PX, SIDE_PX, drawn.pitch_um, PATTERN, BLACK, CLIPPING, GAIN, 4.0)
    colours = {c: fine.on_pixels(c) * np.float32(LED_COLOUR[c]) for c in fine.light}
    one = in_mosaic(chip, colours, fine.left_px, fine.top_px)
    bright = np.float32(rng.uniform(0.3, 0.7) * chip.full_scale_e / float(one.light_e.max()))
    window = Window(one.light_e * bright, one.left_px, one.top_px)
    frame = Frame(
        samples=expose(chip, [window], Background(6.0), rng), pattern=PATTERN,
        black=np.full((2, 2), float(BLACK)), clipping=np.full((2, 2), float(CLIPPING)),
        kind="mosaic", metadata=Metadata(), file="", content_hash="",
    )  # fmt: skip
    found = measure_frame(frame, (x, y), gain_e_per_count=GAIN)
    spot = next(s for s in found.spots if s.colour == "green")
    length, width = spot.length_px or 0.0, spot.width_px or 0.0
    if length < LEAST_LENGTH_PX or width < LEAST_WIDTH_PX or spot.x_px is None:
        return None
    where = [(spot.x_px, spot.y_px or 0.0)]
    stamp = mean_stamp([found.images["green"]], where, [spot.aperture_px or 0.0])
    return None if stamp is None else form_of(stamp.astype(np.float64), length)


def products(f: Array) -> Array:
    """Return the columns of the regression: 1, each feature, each product of two."""
    k = f.shape[1]
    pairs = [f[:, i] * f[:, j] for i in range(k) for j in range(i, k)]
    return np.column_stack([np.ones(len(f)), f, *pairs])


def learned(forms: Array, classes: NDArray[np.int64]) -> tuple[Array, Array, Array]:
    """Return means, scales and weights of the quadratic softmax regression with a ridge."""
    means, scales = forms.mean(axis=0), forms.std(axis=0)
    p = products((forms - means) / scales)
    y = np.eye(len(CLASSES))[classes]

    def loss(flat: Array) -> tuple[float, Array]:
        w = flat.reshape(p.shape[1], len(CLASSES))
        z = p @ w
        z -= z.max(axis=1, keepdims=True)
        s = np.exp(z) / np.exp(z).sum(axis=1, keepdims=True)
        value = -np.log(np.maximum((s * y).sum(axis=1), 1e-300)).mean()
        grad = p.T @ (s - y) / len(p)
        grad[1:] += RIDGE * w[1:]
        return float(value + RIDGE * (w[1:] ** 2).sum() / 2), grad.ravel()

    start = np.zeros(p.shape[1] * len(CLASSES))
    found = minimize(loss, start, jac=True, method="L-BFGS-B", options={"maxiter": 2000})
    return means, scales, found.x.reshape(p.shape[1], len(CLASSES))


def table_lines(means: Array, scales: Array, weights: Array) -> Iterator[str]:
    """Yield the module that holds the table."""
    yield '"""Weights that tell the classes of spots apart: printed by design/spot_shapes.py."""\n'
    yield f"CLASSES = {tuple(c.value for c in CLASSES)!r}".replace("'", '"')
    yield f"MEANS = ({', '.join(f'{v:.4f}' for v in means)})"
    yield f"SCALES = ({', '.join(f'{v:.4f}' for v in scales)})"
    yield '"""Of the features of bench/faults/shape.py, over the spots learned from."""'
    yield "WEIGHTS = ("
    yield from (f"    ({', '.join(f'{v:.3f}' for v in row)})," for row in weights)
    yield ")"
    yield '"""One row for the constant, each feature, each product of two; one column a class."""'


def learned_from(spots: int) -> tuple[Array, NDArray[np.int64]]:
    """Return forms (spots, features) and class numbers of the spots to learn from."""
    forms, classes = [], []
    for k in range(spots):
        rng = np.random.default_rng([LEARN, k])
        drawn = draw(rng)
        form = noiseless(drawn, rng)
        if form is not None:
            forms.append(form.features)
            classes.append(CLASSES.index(CLASS_OF[drawn.dominant]))
    return np.array(forms), np.array(classes)


def print_choice(forms: Array, classes: NDArray[np.int64]) -> None:
    """Print what each pair of limits names; weights from the four other fifths of the spots."""
    shares = np.zeros((len(forms), len(CLASSES)))
    fifth = np.arange(len(forms)) % 5
    for part in range(5):
        means, scales, weights = learned(forms[fifth != part], classes[fifth != part])
        scores = products((forms[fifth == part] - means) / scales) @ weights
        shares[fifth == part] = softmax(scores, axis=1)
    best, lean = shares.argmax(axis=1), forms[:, 1]
    for sure in (0.8, 0.85, 0.9):
        for most in (0.44, 0.46, 0.48, 0.5, 0.52, 0.54, 2.0):
            told = (shares.max(axis=1) >= sure) & ((best != 0) | (lean <= most))
            right = [share(int((told & (best == classes) & (classes == c)).sum()),
                           int((told & (classes == c)).sum())) for c in range(3)]  # fmt: skip
            print(f"sure {sure}, lean {most}: named {100 * told.mean():.1f} %, right {right}")


def share(part: int, whole: int) -> str:
    """Return a share in per cent with its 95 % interval (Wilson 1927)."""
    if not whole:
        return "none"
    low, high = binomtest(part, whole).proportion_ci(method="wilson")
    return f"{100 * part / whole:.1f} % ({100 * low:.1f} to {100 * high:.1f})"


@dataclass(frozen=True)
class Tried:
    """A spot that was tried: what it is, what it is called (a ring is round), and its rings."""

    dominant: str
    called: Shape
    wrong_ring: bool
    inner_off: float


def tried(number: int) -> Tried | None:
    """Return what the table on record makes of a spot; None under the sizes that are named."""
    rng = np.random.default_rng([TRY, number])
    drawn = draw(rng)
    true, form = noiseless(drawn, rng), measured(drawn, rng)
    return None if form is None or true is None else judged(drawn.dominant, true, form)


def judged(dominant: str, true: Form, form: Form) -> Tried:
    """Return what a form is called, held against the noiseless one."""
    best = named_shape("", form).shape
    called = Shape.ROUND if best is Shape.RING else best
    both = called is Shape.ROUND and CLASS_OF[dominant] is Shape.ROUND
    wrong_ring = both and (best is Shape.RING) != (true.inner_share < RING_SHARE)
    return Tried(dominant, called, wrong_ring, form.inner_share - true.inner_share)


def print_trial(spots: list[Tried]) -> None:
    """Print how many are named, how many of these rightly, each share with its interval."""
    told = [s for s in spots if s.called is not Shape.CANT_TELL]
    print(f"can't tell: {share(len(spots) - len(told), len(spots))} of {len(spots)} spots")
    right = [s for s in told if s.called is CLASS_OF[s.dominant]]
    print(f"of the named right: {share(len(right), len(told))}")
    for name in CLASS_OF:
        whole = sum(s.dominant == name for s in spots)
        named, good = (sum(s.dominant == name for s in group) for group in (told, right))
        print(f"{name:12} {whole:4} spots, named {share(named, whole)}, right {share(good, named)}")
    for shape in CLASSES:
        named = sum(CLASS_OF[s.dominant] is shape for s in told)
        good = sum(CLASS_OF[s.dominant] is shape for s in right)
        called = sum(s.called is shape for s in told)
        print(f"{shape:12} of the named right {share(good, named)}, "
              f"called so and right {share(good, called)}")  # fmt: skip
    print(f"ring called round or round called ring: {sum(s.wrong_ring for s in spots)}")
    off = np.array([s.inner_off for s in spots])
    print(f"inner share, measured minus true: {off.mean():+.3f} +- {off.std():.3f}")


def main(learn: int, tries: int) -> None:
    """Print the table and what the limits rest on, then what the table on record names."""
    if learn:
        forms, classes = learned_from(learn)
        print("\n".join(table_lines(*learned(forms, classes))))
        print_choice(forms, classes)
    if tries:
        print_trial([s for s in map(tried, range(tries)) if s is not None])


if __name__ == "__main__":
    main(*(int(v) for v in (sys.argv[1:3] if len(sys.argv) > 2 else (2200, 750))))
