"""How often is a sound lens called uneven, and how often is a decentred copy found?

Run: python design/copies.py [lenses per case]. About 3 minutes for 1,000.

Sound lenses: the length of a spot over focus error and field radius comes from their wavefronts
(coma; astigmatism with curvature; both with spherical aberration). Each frame has a focus error of
its own, each place is aimed wrongly by 2.5 % of picture height (1 sigma), each repeat by 14 px
more, and every length scatters by 3 % beside. A lens has one to four settings. Faulty copies:
scatter 10 %, four repeats, corners whose lengths have a ratio of 1.5 in four patterns.
"""

from __future__ import annotations

import math
import sys

import numpy as np
from scipy.interpolate import RegularGridInterpolator

from nightglass.bench.combined.combine import Repeats, combine
from nightglass.bench.faults.copies import CopyVerdict, copies_of
from nightglass.bench.records import Combined, SettingResult, ZoneResult
from nightglass.gear.body import Body
from nightglass.gear.lens import LensSetting
from nightglass.optics.extent import extent
from nightglass.optics.wavefront import Pupil, blurred, defocus_um, samples_needed, seidel, spot

BODY = Body("Loan body", pitch_um=6.05, width_px=3872, height_px=2592)
N = 2.0
LENSES = {
    "coma": {"w131_um": 4.0},
    "astigmatism and curvature": {"w222_um": 3.0, "w020_um": -1.5},
    "mixed": {"w131_um": 2.0, "w222_um": 1.5, "w040_um": 0.8},
}
"""At the corner; coma goes as field radius, the others as its square, spherical stays."""
POWERS = {"w131_um": 1, "w222_um": 2, "w020_um": 2, "w040_um": 0}
CORNERS = {
    "top left": (-1, -1),
    "top right": (1, -1),
    "bottom left": (-1, 1),
    "bottom right": (1, 1),
}
EDGES = {"top": (0, -1), "bottom": (0, 1), "left": (-1, 0), "right": (1, 0)}
LAYOUTS = {
    "4 corners": CORNERS,
    "2 corners": {"top left": (-1, -1), "bottom right": (1, 1)},
    "4 corners, 4 edges": {**CORNERS, **EDGES},
}
PATTERNS = {
    "one side": {"top right": 1, "bottom right": 1},
    "one corner": {"bottom right": 1},
    "along a diagonal": {"bottom right": 1, "top right": 0.5, "bottom left": 0.5},
    "two opposite corners": {"bottom right": 1, "top left": 1},
}
AIM_PERCENT, REPEAT_AIM_PX = 2.5, 14.0
OWN_SCATTER = 0.03


def lengths(terms: dict[str, float]) -> RegularGridInterpolator:
    """Return length [px] over field radius and focus error [um]."""
    radii, focus = np.array([0.0, 0.4, 0.6, 0.8, 0.95, 1.1]), np.linspace(-60, 60, 17)
    table = [[_length(terms, float(r), float(dz)) for dz in focus] for r in radii]
    return RegularGridInterpolator(
        (radii, focus), np.array(table), bounds_error=False, fill_value=None
    )


def _length(terms: dict[str, float], radius: float, focus_um: float) -> float:
    scaled = {name: value * radius ** POWERS[name] for name, value in terms.items()}
    zernikes = seidel(**scaled)
    zernikes[2] = 0.0
    zernikes[4] += defocus_um(focus_um, N)
    # Focused on the centre: spherical aberration is balanced there.
    zernikes[4] -= scaled.get("w040_um", 0.0) / (2 * math.sqrt(3))
    pupil, step = Pupil(N, zernikes), 0.5
    light = spot(pupil, 0.54, step, samples_needed(pupil, step, 90.0))
    return extent(blurred(light, step, BODY.pitch_um), step / BODY.pitch_um).length_px


