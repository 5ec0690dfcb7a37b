"""The camera body: its sensor, its dial, its noise."""

from __future__ import annotations

import unicodedata
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from functools import lru_cache
from typing import Literal

Mosaic = Literal["bayer", "6x6", "none"]
SIZE_SLACK = 0.02
"""Pixels that decoders cut differently at the edges of one and the same sensor."""


@dataclass(frozen=True)
class Body:
    """A camera body as the bench file describes it; None is "not recorded"."""

    name: str
    pitch_um: float
    width_px: int
    height_px: int
    mosaic: Mosaic = "bayer"
    serial: str | None = None
    firmware: str | None = None
    dial_end_s: float = 30.0
    """Longest marked time on the dial [s]; the true time is the next power of two thirds."""
    iso_steps: tuple[int, ...] = ()
    second_gain_iso: int | None = None
    """Lowest step of the second gain of a dual-gain sensor."""
    read_noise_e: Mapping[int, float] = field(default_factory=dict)
    """Read noise per pixel [electrons] by ISO."""
    gain_e_per_count: Mapping[int, float] = field(default_factory=dict)
    """Electrons per count of the raw file, by ISO."""
    efficiency: float | None = None
    """Electrons per photon in the green band, filter and fill included."""
    read_noise_err_e: Mapping[int, float] = field(default_factory=dict)
    """1-sigma errors of the steps that were measured (sensor.json); typed ones have none."""
    gain_err_e_per_count: Mapping[int, float] = field(default_factory=dict)
    """As read_noise_err_e."""
    recorded_as: tuple[str, ...] = ()
    """Names under which this body writes itself into its files."""

    @property
    def picture_height_px(self) -> int:
        """Short side of the visible raw area [px]: what "% of height" refers to."""
        return min(self.width_px, self.height_px)

    @property
    def width_mm(self) -> float:
        """Long or horizontal side of the sensor [mm]."""
        return self.width_px * self.pitch_um / 1000

    @property
    def height_mm(self) -> float:
        """Vertical side of the sensor [mm]."""
        return self.height_px * self.pitch_um / 1000


def same_body(recorded: str, body: Body) -> bool:
    """Return whether a body writes a name into its files.

    Files may carry the maker before the name, or leave it out; spaces and capitals don't count.
    """
    found = f" {_spelled(recorded)}"
    known = [f" {_spelled(name)}" for name in (body.name, *body.recorded_as)]
    return any(found.endswith(name) or name.endswith(found) for name in known)


def same_size(size_px: tuple[int, int], body: Body) -> bool:
    """Return whether a frame's width and height [px] are those of a body, give or take edges."""
    ratios = size_px[0] / body.width_px, size_px[1] / body.height_px
    return all(abs(ratio - 1) <= SIZE_SLACK for ratio in ratios)


def chosen_body(bodies: Sequence[Body], name: str, said: str = "--body ") -> Body:
    """Return the body that was asked for by its whole name, or by a part that no other body has.

    said: what stands before the name in an error. Raises ValueError for a name that fits none or
    several.
    """
    wanted = _spelled(name)
    exact = [body for body in bodies if _spelled(body.name) == wanted]
    found = exact or [body for body in bodies if wanted and wanted in _spelled(body.name)]
    if len(found) != 1:
        known = ", ".join(body.name for body in (found or bodies))
        fault = "fits several bodies" if found else "is not in bench.toml"
        raise ValueError(f'{said}"{name}" {fault}; choose one of: {known}')
    return found[0]


@lru_cache(maxsize=4096)
def _spelled(name: str) -> str:
    return " ".join(unicodedata.normalize("NFC", name).casefold().split())


def pitch_um_of(sensor_width_mm: float, width_px: int) -> float:
    """Return the pixel pitch [um] of a sensor by its width. ValueError for a width that no sensor
    of a camera has."""
    if not (3 <= sensor_width_mm <= 120 and width_px >= 64):
        raise ValueError(
            f"a sensor {sensor_width_mm:g} mm wide with {width_px} pixels across: sensors are 3 to "
            "120 mm wide, such as 36 or 23.5, with at least 64 pixels"
        )
    return round(1000 * sensor_width_mm / width_px, 4)
