"""From a sensor's report to what is kept of it beside bench.toml."""

from __future__ import annotations

from datetime import date

from nightglass.gear.body import Body
from nightglass.gear.sensorfile import MeasuredSensor, MeasuredStep
from nightglass.sensor.records import IsoResult, Known, SensorReport

DIGITS = 5


def kept_sensor(report: SensorReport, body: Body, today: date) -> MeasuredSensor:
    """Return what all commands may use of a report: green or the only colour of each step."""
    steps = {one.iso: _step(one) for one in report.isos}
    return MeasuredSensor(
        body=body.name,
        recorded_body=report.body,
        serial=report.serial,
        measured_on=today,
        temperature_c=report.temperature_c,
        second_gain_iso=report.second_gain_iso,
        steps={iso: step for iso, step in steps.items() if step != MeasuredStep()},
    )


def _step(one: IsoResult) -> MeasuredStep:
    green = one.colour()
    dark = max(one.darks, key=lambda d: d.exposure_s, default=None)
    return MeasuredStep(
        gain_e_per_count=_positive(green.gain_e_per_count.value),
        gain_err_e_per_count=_positive(green.gain_e_per_count.err),
        read_noise_e=_positive(green.read_noise_e.value),
        read_noise_err_e=_positive(green.read_noise_e.err),
        full_scale_e=_positive(green.full_scale_e.value),
        dark_e_per_s=_of(dark.current_e_per_s)[0] if dark else None,
        dark_err_e_per_s=_of(dark.current_e_per_s)[1] if dark else None,
        dark_exposure_s=dark.exposure_s if dark else None,
    )


def _of(known: Known) -> tuple[float | None, float | None]:
    return _short(known.value), _short(known.err)


def _positive(value: float | None) -> float | None:
    return _short(value) if value is not None and value > 0 else None


def _short(value: float | None) -> float | None:
    return None if value is None else float(f"{value:.{DIGITS}g}")
