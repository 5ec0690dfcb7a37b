"""[body] and [[other_body]] in bench.toml, and the bench as one of them sees it."""

from datetime import date

import pytest

from nightglass.gear.bag import BenchFileError, parse_bench, read_bench_file
from nightglass.gear.benchfile import place_by_radius
from nightglass.gear.edited import change_bench, state_of, with_lens, with_values
from nightglass.gear.lens import LensSetting
from nightglass.gear.sensorfile import (
    MeasuredSensor,
    MeasuredStep,
    beside_others,
    merged,
    read_sensor_file,
    write_sensor_file,
)

ONE = """[body]
name = "Small body"
pitch_um = 3.9
width_px = 6000
height_px = 4000
[[lens]]
name = "Plover"
focal_mm = 16
f_number = 1.4
[[place]]
name = "edge"
field_radius = 0.8
direction_degrees = 30
[score]
reference = { lens = "Plover", f_number = 2 }
"""
OTHER = """[[other_body]]
name = "Large body"
pitch_um = 5.9
width_px = 6064
height_px = 4040
read_noise_e = { 800 = 4.0 }
"""


def faults(text: str) -> str:
    with pytest.raises(BenchFileError) as error:
        parse_bench(text)
    return str(error.value)


def test_every_body_of_the_file_is_read():
    bench = parse_bench(ONE + OTHER + OTHER.replace("Large", "Third"))
    assert bench.body.name == "Small body"
    assert [body.name for body in bench.bodies] == ["Small body", "Large body", "Third body"]
    assert bench.bodies[1].read_noise_e == {800: 4.0}


@pytest.mark.parametrize(
    ("text", "words"),
    [
        (ONE + OTHER.replace('name = "Large body"\n', ""),
         'line 16: [[other_body]]: "name" is missing; give the body\'s name, such as'),
        (ONE + OTHER.replace("Large body", " small  BODY"),
         'line 17: [[other_body]] " small  BODY" is there twice; give each body a name of its own '
         "(two of one model: add the serial or a letter)"),
        (ONE + OTHER + OTHER, 'line 23: [[other_body]] "Large body" is there twice'),
        (ONE + OTHER.replace("5.9", "-5.9"),
         'line 18: [[other_body]] "Large body": pitch_um = -5.9 is not allowed; allowed: pixel'),
        (ONE + OTHER + "pich = 3\n", '"pich" is not a known key; did you mean "pitch_um"?'),
        (ONE + OTHER.replace("[[other_body]]", "[other_body]"),
         "line 16: other_body must be written as one table [[other_body]] for each further body"),
        (ONE + OTHER + '[[frames]]\nmatch = "*"\nbody = "Larg body"\n',
         'body = "Larg body" is not in this file; did you mean "Large body"? Allowed: Small body, '
         "Large body"),
    ],
)  # fmt: skip
def test_mistakes_are_told_with_line_and_what_is_allowed(text, words):
    assert words in faults(text)


def test_the_bench_as_another_body_sees_it():
    bench = parse_bench(ONE + OTHER)
    seen = bench.on_body("large")
    assert (seen.body.name, [b.name for b in seen.other_bodies]) == ("Large body", ["Small body"])
    assert seen.score.reference == LensSetting("Large body", "Plover", 16, 2)
    # 0.8 of the way to the corner stays so in a frame of another shape.
    assert seen.places == (place_by_radius("edge", 0.8, 30, seen.body, 15),)
    assert seen.places != bench.places
    assert bench.on_body(None) is bench
    assert bench.on_body("Small body") is bench
    assert seen.on_body("small") == bench


def test_a_body_that_is_not_there_or_not_clear_is_refused():
    bench = parse_bench(ONE + OTHER)
    with pytest.raises(
        ValueError, match=r'^--body "Heron" is not in bench\.toml; choose one of: S'
    ):
        bench.on_body("Heron")
    with pytest.raises(
        ValueError, match='--body "body" fits several bodies; choose one of: Small body, Large body'
    ):
        bench.on_body("body")
    assert parse_bench(ONE).on_body("small body").body.name == "Small body"
    with pytest.raises(ValueError, match=r"choose one of: Small body$"):
        parse_bench(ONE).on_body("Large body")


def test_changes_of_the_page_keep_the_other_bodies(tmp_path):
    file = tmp_path / "bench.toml"
    file.write_text(ONE + "# lent until Monday\n" + OTHER, encoding="utf-8")
    bench = read_bench_file(tmp_path)
    bench = change_bench(bench, state_of(bench), with_lens("Wren", 12, 2))
    bench = change_bench(bench, state_of(bench), with_values("body", dial_end_s=60))
    assert [body.name for body in bench.bodies] == ["Small body", "Large body"]
    assert "# lent until Monday\n[[other_body]]" in file.read_text("utf-8")


def sensor(body: str, noise: float) -> MeasuredSensor:
    return MeasuredSensor(
        body=body, measured_on=date(2026, 11, 30), steps={800: MeasuredStep(read_noise_e=noise)}
    )


def test_sensor_json_holds_what_was_measured_of_each_body(tmp_path):
    (tmp_path / "bench.toml").write_text(
        ONE + OTHER.replace("read_noise_e = { 800 = 4.0 }\n", ""), encoding="utf-8"
    )
    bodies = read_bench_file(tmp_path).bodies
    write_sensor_file(tmp_path, beside_others(sensor("Small body", 2.5), None, bodies))
    assert "other_bodies" not in (tmp_path / "sensor.json").read_text("utf-8")
    old = read_sensor_file(tmp_path)
    write_sensor_file(tmp_path, beside_others(sensor("Large body", 3.5), old, bodies))
    write_sensor_file(
        tmp_path, beside_others(sensor("Large body", 3.6), read_sensor_file(tmp_path), bodies)
    )
    bench = read_bench_file(tmp_path)
    assert [body.read_noise_e for body in bench.bodies] == [{800: 2.5}, {800: 3.6}]
    assert bench.on_body("large").body.read_noise_e == {800: 3.6}
    # Steps that are added later find their own body's.
    later = sensor("Small body", 2.4).model_copy(
        update={"steps": {1600: MeasuredStep(read_noise_e=2.0)}}
    )
    assert list(merged(read_sensor_file(tmp_path), later).steps) == [800, 1600]


def test_a_sensor_that_is_of_none_of_the_bodies_is_refused(tmp_path):
    (tmp_path / "bench.toml").write_text(ONE + OTHER, encoding="utf-8")
    write_sensor_file(tmp_path, sensor("Heron body", 2.5))
    with pytest.raises(BenchFileError) as error:
        read_bench_file(tmp_path)
    assert str(error.value) == (
        'sensor.json was measured on the body "Heron body", but bench.toml has "Small body" and '
        '"Large body"; delete sensor.json, or run nightglass sensor with frames of one of these '
        "bodies"
    )
