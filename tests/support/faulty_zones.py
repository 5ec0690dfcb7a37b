"""Zones with the spot of a known wavefront, and the same through a sensor."""

from __future__ import annotations

import math

import numpy as np

from nightglass.bench.combined.stamp import mean_stamp
from nightglass.bench.records import Combined, ZoneResult
from nightglass.frame.record import Frame, Metadata
from nightglass.optics.extent import extent
from nightglass.scene.sensor import Background, Sensor, Window, expose, in_mosaic
from nightglass.scene.star import LED_COLOUR, Star, fine_spot
from nightglass.spot.measure import measure_frame
from nightglass.spot.record import SpotImage

PITCH_UM = 6.05
PATTERN = np.array([[0, 1], [1, 2]], dtype=np.uint8)


def spot_zone(pupil, place="corner", x=3600.0, y=2400.0, **more) -> ZoneResult:
    """A zone whose mean spot is noiseless, through square pixels."""
    fine = fine_spot(Star(pupil, 200.3, 199.6), PITCH_UM, (1,))
    light = np.pad(fine.on_pixels(1), 40)
    found = extent(light)
    stamp = mean_stamp([SpotImage(light, 0, 0)], [(found.x_px, found.y_px)], [found.aperture_px])
    none = Combined(None, None)
    radius = math.hypot(x - 1935.5, y - 1295.5) / math.hypot(1936, 1296)
    return ZoneResult(
        place, x, y, radius, 3, 0, 0, Combined(found.length_px, 0.1, None, (found.length_px,) * 3),
        Combined(found.width_px, 0.1), none, none, none, none, none, none, none, none, none,
        "repeats", stamp, **more,
    )  # fmt: skip


def stamp_of(pupil, rng):
    """The mean spot of one frame of a Bayer sensor, and its length."""
    x, y = 150 + rng.uniform(-1, 1, 2)
    fine = fine_spot(Star(pupil, x, y), PITCH_UM)
    chip = Sensor(300, 300, PITCH_UM, PATTERN, 512, 16383, 2.0, 4.0)
    colours = {c: fine.on_pixels(c) * np.float32(LED_COLOUR[c]) for c in fine.light}
    one = in_mosaic(chip, colours, fine.left_px, fine.top_px)
    bright = np.float32(0.5 * chip.full_scale_e / float(one.light_e.max()))
    window = Window(one.light_e * bright, one.left_px, one.top_px)
    frame = Frame(
        samples=expose(chip, [window], Background(6.0), rng), pattern=PATTERN,
        black=np.full((2, 2), 512.0), clipping=np.full((2, 2), 16383.0), kind="mosaic",
        metadata=Metadata(), file="", content_hash="",
    )  # fmt: skip
    found = measure_frame(frame, (x, y), gain_e_per_count=2.0)
    spot = next(s for s in found.spots if s.colour == "green")
    stamp = mean_stamp([found.images["green"]], [(spot.x_px, spot.y_px)], [spot.aperture_px])
    return stamp.astype(float), spot.length_px
