"""Light on the sensor: mosaics, noise and levels."""

from __future__ import annotations

import numpy as np
import pytest

from nightglass.scene.sensor import Background, Sensor, Window, expose, hot_places, in_mosaic

BAYER = np.array([[1, 0], [2, 1]], dtype=np.uint8)


def make_sensor(**changes: object) -> Sensor:
    values: dict[str, object] = {
        "width_px": 300,
        "height_px": 200,
        "pitch_um": 6.05,
        "pattern": BAYER,
        "black": 256,
        "clipping": 4095,
        "gain_e_per_count": 4.0,
        "read_noise_e": 12.0,
    }
    return Sensor(**{**values, **changes})  # type: ignore[arg-type]


def test_each_pixel_sees_its_own_colour() -> None:
    sensor = make_sensor()
    flat = {c: np.full((40, 50), 100.0 * (c + 1), dtype=np.float32) for c in (0, 1, 2)}
    window = in_mosaic(sensor, flat, left_px=33, top_px=71)
    for row, column in ((0, 0), (5, 8), (39, 49), (12, 7)):
        colour = int(BAYER[(row + 71) % 2, (column + 33) % 2])
        assert window.light_e[row, column] == 100 * (colour + 1)


def test_dark_noise_has_the_spread_of_read_noise_and_stray_light() -> None:
    sensor = make_sensor(width_px=900, height_px=700)
    dark = expose(sensor, [], Background(40.0), np.random.default_rng(3)).astype(float)
    # Mean black + 40 / 4 counts; variance (12^2 + 40) / 4^2 plus 1/12 of cutting to counts.
    assert dark.mean() == pytest.approx(256 + 10, abs=0.02)
    assert dark.var() == pytest.approx((144 + 40) / 16 + 1 / 12, rel=0.01)


def test_photon_noise_follows_the_light() -> None:
    # Photon transfer (EMVA 1288): variance in counts = gain^-2 read noise^2 + gain^-1 signal.
    sensor = make_sensor(width_px=600, height_px=500)
    for light in (400.0, 6000.0):
        window = Window(np.full((500, 600), light, dtype=np.float32), 0, 0)
        counts = expose(sensor, [window], Background(), np.random.default_rng(5)).astype(float)
        assert counts.mean() - 256 == pytest.approx(light / 4, rel=0.002)
        assert counts.var() == pytest.approx((144 + light) / 16 + 1 / 12, rel=0.015)


def test_the_slope_of_the_background_joins_window_and_dark() -> None:
    sensor = make_sensor(width_px=800, height_px=600, read_noise_e=1.0)
    background = Background(400.0, change_right_e=200.0, change_down_e=-120.0)
    empty = Window(np.zeros((600, 400), dtype=np.float32), 0, 0)
    counts = expose(sensor, [empty], background, np.random.default_rng(1)).astype(float) - 256
    left, right = counts[:, 380:400].mean(), counts[:, 400:420].mean()
    assert right - left == pytest.approx(200 * 20 / 800 / 4, abs=0.3)
    assert counts[:20].mean() - counts[-20:].mean() == pytest.approx(120 / 4, abs=1.5)


def test_light_clips_and_windows_may_cross_the_edge_and_each_other() -> None:
    sensor = make_sensor()
    bright = Window(np.full((30, 30), 1e6, dtype=np.float32), -10, 185)
    one = Window(np.full((20, 20), 2000.0, dtype=np.float32), 100, 50)
    other = Window(np.full((20, 20), 2000.0, dtype=np.float32), 110, 60)
    counts = expose(sensor, [bright, one, other], Background(), np.random.default_rng(2))
    assert (counts[185:, :20] == 4095).all()
    assert counts[61:69, 111:119].mean() - 256 == pytest.approx(1000, rel=0.02)
    assert counts[71:79, 121:129].mean() - 256 == pytest.approx(500, rel=0.03)


def test_hot_pixels_belong_to_the_sensor() -> None:
    sensor = make_sensor(hot_pixels=50, hot_seed=9)
    rows, columns, extra = hot_places(sensor)
    first, second = (
        expose(sensor, [], Background(), np.random.default_rng(seed)) for seed in (1, 2)
    )
    strong = extra > 200
    assert strong.sum() > 20
    for counts in (first, second):
        assert (counts[rows, columns][strong] > 256 + 150).all()
    assert not np.array_equal(first, second)


def test_the_same_seed_gives_the_same_frame() -> None:
    sensor = make_sensor(hot_pixels=20)
    window = Window(np.full((30, 30), 500.0, dtype=np.float32), 60, 60)
    first, second = (
        expose(sensor, [window], Background(3, 1, 1), np.random.default_rng(7)) for _ in range(2)
    )
    assert np.array_equal(first, second)
    assert (window.light_e == 500).all()
