"""bench.toml: what it gives; each fault names line, key, what is allowed, what was meant."""

import pytest

from nightglass.gear.bag import BenchFileError, parse_bench, read_bench_file
from nightglass.gear.lens import LensSetting
from nightglass.gear.template import bench_template

BODY = """[body]
name = "Loan body"
pitch_um = 6.05
width_px = 3872
height_px = 2592
"""
WREN = """[[lens]]
name = "Wren 12 mm f/2"
focal_mm = 12
f_number = 2
"""


def problems(text: str) -> tuple[str, ...]:
    with pytest.raises(BenchFileError) as caught:
        parse_bench(text)
    return caught.value.problems


def test_full_file_reads_into_records(tmp_path):
    (tmp_path / "bench.toml").write_text(
        BODY
        + "read_noise_e = { 800 = 3.1, 1600 = 2.6 }\niso_steps = [1600,\n  800]\n"
        + WREN
        + """[[lens]]
name = "Dipper"
focal_mm = [11, 18]
f_number = [3.2, 4]
recorded_as = "11.0-18.0 mm"
[[place]]
name = "centre"
[[place]]
name = "edge right"
field_radius = 0.5
direction_degrees = 0
[[frames]]
match = "wren/*"
lens = "Wren 12 mm f/2"
near = [100, 200.5]
[purpose]
words = "print 60 cm wide seen from 1 m"
[score]
a = 0.25
reference = { lens = "Dipper", f_number = 4 }
""",
        encoding="utf-8",
    )
    bench = read_bench_file(tmp_path)
    assert bench.folder == tmp_path
    assert bench.body.read_noise_e == {800: 3.1, 1600: 2.6}
    assert bench.body.iso_steps == (800, 1600)
    dipper = bench.lens("Dipper")
    assert bench.lens_of(LensSetting("any", "Dipper", 11.0, 4.0)) is dipper
    with pytest.raises(ValueError, match=r'"Crake" is not in bench\.toml, which has Wren'):
        bench.lens_of(LensSetting("any", "Crake", 11.0, 4.0))
    assert dipper is not None
    assert (dipper.focal_mm_min, dipper.focal_mm_max, dipper.f_number_min_long) == (11, 18, 4)
    assert dipper.recorded_as == ("11.0-18.0 mm",)
    assert bench.places[0].x_percent == 50
    # Half the half-diagonal to the right: 0.5 * hypot(3872, 2592) / 2 = 1164.9 px of 3872.
    assert bench.places[1].x_percent == pytest.approx(50 + 100 * 1164.87 / 3872, abs=0.01)
    assert bench.places[1].y_percent == pytest.approx(50)
    assert bench.frames[0].near_px == (100, 200.5)
    assert bench.frames[0].focal_mm is None
    assert (bench.purpose.print_width_m, bench.purpose.viewing_distance_m) == (0.6, 1.0)
    assert bench.score.b == 0.75
    assert bench.score.reference == LensSetting("Loan body", "Dipper", 11, 4)
    assert (bench.time.rule, bench.time.holds_at) == ("trail", "centre")
    assert bench.limit is None


def test_template_reads_back_and_keeps_awkward_names():
    text = bench_template(name='Club "Nachtschwalbe" \\ é')
    assert parse_bench(text).bench.name == 'Club "Nachtschwalbe" \\ é'


