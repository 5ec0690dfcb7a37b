"""Camera and light: what the sensor and evenly lit frames tell."""

from __future__ import annotations

from collections.abc import Callable
from datetime import date

from nightglass.bench.beside import FLATS, files_beside
from nightglass.bench.errors import BenchError
from nightglass.bench.falloff import FLATS as FLATS_KIND
from nightglass.bench.falloff import keep_flats
from nightglass.bench.flats.measure import measure_flats, report_falloffs
from nightglass.bench.kept import Keeper
from nightglass.bench.sensorframes import sensor_files
from nightglass.bench.store.store import open_store
from nightglass.gear.bag import read_bench_file, read_typed_bench
from nightglass.gear.benchfile import BenchFile
from nightglass.gear.sensorfile import (
    beside_others,
    differences,
    read_sensor_file,
    write_sensor_file,
)
from nightglass.page.asks import Ask, AskedStep, Field, Settings, Typed, nothing, told
from nightglass.page.jobs import Tell, Told
from nightglass.sensor.kept import kept_sensor
from nightglass.sensor.measure import measure_sensor
from nightglass.show.flats.chart import write_flats_chart
from nightglass.show.flats.words import report_parts as flats_parts
from nightglass.show.sensor.files import write_sensor_chart
from nightglass.show.sensor.text import difference_lines, report_lines, report_parts
from nightglass.sky.photometry.dark_files import filtering_of
from nightglass.verdict.sky_noise import sky_noises


def _sensor_fields(_: BenchFile, settings: Settings) -> tuple[Field, ...]:
    return (Field("temperature", "Temperature of the dark frames, °C", "number", "not recorded"),)


def _sensor(bench: BenchFile, typed: Typed, tell: Tell) -> Told:
    own = read_typed_bench(bench.folder).on_body(bench.body.name)
    body = own.body
    files = sensor_files(bench.folder, [])
    report = measure_sensor(files, body, typed.number("temperature", "18"), _turned(tell))
    filtered, _ = filtering_of(report.dark_paths)
    if not report.measured:
        raise BenchError("; ".join(report_lines(report, (), filtered)))
    kept = kept_sensor(report, body, date.today())
    old = read_sensor_file(bench.folder) if own.other_bodies else None
    write_sensor_file(bench.folder, beside_others(kept, old, own.bodies))
    skies = sky_noises(read_bench_file(bench.folder).on_body(body.name))
    lines = [
        *report_parts(report, skies, filtered),
        *difference_lines(tuple(differences(body, kept))),
    ]
    return told(lines, list(write_sensor_chart(report, skies, bench.folder / "out")))


def _flats(bench: BenchFile, typed: Typed, tell: Tell) -> Told:
    report = measure_flats(files_beside(bench, FLATS), bench, None, _turned(tell))
    store, faults = open_store(bench), list[str]()
    try:
        keep_flats(Keeper(store, FLATS_KIND, faults.append), report_falloffs(report))
    finally:
        store.close()
    return told([*flats_parts(report), *faults], write_flats_chart(report, bench.folder / "out"))


def _turned(tell: Tell) -> Callable[[str, int, int], None]:
    return lambda what, done, total: tell(done, total, what)


SENSOR = AskedStep(
    "camera",
    "Camera",
    "Which ISO, really: read noise and electrons per count, from frames that anyone can take.",
    (
        Ask(
            "sensor",
            "The sensor",
            "With the cap on at several ISO steps, and of an evenly lit white screen. What is "
            "found is kept, and ranking and card use it.",
            "Measure the sensor",
            _sensor_fields,
            _sensor,
            reads_files=True,
        ),
    ),
    "sensor",
    "Drop frames with the cap on and of an even light here",
)
LIGHT = AskedStep(
    "light",
    "Light",
    "How dark the corners get per setting, from frames of an even light through each lens.",
    (
        Ask(
            "flats",
            "Light over the field",
            "What is found is kept, and ranking and card use it.",
            "Measure the light",
            nothing,
            _flats,
            reads_files=True,
        ),
    ),
    "flats",
    "Drop evenly lit frames here",
)
