"""Frames of a careless evening: each is taken for what it is, or left out with its reason."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from sensor_frames import BAYER, Roll, chip, frame, in_memory

from nightglass.gear.body import Body
from nightglass.scene.flats import DARK, Light
from nightglass.sensor.codes import Finding, LeftOut, Role
from nightglass.sensor.measure import measure_sensor
from nightglass.show.sensor.words import finding_words, left_out_words


def evening(monkeypatch, roll, **more):
    report = measure_sensor(in_memory(monkeypatch, roll.frames), **more)
    return report, {one.file: one for one in report.taken}


def test_roles_are_told_by_content_and_time(monkeypatch):
    roll = Roll(chip()).bias().flats((0.4, 0.1))
    for _ in range(2):
        roll.take(DARK, 30.0)
    roll.take(Light(9 * roll.sensor.full_scale_e), 8.0)
    _, taken = evening(monkeypatch, roll)
    roles = [one.role for one in taken.values()]
    assert roles == [Role.BIAS] * 2 + [Role.FLAT] * 4 + [Role.DARK] * 2 + [Role.OVEREXPOSED]
    assert taken["002.dng"].level_percent == pytest.approx(40, abs=4)


def test_light_that_leaks_into_the_dark(monkeypatch):
    roll = Roll(chip(0.5, 3.0)).bias(4)
    leak = np.rint(np.linspace(4, 0, 288))[None, :] * np.where(np.tile(BAYER, (96, 144)) == 0, 1, 0)
    roll.frames[1].samples[:] += leak.astype(np.uint16)
    for _ in range(2):
        roll.take(DARK, 30.0)
    roll.frames[-1].samples[:] += leak.astype(np.uint16)
    _, taken = evening(monkeypatch, roll)
    assert [taken[f"{k:03d}.dng"].reason for k in (1, 5)] == [LeftOut.LIGHT_LEAK] * 2
    words = left_out_words(LeftOut.LIGHT_LEAK, taken["005.dng"].values)
    assert "light fell in" in words
    assert "cap on, eyepiece covered" in words


def test_even_glow_of_the_electronics_is_no_light(monkeypatch):
    roll = Roll(chip(0.5, 3.0)).bias()
    for _ in range(2):
        counts = roll.take(DARK, 30.0)
        counts += np.rint(np.linspace(6, 0, 288)).astype(np.uint16)[None, :]
    _, taken = evening(monkeypatch, roll)
    assert [one.role for one in taken.values()][2:] == [Role.DARK] * 2


def test_a_cap_half_on_and_a_scene_are_not_even(monkeypatch):
    roll = Roll(chip()).bias().flats((0.4, 0.1, 0.2))
    for one in roll.frames[2:4]:
        one.samples[:90] = 512
    wall = 1 + 0.3 * np.sin(np.arange(288) / 3)[None, :] * np.sin(np.arange(192) / 2)[:, None]
    for one in roll.frames[4:6]:
        one.samples[:] = np.rint(512 + (one.samples - 512.0) * wall).astype(np.uint16)
    _, taken = evening(monkeypatch, roll)
    reasons = [one.reason for one in taken.values()]
    assert reasons == [None, None, *[LeftOut.NOT_EVEN] * 4, None, None]
    assert "lens cap half on" in left_out_words(LeftOut.NOT_EVEN, {})


def test_a_dim_scene_is_no_frame_with_the_cap_on(monkeypatch):
    roll = Roll(chip()).bias()
    rng = np.random.default_rng(3)
    scene = np.repeat(np.repeat(rng.gamma(0.7, 60.0, (24, 36)), 8, axis=0), 8, axis=1)
    roll.take(seconds=1 / 640)
    roll.frames[-1].samples[:] += scene.astype(np.uint16)
    _, taken = evening(monkeypatch, roll)
    assert taken["002.dng"].role is Role.LEFT_OUT


def test_other_bodies_and_other_modes_are_left_out(monkeypatch):
    roll = Roll(chip()).bias(4)
    roll.take(body="Other body")
    roll.take(body_serial="8")
    small = chip(width_px=192)
    roll.frames.append(
        frame(small, np.full((192, 192), 512, np.uint16), "small.dng", body="Test body", iso=800,
              exposure_true_s=1 / 4000)
    )  # fmt: skip
    report, taken = evening(monkeypatch, roll)
    reasons = [one.reason for one in taken.values()]
    assert reasons[4:] == [LeftOut.OTHER_BODY, LeftOut.OTHER_BODY, LeftOut.OTHER_MODE]
    assert (report.body, report.serial) == ("Test body", "7")
    words = left_out_words(LeftOut.OTHER_BODY, taken["004.dng"].values)
    assert words.startswith("taken with another body (Other body; the others: Test body)")


def test_the_bench_says_whose_frames_count(monkeypatch):
    roll = Roll(chip()).bias(3)
    roll.take(body="Maker Loan body")
    roll.take(body="Maker Loan body")
    report, taken = evening(monkeypatch, roll, body=Body("loan body", 6, 288, 192))
    assert report.body == "Maker Loan body"
    assert [one.reason for one in taken.values()][:3] == [LeftOut.OTHER_BODY] * 3


def test_a_wrong_iso_in_the_name_is_told_and_the_camera_counts(monkeypatch):
    roll = Roll(chip()).bias()
    roll.take(name="dark_iso3200_01.dng")
    roll.take(name="dark_ISO 400.dng", iso=None)
    roll.take(name="nothing.dng", iso=None)
    report, taken = evening(monkeypatch, roll)
    said = {one.code: dict(one.values) for one in report.findings}
    assert said[Finding.ISO_NAME_DIFFERS] == {
        "file": "dark_iso3200_01.dng", "named": 3200, "iso": 800,
    }  # fmt: skip
    assert said[Finding.ISO_FROM_NAME] == {"file": "dark_ISO 400.dng", "iso": 400}
    told = [finding_words(one) for one in report.findings]
    assert any("dark_iso3200_01.dng" in one and "3200" in one and "800" in one for one in told)
    assert taken["dark_iso3200_01.dng"].iso == 800
    assert taken["nothing.dng"].reason is LeftOut.ISO_UNKNOWN


def test_times_that_are_missing_or_between(monkeypatch):
    roll = Roll(chip()).bias()
    roll.take(exposure_true_s=None)
    roll.take(seconds=0.25)
    _, taken = evening(monkeypatch, roll)
    reasons = [one.reason for one in taken.values()]
    assert reasons[2:] == [LeftOut.TIME_UNKNOWN, LeftOut.BETWEEN_TIMES]
    assert "cap on for 0.25 s" in left_out_words(LeftOut.BETWEEN_TIMES, taken["003.dng"].values)


def test_pairs_need_the_same_light(monkeypatch):
    roll = Roll(chip()).bias()
    for level in (3000.0, 9000.0, 3100.0):
        roll.take(Light(level), 0.1)
    _, taken = evening(monkeypatch, roll)
    assert [one.reason for one in taken.values()][2:] == [None, LeftOut.ALONE, None]


def test_a_file_that_is_there_twice_counts_once(monkeypatch):
    roll = Roll(chip()).bias(3)
    object.__setattr__(roll.frames[2], "content_hash", roll.frames[0].content_hash)
    _, taken = evening(monkeypatch, roll)
    assert taken["002.dng"].reason is LeftOut.SAME_FILE
    assert left_out_words(LeftOut.SAME_FILE, taken["002.dng"].values) == (
        "the same content as 000.dng"
    )


def test_files_that_are_no_raw_frames(tmp_path):
    files = Roll(chip()).bias().write(tmp_path)
    broken = tmp_path / "broken.dng"
    broken.write_bytes(files[0][0].read_bytes()[:3000])
    (tmp_path / "none.dng").write_bytes(b"")
    report = measure_sensor([*files, (broken, "broken.dng"), (tmp_path / "none.dng", "none.dng")])
    reasons = {one.file: one.reason for one in report.taken}
    assert reasons["broken.dng"] is LeftOut.UNREADABLE
    assert reasons["none.dng"] is LeftOut.UNREADABLE
    assert reasons["000.dng"] is None


def test_a_folder_without_one_usable_frame_is_a_report_without_steps(tmp_path):
    bad = tmp_path / "a.dng"
    bad.write_bytes(b"no picture")
    report = measure_sensor([(bad, "a.dng")])
    assert report.isos == ()
    assert not report.measured


def test_frames_without_a_body_are_told_by_the_pixels_of_the_bench_s(monkeypatch):
    """Most frames are of the other body: they must not be kept under this one's name."""
    own = Roll(chip()).bias(2)
    other = Roll(chip(width_px=320, height_px=200, seed=5), seed=2).bias(6)
    frames = [
        replace(
            one, file=f"{k}.dng", content_hash=str(k), metadata=replace(one.metadata, body=None)
        )
        for k, one in enumerate([*own.frames, *other.frames])
    ]
    for body, kept in ((Body("Small", 6, 288, 192), 2), (Body("Large", 6, 320, 200), 6)):
        report = measure_sensor(in_memory(monkeypatch, frames), body)
        roles = [one.role for one in report.taken]
        assert roles.count(Role.BIAS) == kept
        assert {one.reason for one in report.taken if one.role is Role.LEFT_OUT} == {
            LeftOut.OTHER_MODE
        }
