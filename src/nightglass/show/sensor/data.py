"""What was measured of a sensor, as plain data with codes."""

from __future__ import annotations

import dataclasses
from collections.abc import Sequence
from typing import Any

from nightglass.gear.sensorfile import Difference
from nightglass.sensor.records import SensorReport
from nightglass.show.sky.words.filter import filtering_data
from nightglass.sky.photometry.filtering import Filtering
from nightglass.verdict.sky_noise import SkyNoise


def sensor_data(
    report: SensorReport,
    skies: Sequence[SkyNoise],
    filtered: Sequence[Filtering],
    different: Sequence[Difference],
) -> dict[str, Any]:
    """Return numbers, errors, units in the names, and codes; no sentences."""
    return {
        **_plain(report),
        "skies": [{**_plain(one), "noise_e": one.noise_e} for one in skies],
        "filtering": [filtering_data(one) for one in filtered],
        "differences": [_plain(one) for one in different],
    }


def _plain(value: Any) -> Any:
    """Records as dictionaries, without paths: a file is known by its name."""
    if dataclasses.is_dataclass(value) and not isinstance(value, type):
        names = (field.name for field in dataclasses.fields(value))
        return {name: _plain(getattr(value, name)) for name in names if name != "path"}
    if isinstance(value, dict):
        return {str(key): _plain(part) for key, part in value.items()}
    if isinstance(value, list | tuple):
        return [_plain(part) for part in value]
    return value
