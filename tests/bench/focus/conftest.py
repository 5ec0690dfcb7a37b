"""Focus series with planted truth, put on record without any picture file."""

from __future__ import annotations

import dataclasses
import math

import numpy as np
import pytest
from bench_fakes import BENCH_TOML, HEIGHT_PX, WIDTH_PX

from nightglass.bench.focus.measure import focus_report
from nightglass.bench.store.rows import FrameOnRecord
from nightglass.bench.store.store import Store
from nightglass.frame.record import Metadata
from nightglass.gear.bag import parse_bench
from nightglass.spot.record import Measured, Spot, SpotImage

RECORDED = Metadata(
    body="Loan body", lens="Wren", focal_mm=12.0, f_number=2.8, iso=800, exposure_true_s=0.5
)
GAUSS = 3.289707
"""Central 90 % of a Gaussian over its standard deviation (normal quantiles)."""


class Planted:
    """A store to which Gaussian spots of planted size through focus are added."""

    def __init__(self) -> None:
        self.store = Store("sqlite://", "")
        self.rules: list[str] = []
        self.rng = np.random.default_rng(5)

    def spot(self, path, mark, radial, tangential, *, axis=0.0, x=1935.5, y=1295.5,
             recorded=None, flags=(), at_limit=None, rules=""):  # fmt: skip
        """One frame: extents [px] along and across `axis`, with 1 % of scatter."""
        radial, tangential = (
            s * (1 + 0.01 * self.rng.standard_normal()) for s in (radial, tangential)
        )
        long, short = max(radial, tangential), min(radial, tangential)
        angle = (axis if radial >= tangential else axis + 90) % 180
        values = {
            "x_px": x, "y_px": y, "length_px": long, "length_px_err": 0.02 * long,
            "width_px": short, "width_px_err": 0.02 * short, "aperture_px": max(5.0, 1.5 * long),
            "peak_share": 0.5, "flags": tuple(flags),
            "angle_degrees": angle if long / short > 1.15 else None,
        }  # fmt: skip
        if at_limit is not None:
            values |= {"length_px": None, "width_px": None, "length_at_most_px": at_limit,
                       "angle_degrees": None, "flags": ("at limit",)}  # fmt: skip
        frame = FrameOnRecord(
            path, path, path, 1, 1, "measured", kind="mosaic", width_px=WIDTH_PX,
            height_px=HEIGHT_PX, metadata=dataclasses.replace(RECORDED, **(recorded or {})),
        )  # fmt: skip
        image = _image(radial, tangential, axis, x, y)
        self.store.keep(frame, Measured((Spot(path, "green", **values),), {"green": image}))
        said = f'[[frames]]\nmatch = "{path}"\nseries = "wren focus"\n'
        self.rules.append(said + ("" if mark is None else f"focus_mark = {mark}\n") + rules)

    def series(self, marks, best, *, size=5.0, slope=2.0, gap=0.0, name="a", said=None, **where):
        """Frames at marks; radial best at best + gap / 2, tangential at best - gap / 2."""
        for k, mark in enumerate(marks):
            radial = math.hypot(size, slope * (mark - best - gap / 2))
            tangential = math.hypot(size, slope * (mark - best + gap / 2))
            typed = mark if said is None else said[k]
            self.spot(f"{name}{k}.dng", typed, radial, tangential, **where)

    def bench(self):
        """bench.toml with what was typed of each frame."""
        return parse_bench(BENCH_TOML + "".join(self.rules))

    def report(self):
        """What the series on record say."""
        return focus_report(self.store, self.bench())


def _image(radial, tangential, axis, x, y):
    half = int(2.2 * max(radial, tangential)) + 8
    rows, columns = np.indices((2 * half + 1, 2 * half + 1), dtype=np.float64)
    left, top = round(x) - half, round(y) - half
    dx, dy = columns + left - x, rows + top - y
    a = math.radians(axis)
    along, across = dx * math.cos(a) + dy * math.sin(a), dy * math.cos(a) - dx * math.sin(a)
    light = np.exp(-0.5 * ((along / (radial / GAUSS)) ** 2 + (across / (tangential / GAUSS)) ** 2))
    return SpotImage((1000 * light).astype(np.float32), left, top)


@pytest.fixture
def planted():
    """An empty store for planted series."""
    found = Planted()
    yield found
    found.store.close()
