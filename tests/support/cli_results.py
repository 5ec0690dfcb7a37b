"""Made-up results of three repeats at two places, for the doors that rank and make cards."""

from __future__ import annotations

import math

import numpy as np

import nightglass.bench.study.repeats
from nightglass.bench.records import Combined, SettingResult, ZoneResult
from nightglass.gear.lens import LensSetting


def zone(place, x, y, lengths):
    half = 20
    grid_y, grid_x = np.mgrid[-half : half + 1, -half : half + 1]
    mean = float(np.mean(lengths))
    spot = np.exp(-0.5 * (grid_x**2 + grid_y**2) / (mean / 3.29) ** 2)
    areas = tuple(4 * math.pi * (v / 3.29) ** 2 for v in lengths)
    none = Combined(None, None)
    return ZoneResult(
        place, x, y, math.hypot(x - 1935.5, y - 1295.5) / math.hypot(1936, 1296), len(lengths),
        0, 0, Combined(mean, 0.1, None, lengths), Combined(mean, 0.1, None, lengths),
        none, none, none, Combined(float(np.mean(areas)), 1.0, None, areas), none,
        Combined(0.0, 1.0), none, none, none, "repeats", (spot / spot.sum()).astype(np.float32),
    )  # fmt: skip


def setting(lens, focal_mm, f_number, length):
    lengths = (length, 1.02 * length, 0.98 * length)
    return SettingResult(
        LensSetting("Loan body", lens, focal_mm, f_number),
        (
            zone("centre", 1935.5, 1295.5, lengths),
            zone("corner", 300.0, 200.0, tuple(1.1 * v for v in lengths)),
        ),
    )


BODY = """
[body]
name = "Loan body"
pitch_um = 6.05
width_px = 3872
height_px = 2592
read_noise_e = { 800 = 3.1, 1600 = 2.4 }
"""
WREN = """
[[lens]]
name = "Wren 12 mm f/2"
focal_mm = 12
f_number = 2.0
"""
HERON = """
[[lens]]
name = "Heron 20 mm f/1.8"
focal_mm = 20
f_number = 1.8
"""
RESULTS = (
    setting("Wren 12 mm f/2", 12, 2.0, 5.0),
    setting("Wren 12 mm f/2", 12, 2.8, 4.0),
    setting("Heron 20 mm f/1.8", 20, 1.8, 9.0),
)


def make_bench(folder, monkeypatch, toml=BODY + WREN + HERON, results=RESULTS):
    """Return a bench folder whose store seems to hold results."""
    folder.mkdir(exist_ok=True)
    (folder / "bench.toml").write_text(toml, encoding="utf-8")
    seem_measured(monkeypatch, results)
    return folder


def seem_measured(monkeypatch, results):
    """Let every store seem to hold results."""
    monkeypatch.setattr(
        nightglass.bench.study.repeats, "setting_results", lambda store, bench: results
    )