def zone(place: str, x: float, y: float, values: list[float]) -> ZoneResult:
    """Return a zone of the bench with these repeats."""
    none = Combined(None, None)
    radius = math.hypot(x, y) / (math.hypot(BODY.width_px, BODY.height_px) / 2)
    return ZoneResult(
        place, x + (BODY.width_px - 1) / 2, y + (BODY.height_px - 1) / 2, radius, len(values), 0, 0,
        combine(Repeats(tuple(values))), *[none] * 10, "repeats",
    )  # fmt: skip


def sound(table: RegularGridInterpolator, places: dict[str, tuple[int, int]], repeats: int,
          focus_um: float, rng: np.random.Generator) -> tuple[ZoneResult, ...]:  # fmt: skip
    """Return the zones of a sound lens."""
    zones = []
    half = math.hypot(BODY.width_px, BODY.height_px) / 2
    for place, (side_x, side_y) in {"centre": (0, 0), **places}.items():
        aimed = np.array([side_x * 0.44 * BODY.width_px, side_y * 0.44 * BODY.height_px])
        aimed = aimed + rng.normal(0, AIM_PERCENT / 100 * BODY.height_px, 2)
        where = aimed + rng.normal(0, REPEAT_AIM_PX, (repeats, 2))
        at = np.column_stack([np.hypot(*where.T) / half, rng.normal(0, focus_um, repeats)])
        values = table(at) * np.exp(rng.normal(0, OWN_SCATTER, repeats))
        zones.append(zone(place, *where.mean(axis=0), values.tolist()))
    return tuple(zones)


def faulty(pattern: dict[str, float], ratio: float, scatter: float, repeats: int,
           rng: np.random.Generator) -> tuple[ZoneResult, ...]:  # fmt: skip
    """Return the zones of a copy with bad corners."""
    zones = []
    for place, (side_x, side_y) in {"centre": (0, 0), **CORNERS}.items():
        length = 8.0 * ratio ** pattern.get(place, 0.0) if side_x else 5.0
        values = length * np.exp(rng.normal(0, scatter, repeats))
        x, y = side_x * 0.44 * BODY.width_px, side_y * 0.44 * BODY.height_px
        zones.append(zone(place, x, y, values.tolist()))
    return tuple(zones)


def alarmed(settings: list[tuple[ZoneResult, ...]]) -> bool:
    """Whether any setting of a lens is called uneven, slightly or more."""
    results = [
        SettingResult(LensSetting("Loan body", "Wren", 12.0, 2.0 + k), zones)
        for k, zones in enumerate(settings)
    ]
    found = copies_of(results, BODY).values()
    return any(one.verdict in (CopyVerdict.UNEVEN, CopyVerdict.SLIGHT) for one in found)


def main(count: int) -> None:
    """Print both tables."""
    print("sound lenses called uneven [%]")
    total = []
    for lens, terms in LENSES.items():
        table = lengths(terms)
        for layout, places in LAYOUTS.items():
            for repeats, settings, focus_um in (
                (2, 1, 8.0),
                (3, 4, 8.0),
                (4, 1, 15.0),
                (4, 3, 4.0),
            ):
                rng = np.random.default_rng([len(lens), len(layout), repeats, settings])
                wrong = sum(
                    alarmed([sound(table, places, repeats, focus_um, rng) for _ in range(settings)])
                    for _ in range(count)
                )
                total.append(wrong / count)
                print(f"{lens:26} {layout:20} {repeats} repeats, {settings} settings, focus "
                      f"{focus_um:4.1f} um: {100 * wrong / count:5.1f}")  # fmt: skip
    print(f"all: {100 * float(np.mean(total)):.1f}, worst case {100 * max(total):.1f}")
    print("copies found [%], corners of ratio 1.5, scatter 10 %, 4 repeats")
    for name, pattern in PATTERNS.items():
        for settings in (1, 6):
            rng = np.random.default_rng([7, len(name), settings])
            found = sum(
                alarmed([faulty(pattern, 1.5, 0.1, 4, rng) for _ in range(settings)])
                for _ in range(count)
            )
            print(f"{name:26} {settings} settings: {100 * found / count:5.1f}")


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else 1000)
