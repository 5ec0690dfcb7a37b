"""Error bars: over many drawn sensors, how often the planted value lies within one and two."""

from __future__ import annotations

import numpy as np
import pytest
from sensor_frames import Roll, chip, in_memory

from nightglass.sensor.measure import measure_sensor

SENSORS = 70
LEVELS = (0.6, 0.3, 0.15, 0.07, 0.03, 0.01)


def pulls(monkeypatch: pytest.MonkeyPatch) -> dict[str, list[float]]:
    """(measured - planted) / error of every colour of every sensor."""
    rng = np.random.default_rng(2026)
    found: dict[str, list[float]] = {"gain": [], "noise": []}
    for number in range(SENSORS):
        gain = float(np.exp(rng.uniform(np.log(0.2), np.log(12))))
        noise = max(float(np.exp(rng.uniform(0, np.log(14)))), 0.6 * gain)
        sensor = chip(
            gain, noise, width_px=192, height_px=96, black=512 + rng.random(), bend=0.01,
            response_pattern=0.006, dark_pattern_e=0.1 * noise, seed=number,
        )  # fmt: skip
        roll = Roll(sensor, seed=number).bias().flats(LEVELS, 0.02, falloff=0.1, flicker=0.02)
        step = measure_sensor(in_memory(monkeypatch, roll.frames)).isos[0]
        for colour in step.colours:
            for name, known, planted in (
                ("gain", colour.gain_e_per_count, gain),
                ("noise", colour.read_noise_e, noise),
            ):
                if known.value is not None:
                    found[name].append((known.value - planted) / known.err)
    return found


@pytest.mark.slow
def test_planted_values_lie_within_the_errors_as_often_as_they_should(monkeypatch):
    for name, values in pulls(monkeypatch).items():
        pull = np.array(values)
        n = pull.size
        assert n >= 0.9 * 3 * SENSORS
        # A normal distribution has 68.3 and 95.4 %; 3.5 binomial deviations are allowed.
        for reach, share in ((1, 0.683), (2, 0.954)):
            held = np.mean(np.abs(pull) < reach)
            slack = 3.5 * np.sqrt(share * (1 - share) / n)
            assert held == pytest.approx(share, abs=slack), (name, reach)
        assert abs(np.median(pull)) < 0.3, name
