"""Frames of a drawn sensor: the same pixels every time, and the demo's evening among them."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from sensor_frames import chip

from nightglass.gear.bag import parse_bench
from nightglass.scene.clubfile import sensor_bench_toml
from nightglass.scene.flats import DARK, Light, expose_flat, hot_pixels
from nightglass.scene.sensor_plan import (
    READ_NOISE_E,
    SECOND_BODY,
    render_sensor,
    sensor_metadata,
    sensor_plan,
)


def test_the_pattern_belongs_to_the_sensor_and_the_noise_to_the_frame():
    sensor = chip(1.0, 1.0, dark_pattern_e=6.0, column_pattern_e=3.0, response_pattern=0.05)
    a, b = (expose_flat(sensor, DARK, 0, np.random.default_rng(k)).astype(float) for k in (1, 2))
    assert np.corrcoef(a.ravel(), b.ravel())[0, 1] > 0.9
    other = expose_flat(replace(sensor, seed=9), DARK, 0, np.random.default_rng(1)).astype(float)
    assert abs(np.corrcoef(a.ravel(), other.ravel())[0, 1]) < 0.05


def test_light_bends_and_clips_as_planted():
    sensor = chip(2.0, 1.0, bend=0.05)
    half = expose_flat(sensor, Light(sensor.full_scale_e / 2), 1, np.random.default_rng(1))
    expected = 512 + sensor.full_scale_e / 2 * (1 - 0.025) / 2
    assert half[0::2, 1::2].mean() == pytest.approx(expected, rel=1e-3)
    full = expose_flat(sensor, Light(3 * sensor.full_scale_e), 1, np.random.default_rng(1))
    assert full.max() == sensor.clipping


def test_hot_pixels_keep_their_places():
    sensor = chip(hot_share=1e-3)
    rows, columns, current = hot_pixels(sensor)
    assert len(set(zip(rows.tolist(), columns.tolist(), strict=True))) == rows.size == 55
    assert (current > 0).all()


def test_the_evening_has_every_step_and_its_bench_reads_back():
    shots = sensor_plan()
    assert {shot.iso for shot in shots} == set(SECOND_BODY.iso_steps) == set(READ_NOISE_E)
    assert len({shot.file_name for shot in shots}) == len(shots) < 120
    body = parse_bench(sensor_bench_toml()).body
    assert (body.name, body.read_noise_e) == (SECOND_BODY.name, {})
    said = sensor_metadata(shots[0])
    assert (said.body, said.body_serial, said.iso) == (SECOND_BODY.name, "HL-0932", 100)
    again = [render_sensor(shots[0]) for _ in range(2)]
    assert np.array_equal(*again)
