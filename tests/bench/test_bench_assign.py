"""Which frame belongs to what: metadata, what the person typed, and reasons in words."""

import dataclasses

import pytest
from bench_fakes import BENCH_TOML

from nightglass.bench.assign import (
    Belongs,
    NotUsed,
    belongs_to,
    nearest_place,
    place_from_position,
    rule_for,
    unmatched_rules,
    unmatched_sky_rules,
)
from nightglass.bench.codes import BenchNote, BenchNoteCode
from nightglass.bench.store.rows import FrameOnRecord
from nightglass.frame.record import Metadata
from nightglass.gear.bag import parse_bench
from nightglass.gear.lens import LensSetting

RECORDED = Metadata(
    body="Loan body", lens="Wren", focal_mm=12.0, f_number=2.8, iso=800, exposure_true_s=0.5
)


def frame(path="a.dng", size=(3872, 2592), crop=(None, None), **recorded) -> FrameOnRecord:
    return FrameOnRecord(
        path, "h", "f", 1, 1, "measured", kind="mosaic", width_px=size[0], height_px=size[1],
        crop_width_px=crop[0], crop_height_px=crop[1],
        metadata=dataclasses.replace(RECORDED, **recorded),
    )  # fmt: skip


def bench(extra="", text=BENCH_TOML):
    return parse_bench(text + extra)


def reason(record, extra="", text=BENCH_TOML) -> str:
    found = belongs_to(record, bench(extra, text))
    assert isinstance(found, NotUsed), found
    return found.reason


def setting(record, extra="") -> LensSetting:
    found = belongs_to(record, bench(extra))
    assert isinstance(found, Belongs), found
    return found.setting


@pytest.mark.parametrize("size", [(4100, 2760), (3872, 2592), (3880, 2600)])
def test_pixel_count_of_the_raw_area_or_of_the_default_crop_may_stand_in_bench_toml(size):
    assert setting(frame(size=size, crop=(3872, 2592))).lens == "Wren"
    assert setting(frame(crop=(3600, 2400))).lens == "Wren"


def test_recorded_values_make_the_setting():
    assert setting(frame()) == LensSetting("Loan body", "Wren", 12, 2.8)


@pytest.mark.parametrize(
    ("recorded", "focal_mm", "f_number"),
    [
        # Cameras record exact powers or rounded marks for one and the same mark.
        ({"f_number": 2.828}, 12, 2.8),
        ({"f_number": 11.3}, 12, 11),
        ({"focal_mm": 12.3}, 12, 2.8),
        ({"lens": "Dipper", "focal_mm": 13.8}, 14, 2.8),
        ({"lens": "Dipper", "focal_mm": 18.4}, 18, 2.8),
        ({"lens": " dipper ", "focal_mm": 11.0}, 11, 2.8),
    ],
)
def test_marks_are_gathered(recorded, focal_mm, f_number):
    found = setting(frame(**recorded))
    assert (found.focal_mm, found.f_number) == (focal_mm, f_number)


def test_what_the_person_typed_wins_and_later_rules_win_key_by_key():
    rules = """[[frames]]
match = "Manual/*"
lens = "Wren"
focal_mm = 12
f_number = 4
place = "corner"
[[frames]]
match = "*/B*"
f_number = 5.6
session = "second evening"
"""
    manual = frame("manual/deep er/b 1.DNG", lens=None, focal_mm=None, f_number=None)
    found = belongs_to(manual, bench(rules))
    assert isinstance(found, Belongs)
    assert found.setting == LensSetting("Loan body", "Wren", 12, 5.6)
    assert (found.place, found.session) == ("corner", "second evening")
    assert setting(frame("manual/a.dng"), rules).f_number == 4


def test_what_was_varied_on_purpose_stands_with_the_frame():
    rules = """[bench]
distance_m = 10
source_diameter_mm = 0.5
[[frames]]
match = "wren focus/*"
series = "wren focus"
refocused = false
roll_degrees = 180
[[frames]]
match = "*-03.dng"
focus_mark = -2.5
distance_m = 4
"""
    found = belongs_to(frame("wren focus/a-03.dng"), bench(rules))
    assert isinstance(found, Belongs)
    assert (found.series, found.focus_mark, found.refocused) == ("wren focus", -2.5, False)
    assert (found.distance_m, found.source_diameter_mm, found.roll_degrees) == (4, 0.5, 180)
    plain = belongs_to(frame("wren/a.dng"), bench(rules))
    assert isinstance(plain, Belongs)
    assert (plain.series, plain.focus_mark, plain.refocused, plain.distance_m) == (
        None, None, None, 10,
    )  # fmt: skip


def test_accents_match_in_either_spelling():
    rules = bench('[[frames]]\nmatch = "Käfer/*"\nf_number = 8\n').frames
    assert rule_for("ka\u0308fer/1.dng", rules).f_number == 8


def test_pattern_that_fits_no_file_is_named_with_its_line():
    extra = '[[frames]]\nmatch = "Wrn/*"\nf_number = 8\n'
    (line,) = unmatched_rules(bench(extra), ["wren/1.dng"])
    number = BENCH_TOML.count("\n") + 1
    assert line.startswith(f'bench.toml, line {number}: [[frames]] match = "Wrn/*" fits no file')