def test_template_examples_are_valid_when_their_remark_sign_is_taken_away():
    lines = bench_template().splitlines()
    taken = [
        line[2:] if line.startswith("# ") and (" = " in line or line.startswith("# [[")) else line
        for line in lines
    ]
    text = "\n".join(line for line in taken if not line.startswith(("Or ", "The ", "What ")))
    bench = parse_bench(text)
    assert bench.frames[0].f_number == 2.8
    assert bench.places[-1].name == "edge right"
    assert bench.body.second_gain_iso == 640


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        (
            BODY + WREN.replace("f_number", "f_numbr"),
            'bench.toml, line 9: [[lens]] "Wren 12 mm f/2": "f_numbr" is not a known key; '
            'did you mean "f_number"? Allowed: name, focal_mm, f_number,',
        ),
        (
            BODY + WREN.replace("f_number = 2", "f_number = 0"),
            'bench.toml, line 9: [[lens]] "Wren 12 mm f/2": f_number = 0 is not allowed; '
            "allowed: wide open, 0.5 to 64",
        ),
        (
            BODY + WREN.replace("focal_mm = 12", "focal_mm = 0"),
            "focal_mm = 0 is not allowed; allowed: mm above 0: 20, or [11, 18] for a zoom",
        ),
        (
            BODY + WREN.replace("focal_mm = 12", "focal_mm = [18, 11]"),
            'line 6: [[lens]] "Wren 12 mm f/2": focal_mm: the short end of a zoom comes first',
        ),
        (BODY + "iso_steps = [100, -1]\n" + WREN, "line 6: [body]: iso_steps = -1 is not allowed"),
        (
            BODY + WREN + '[[frames]]\nmatch = "*"\nexposure_s = 2000\n',
            'line 12: [[frames]] "*": exposure_s = 2000 is not allowed; '
            "allowed: above 0, at most 900 s",
        ),
        (
            BODY + WREN + '[[frames]]\nmatch = "*"\nfocus_mark = "infinity"\n',
            'line 12: [[frames]] "*": focus_mark = "infinity" is not allowed; '
            "allowed: where the focus stood: ring mark, scale or step",
        ),
        (
            BODY + WREN + '[[frames]]\nmatch = "*"\nlens = "Wren 12 mm"\n',
            'line 12: [[frames]] lens = "Wren 12 mm" is not in this file; '
            'did you mean "Wren 12 mm f/2"? Allowed: Wren 12 mm f/2',
        ),
        (BODY + WREN + "[tyme]\n", 'line 10: "tyme" is not a known key; did you mean "time"?'),
        (BODY + WREN + WREN, 'line 11: [[lens]] "Wren 12 mm f/2" is there twice'),
        (BODY, 'line 1: "lens" is missing; give one table [[lens]] for each lens'),
        (WREN, 'line 1: "body" is missing; give a table [body]'),
        (BODY + WREN.replace("[[lens]]", "[lens]"), "lens must be written as one table [[lens]]"),
        (
            BODY + WREN + '[time]\nrule = "npf"\n',
            'line 11: [time]: rule = "npf" is not allowed; allowed: "trail"',
        ),
        (BODY + WREN + '[time]\nrule = "pixels"\n', 'rule = "pixels" and pixels go together'),
        (BODY + WREN + '[purpose]\nwords = "poster"\n', 'words = "poster" is not understood'),
        (
            BODY + WREN + '[[place]]\nname = "left"\n',
            "a place needs either x_percent and y_percent",
        ),
        (BODY + "mosaic = bayer\n" + WREN, "line 6: not valid TOML: "),
    ],
)
def test_fault_names_line_key_and_what_is_allowed(text, expected):
    found = problems(text)
    assert len(found) == 1, found
    assert expected in found[0]


def test_every_fault_is_told_in_the_order_of_the_file():
    found = problems(BODY.replace("6.05", '"six"') + WREN.replace("= 12", '= "wide"') + "x = 1\n")
    assert [line.split(":")[0] for line in found] == [
        f"bench.toml, line {number}" for number in (3, 8, 10)
    ]


def test_missing_file_and_folder_say_how_to_make_one(tmp_path):
    with pytest.raises(BenchFileError, match=r"no bench\.toml here; make one: nightglass new"):
        read_bench_file(tmp_path)
    with pytest.raises(BenchFileError, match="there is no such folder"):
        read_bench_file(tmp_path / "nowhere")


def test_file_that_is_not_utf8_says_so(tmp_path):
    (tmp_path / "bench.toml").write_bytes(BODY.replace("Loan", "Käfer").encode("latin-1"))
    with pytest.raises(BenchFileError, match="not written in UTF-8"):
        read_bench_file(tmp_path)


def test_byte_order_mark_of_some_editors_is_no_fault(tmp_path):
    (tmp_path / "bench.toml").write_text(BODY + WREN, encoding="utf-8-sig")
    assert read_bench_file(tmp_path).body.name == "Loan body"
