"""A bench of pretended frames on two bodies; the larger sensor has the larger pixels.

Wren was measured on both, Dipper on the small body only, Heron on the large one only. The star
stood at the same place of the image in mm: at the centre, and at (+5.6, -3.9) mm from it.
"""

from __future__ import annotations

from pathlib import Path

import bench_fakes as fakes

SMALL_PITCH_UM, LARGE_PITCH_UM = 6.05, 8.0
BENCH = (
    fakes.BENCH_TOML
    + """[[lens]]
name = "Heron"
focal_mm = 20
f_number = 1.8
[[other_body]]
name = "Large body"
pitch_um = 8.0
width_px = 4512
height_px = 3008
[[other_body]]
name = "Borrowed body"
pitch_um = 4.2
width_px = 5000
height_px = 3300
"""
)
SIZES = {"Loan body": (3872, 2592, SMALL_PITCH_UM), "Large body": (4512, 3008, LARGE_PITCH_UM)}
CORNER_MM = (5.6, -3.9)
SCATTER = (0.98, 1.0, 1.02, 0.99, 1.01)
LENGTHS_UM = {
    ("Loan body", "Wren"): (36.0, 60.0),
    ("Large body", "Wren"): (36.5, 61.0),
    ("Loan body", "Dipper"): (40.0, 66.0),
    ("Large body", "Heron"): (48.0, 70.0),
}
FOCAL_MM = {"Wren": 12.0, "Dipper": 14.0, "Heron": 20.0}


def star_px(body: str, at_mm: tuple[float, float]) -> tuple[float, float]:
    """Return where a star stands on a body that is so far from the centre [mm]."""
    width, height, pitch = SIZES[body]
    return (width - 1) / 2 + 1000 * at_mm[0] / pitch, (height - 1) / 2 + 1000 * at_mm[1] / pitch


def write_two_body_bench(folder: Path) -> Path:
    """Write bench.toml and pretended frames; the caller measures them."""
    folder.mkdir(parents=True, exist_ok=True)
    (folder / "bench.toml").write_text(BENCH, encoding="utf-8")
    for (body, lens), lengths in LENGTHS_UM.items():
        width, height, pitch = SIZES[body]
        for place, at_mm, length_um in zip("ab", ((0.0, 0.0), CORNER_MM), lengths, strict=True):
            x, y = star_px(body, at_mm)
            for k, times in enumerate(SCATTER):
                fakes.fake_file(
                    folder / f"frames/{body}/{lens}-{place}{k}.dng", body=body, lens=lens,
                    focal_mm=FOCAL_MM[lens], width=width, height=height, x=x + 0.13 * k,
                    y=y - 0.21 * k, length=times * length_um / pitch,
                    width_px=0.8 * times * length_um / pitch,
                    noise_area=(times * length_um / pitch) ** 2,
                )  # fmt: skip
    return folder
