"""The files that a sensor's report writes into out/ of its bench."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from pathlib import Path

from nightglass.sensor.records import SensorReport
from nightglass.show.chart_style import save_chart
from nightglass.show.sensor.chart import finite_noise, noise_chart
from nightglass.verdict.sky_noise import SkyNoise


def write_sensor_chart(
    report: SensorReport, skies: Sequence[SkyNoise], folder: Path
) -> Iterator[Path]:
    """Write the chart (SVG, PNG) and yield its files; none without a read noise.

    The folder is made if it is missing. Raises OSError where it can't be written.
    """
    if finite_noise(report):
        folder.mkdir(parents=True, exist_ok=True)
        yield from save_chart(noise_chart(report, skies), folder / "sensor_noise")