def test_tables_for_the_sky_belong_to_the_proof_and_others_may_fit_either_folder():
    extra = "".join(
        f'[[frames]]\nmatch = "{m}"\nf_number = 8\n' for m in ("sky/a*", "sky/b*", "*.ARX", "c*")
    )
    sky = ["sky/a1.dng", "sky/night.ARX"]
    told = unmatched_rules(bench(extra), ["wren/1.dng"], sky)
    assert [line.split('"')[1] for line in told] == ["c*"]
    (line,) = unmatched_sky_rules(bench(extra), sky)
    assert 'match = "sky/b*" fits no file below sky/; a * stands for any letters' in line


@pytest.mark.parametrize(
    ("recorded", "expected"),
    [
        ({"lens": "Heron"}, 'the lens "Heron" is not in the bag (Wren, Dipper); add a [[lens]]'),
        ({"lens": None}, "the lens is not recorded; say it in bench.toml: [[frames]] with lens ="),
        ({"f_number": None}, "the f-number is not recorded; say it in bench.toml: [[frames]] with"),
        ({"f_number": 0.0}, "the file says f/0, which can't be; say it in bench.toml"),
        ({"focal_mm": 0.0}, "the file says 0 mm, which can't be"),
        ({"iso": -1}, "the file says ISO -1, which can't be"),
        ({"exposure_true_s": 2000.0}, "the file says 2000 s, which can't be"),
        ({"focal_mm": 35.0}, "35 mm, but Wren has 12 mm; correct the lens or focal_mm"),
        ({"lens": "Dipper", "focal_mm": 24.0}, "24 mm, but Dipper has 11 to 18 mm"),
        ({"lens": "Dipper", "focal_mm": None}, "the focal length of a zoom is not recorded"),
        (
            {"body": "Other body"},
            'taken with the body "Other body", but bench.toml has "Loan body"',
        ),
        ({"size": (1936, 1296)}, "1936 x 1296 pixels, but bench.toml says 3872 x 2592"),
        (
            {"size": (3000, 2500), "crop": (2900, 2400)},
            "3000 x 2500 pixels (cropped to 2900 x 2400), but bench.toml says 3872 x 2592",
        ),
    ],
)
def test_reasons_name_cause_and_remedy(recorded, expected):
    assert expected in reason(frame(**recorded))


@pytest.mark.parametrize(
    ("recorded", "typed"),
    [
        ({"f_number": 0.0}, "f_number = 2.8"),
        ({"focal_mm": 0.0}, "focal_mm = 12"),
        ({"iso": -1}, "iso = 800"),
        ({"exposure_true_s": 2000.0}, "exposure_s = 0.5"),
        ({"body": "Other body"}, 'body = "Loan body"'),
    ],
)
def test_absurd_value_is_mended_by_what_is_typed(recorded, typed):
    assert setting(frame(**recorded), f'[[frames]]\nmatch = "*"\n{typed}\n').f_number == 2.8


@pytest.mark.parametrize("recorded", ["Loan body", "LOAN  BODY", "Maker Loan body"])
def test_body_is_known_with_and_without_its_maker(recorded):
    assert setting(frame(body=recorded)).body == "Loan body"


def test_body_that_is_not_recorded_is_assumed_and_said_so():
    found = belongs_to(frame(body=None), bench())
    assert isinstance(found, Belongs)
    assert found.notes == (BenchNote(BenchNoteCode.BODY_ASSUMED, body="Loan body"),)


def test_copies_of_a_lens_are_told_apart_by_serial():
    copies = "".join(
        f'[[lens]]\nname = "Owl {s}"\nfocal_mm = 20\nf_number = 2\nserial = "{s}"\n'
        'recorded_as = "Owl 20"\n'
        for s in ("A1", "B2")
    )
    owl = frame(lens="Owl 20", focal_mm=20.0, lens_serial="B2")
    assert setting(owl, copies).lens == "Owl B2"
    unknown = frame(lens="Owl 20", focal_mm=20.0)
    assert "stands for several lenses" in reason(unknown, copies)
    single = '[[lens]]\nname = "Owl"\nfocal_mm = 20\nf_number = 2\nserial = "A1"\n'
    other = frame(lens="Owl", focal_mm=20.0, lens_serial="B2")
    assert "another copy needs a [[lens]] of its own" in reason(other, single)


def test_left_out_frames_stay_out_with_the_typed_reason():
    extra = '[[frames]]\nmatch = "a*"\nleave_out = "door opened"\n'
    assert reason(frame(), extra) == "left out in bench.toml: door opened"


def test_nearest_place_within_its_reach_else_a_name_from_the_position():
    places = bench().places
    size = (3872, 2592)
    assert nearest_place(1935.5 + 380, 1295.5, size, places) == "centre"
    # 15 % of the height of 2592 px is 388.8 px.
    assert nearest_place(1935.5 + 390, 1295.5, size, places) is None
    assert nearest_place(3484, 2280, size, places) == "corner"
    assert place_from_position(2787.3, 803.0, size) == "x 72 %, y 31 %"
