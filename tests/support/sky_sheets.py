"""A made-up frame of the sky with known zones, for the pictures and the page."""

from __future__ import annotations

import xml.etree.ElementTree as ET
from dataclasses import replace

import numpy as np

from nightglass.show.sky.sheet import Fact, SkySheet
from nightglass.sky.zones.codes import FalloffReason, MotionKind, ZoneReason
from nightglass.sky.zones.field import Falloff, Field, read_field
from nightglass.sky.zones.motion import Motion
from nightglass.sky.zones.typical import Crop
from nightglass.sky.zones.zone import ZONE_COLUMNS, ZONE_ROWS, Zone

SPACE = "{http://www.w3.org/2000/svg}"
SIZE = (6000, 4000)
FALLOFF = Falloff((1.2, 0.5), (4e-4, -4e-4, 9e-4), 640, 0.832)


def zones(
    right: float = 1.6, trail: tuple[float, float] = (4.0, 1.0), size=SIZE
) -> tuple[Zone, ...]:
    """Return 15 zones, 3 px in the centre to 5 px in the corners, the right side softer; the
    bottom left one not tested, the right one of the middle row without an image, 9 px long."""
    found = []
    for row, column in np.ndindex(ZONE_ROWS, ZONE_COLUMNS):
        x = (column + 0.5) / ZONE_COLUMNS * size[0] - 0.5
        y = (row + 0.5) / ZONE_ROWS * size[1] - 0.5
        radius = 2 * np.hypot(x - size[0] / 2, y - size[1] / 2) / np.hypot(*size)
        length = 3 + 2.6 * radius
        length *= right if column > 2 else 1.0
        zone = Zone(row, column, x, y, float(radius), 40, length_px=float(length),
                    length_px_err=0.1, width_px=float(0.8 * length), width_px_err=0.1,
                    angle_degrees=30.0, radial_angle_degrees=20.0, lean=0.1, lean_err=0.01,
                    trail_seen_px=trail, trail_expected_px=trail, trail_err_px=(0.3, 0.3),
                    image=_image(length))  # fmt: skip
        if (row, column) == (2, 0):
            zone = Zone(row, column, x, y, float(radius), 3, reason=ZoneReason.TOO_FEW_STARS)
        if (row, column) == (1, 4):
            zone = replace(zone, image=None, length_px=9.0, width_px=6.0)
        if (row, column) == (1, 2):
            zone = replace(zone, image=None, length_px=3.0, width_px=3.0, angle_degrees=None,
                           radial_angle_degrees=None)  # fmt: skip
        found.append(zone)
    return tuple(found)


def field(known: tuple[Zone, ...] | None = None, size=SIZE, falloff=FALLOFF) -> Field:
    """Return the field of such zones."""
    found = zones() if known is None else known
    motion = Motion(found, (0.1, 0.0), (0.1, 0.1), MotionKind.TRIPOD)
    reason = None if falloff is not None else FalloffReason.TOO_FEW_STARS
    return replace(read_field(motion, None, *size), falloff=falloff, falloff_reason=reason)


def sheet() -> SkySheet:
    """Return a frame's sheet with two crops of 21 px."""
    y, x = np.mgrid[-10:11, -10:11]
    light = (900 * np.exp(-0.5 * (x**2 / 4 + y**2 / 2)) - 1).astype(np.float32)
    crops = tuple(
        Crop(row, column, 10.0, 20.0, 80.0, 0.4, light) for row, column in ((0, 0), (0, 4), (2, 0))
    )
    facts = (Fact("focal length", "2000.4 ± 0.2 px", "fit to 800 stars"),)
    return SkySheet(
        "night <1>.dng", "Wren 12 mm · f/2", (("Aim and camera", facts),),
        ("the sky's own motion explains the trails", "second", "third"), field(), crops,
    )  # fmt: skip


def texts(root: ET.Element) -> list[str]:
    """Return all texts of a picture."""
    return [text.text or "" for text in root.iter(f"{SPACE}text")]


def _image(length: float) -> np.ndarray:
    y, x = np.mgrid[-60:61, -60:61] / 4.0
    along, across = length / 3.29, 0.8 * length / 3.29
    turn = np.radians(30)
    u, v = x * np.cos(turn) + y * np.sin(turn), -x * np.sin(turn) + y * np.cos(turn)
    spot = np.exp(-0.5 * ((u / along) ** 2 + (v / across) ** 2))
    return (spot / spot.sum()).astype(np.float32)
