"""Eleven invented lenses on one body, with stated spots: what a ranking must put in order.

The body is 15.6 mm high with 24 Mpx. Spots are Gaussians of stated length, width and direction,
from sharp primes to soft zooms. Times: the longest dial step that the rule 360 / f allows.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from invented_results import gaussian_stamp

from nightglass.bench.records import Combined, SettingResult, ZoneResult
from nightglass.gear.body import Body
from nightglass.gear.lens import Lens, LensSetting

BODY = Body("Loan body 24", pitch_um=3.9, width_px=6000, height_px=4000)
PLACES = {"centre": (0.5, 0.5), "right": (0.88, 0.5), "top left": (0.06, 0.06),
          "bottom right": (0.94, 0.94)}  # fmt: skip
GAUSSIAN_LENGTH = 3.289707


@dataclass(frozen=True)
class Planted:
    """One setting with its spot: lengths [px] at the centre, the side, the corners."""

    name: str
    focal_mm: float
    f_number: float
    lengths_px: tuple[float, float, float]
    width_share: float = 0.6
    """Width over length, at the side and in the corners; round at the centre."""

    @property
    def lens(self) -> Lens:
        return Lens(self.name, self.focal_mm, self.focal_mm, self.f_number, self.f_number)

    @property
    def setting(self) -> LensSetting:
        return LensSetting(BODY.name, self.name, self.focal_mm, self.f_number)

    @property
    def exposure_s(self) -> float:
        """Longest true dial step, 30 marked at most, within 1.07 x 360 / focal length."""
        steps = 2.0 ** (np.arange(16) / 3)
        return float(steps[steps <= 1.07 * 360 / self.focal_mm].max())

    @property
    def zones(self) -> tuple[ZoneResult, ...]:
        centre, side, corner = self.lengths_px
        lengths = {"centre": centre, "right": side, "top left": corner, "bottom right": corner}
        return tuple(self._zone(place, length) for place, length in lengths.items())

    @property
    def result(self) -> SettingResult:
        return SettingResult(self.setting, self.zones)

    def _zone(self, place: str, length: float) -> ZoneResult:
        x_share, y_share = PLACES[place]
        dx, dy = (x_share - 0.5) * BODY.width_px, (y_share - 0.5) * BODY.height_px
        share = 1.0 if place == "centre" else self.width_share
        # Drawn out across the line to the centre, as astigmatism does.
        angle = (math.degrees(math.atan2(dy, dx)) + 90) % 180
        none, width = Combined(None, None), share * length
        return ZoneResult(
            place=place,
            x_px=x_share * (BODY.width_px - 1),
            y_px=y_share * (BODY.height_px - 1),
            field_radius=math.hypot(dx, dy) / (math.hypot(BODY.width_px, BODY.height_px) / 2),
            frames=5,
            refused=0,
            at_limit_frames=0,
            length_px=Combined(length, 0.02 * length),
            width_px=Combined(width, 0.02 * width),
            ee50_px=none,
            ee80_px=none,
            skirt_length_px=none,
            noise_area_px=Combined(4 * math.pi * share * (length / GAUSSIAN_LENGTH) ** 2, None),
            lean=none,
            angle_degrees=Combined(None if share == 1 else angle, 1.0),
            radial_angle_degrees=none,
            colour_offset_red_px=none,
            colour_offset_blue_px=none,
            error_source="repeats",
            stamp=gaussian_stamp(length, width, angle),
        )


FAST_OPEN = Planted("Plover 16 mm f/1.4", 16, 1.4, (11.0, 16.0, 22.0))
FAST_STOPPED = Planted("Plover 16 mm f/1.4", 16, 2.0, (5.0, 8.0, 11.0))
WIDE_14 = Planted("Wren 14 mm f/2.8", 14, 2.8, (4.5, 6.0, 9.0))
ZOOM_18 = Planted("Curlew 16-55 mm f/2.8", 18, 2.8, (4.5, 6.5, 9.0))
ULTRA_WIDE_8 = Planted("Heron 8-16 mm f/2.8", 8, 2.8, (4.5, 6.5, 10.0))
PRIME_16 = Planted("Dipper 16 mm f/2.8", 16, 2.8, (6.0, 9.0, 14.0))
BRIGHT_KIT = Planted("Sanderling 18-55 mm f/2.8-4", 18, 2.8, (7.0, 12.0, 18.0))
SLOW_ZOOMS = (
    Planted("Snipe 18-55 mm f/3.5-5.6", 18, 3.5, (7.0, 11.0, 17.0)),
    Planted("Redshank 16-50 mm f/3.5-5.6", 16, 3.5, (8.0, 12.0, 19.0)),
    Planted("Teal 18-135 mm f/3.5-5.6", 18, 3.5, (8.0, 12.0, 16.0)),
    Planted("Knot 16-80 mm f/4", 16, 4.0, (6.0, 9.0, 15.0)),
    Planted("Godwit 15-45 mm f/3.5-6.3", 15, 4.0, (7.0, 11.0, 18.0)),
)
SETTINGS = (
    FAST_OPEN, FAST_STOPPED, WIDE_14, ZOOM_18, ULTRA_WIDE_8, PRIME_16, BRIGHT_KIT, *SLOW_ZOOMS
)  # fmt: skip
"""Eleven lenses, one of them at two f-numbers."""
