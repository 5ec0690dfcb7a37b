"""Invented results: spots of known shape at known places, so that verdicts can be worked out."""

from __future__ import annotations

import math

import numpy as np
import pytest

from nightglass.bench.records import Combined, SettingResult, ZoneResult
from nightglass.gear.benchfile import BenchFile
from nightglass.gear.body import Body
from nightglass.gear.lens import Lens, LensSetting

BODY = Body("Loan body", pitch_um=6.05, width_px=3872, height_px=2592)
WREN = Lens("Wren 12 mm f/2", 12, 12, 2.0, 2.0)
HERON = Lens("Heron 20 mm f/1.8", 20, 20, 1.8, 1.8)
PLOVER = Lens("Plover 24 mm f/2.2", 24, 24, 2.2, 2.2)
BAG = (WREN, HERON, PLOVER)
GAUSSIAN_LENGTH = 3.289707
PLACES = {"centre": (0.5, 0.5), "top left": (0.06, 0.06), "bottom right": (0.94, 0.94)}


def gaussian_stamp(length_px: float, width_px: float, angle_degrees: float) -> np.ndarray:
    half = math.ceil(1.6 * length_px) + 8
    y, x = np.mgrid[-half : half + 1, -half : half + 1].astype(float)
    t = math.radians(angle_degrees)
    u, v = x * math.cos(t) + y * math.sin(t), y * math.cos(t) - x * math.sin(t)
    s, w = length_px / GAUSSIAN_LENGTH, width_px / GAUSSIAN_LENGTH
    spot = np.exp(-0.5 * ((u / s) ** 2 + (v / w) ** 2))
    return (spot / spot.sum()).astype(np.float32)


def make_zone(
    place: str = "centre",
    lengths_px: tuple[float, ...] = (8.0,),
    width_share: float = 1.0,
    angle_degrees: float = 0.0,
    at_most_px: float | None = None,
    body: Body = BODY,
    stamp: bool = True,
) -> ZoneResult:
    """A Gaussian spot; several lengths are repeats. With at_most_px it is at limit."""
    x_share, y_share = PLACES[place]
    none = Combined(None, None)
    if at_most_px is not None:
        length = width = area = Combined(None, None, at_most_px)
        mean = at_most_px
    else:
        mean = float(np.mean(lengths_px))
        n = len(lengths_px)
        err = float(np.std(lengths_px, ddof=1)) / math.sqrt(n) if n > 1 else 0.02 * mean
        # Noise area of a Gaussian: 4 pi times the product of its standard deviations.
        areas = tuple(4 * math.pi * width_share * (v / GAUSSIAN_LENGTH) ** 2 for v in lengths_px)
        length = Combined(mean, err, None, tuple(lengths_px))
        width = Combined(mean * width_share, err, None, ())
        area_mean = float(np.mean(areas))
        area = Combined(area_mean, 2 * err / mean * area_mean, None, areas)
    r = math.hypot((x_share - 0.5) * body.width_px, (y_share - 0.5) * body.height_px)
    return ZoneResult(
        place=place,
        x_px=x_share * (body.width_px - 1),
        y_px=y_share * (body.height_px - 1),
        field_radius=r / (math.hypot(body.width_px, body.height_px) / 2),
        frames=len(lengths_px),
        refused=0,
        at_limit_frames=0 if at_most_px is None else len(lengths_px),
        length_px=length,
        width_px=width,
        ee50_px=none,
        ee80_px=none,
        skirt_length_px=none,
        noise_area_px=area,
        lean=none,
        angle_degrees=Combined(angle_degrees, 1.0),
        radial_angle_degrees=none,
        colour_offset_red_px=none,
        colour_offset_blue_px=none,
        error_source="repeats" if len(lengths_px) > 1 else "photons alone",
        stamp=gaussian_stamp(mean, mean * width_share, angle_degrees)
        if stamp and at_most_px is None
        else None,
    )


def make_setting(
    lens: Lens,
    f_number: float | None = None,
    lengths_px: tuple[float, ...] = (5.0, 5.1, 4.9),
    corner: float = 1.2,
    focal_mm: float | None = None,
    **zone,
) -> SettingResult:
    """A setting measured at centre and two corners, corners `corner` times as blurred."""
    setting = LensSetting(
        BODY.name, lens.name, focal_mm or lens.focal_mm_min, f_number or lens.f_number_min_wide
    )
    corners = tuple(corner * v for v in lengths_px)
    return SettingResult(
        setting,
        (
            make_zone("centre", lengths_px, **zone),
            make_zone("top left", corners, **zone),
            make_zone("bottom right", corners, **zone),
        ),
    )


@pytest.fixture
def bench() -> BenchFile:
    return BenchFile(BODY, BAG)


@pytest.fixture
def build():
    """The builders above, for tests (no test module is imported by another)."""

    class Build:
        body = BODY
        wren, heron, plover, bag = WREN, HERON, PLOVER, BAG
        zone = staticmethod(make_zone)
        setting = staticmethod(make_setting)
        stamp = staticmethod(gaussian_stamp)
        places = PLACES

    return Build
