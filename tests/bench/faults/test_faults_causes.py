"""Tilt told from decentring: by focus series around the centre, by the star at the centre."""

import dataclasses
from types import SimpleNamespace

import pytest

from nightglass.bench.faults.causes import CopyCause, cause_of
from nightglass.bench.faults.copies import CopyFinding, CopyVerdict
from nightglass.bench.faults.shape import Shape, ShapeFinding
from nightglass.bench.focus.records import FieldFocus, Tilt, Value
from nightglass.gear.lens import LensSetting
from nightglass.show.faults.copy_words import cause_words

WREN = LensSetting("Loan body", "Wren", 12, 2.8)
UNEVEN = CopyFinding(WREN, CopyVerdict.UNEVEN)
RESULT = SimpleNamespace(
    setting=WREN, zones=[SimpleNamespace(field_radius=r) for r in (0.02, 0.88)]
)
TILTED = Tilt(Value(0.9, 0.1), Value(310.0, 6.0), 0.0004, True, ("a", "b", "c"), Value(0.15, 0.02))
STRAIGHT = dataclasses.replace(TILTED, marks=Value(0.1, 0.1), chance=0.6, found=False)


def shapes(centre):
    share = 0.93 if centre is Shape.ONE_SIDED else 0.04
    told = ShapeFinding("centre", centre, 0.93, {"one_sided": share})
    return (told, ShapeFinding("corner", Shape.ONE_SIDED, 0.99, {"one_sided": 0.99}))


def field(tilt, f_number=2.8, lens="Wren"):
    return FieldFocus("s", LensSetting("Loan body", lens, 12, f_number), Value(4, 0.1), tilt=tilt)


@pytest.mark.parametrize(
    ("centre", "tilt", "cause", "words"),
    [
        (Shape.ROUND, None, CopyCause.CANT_TELL,
         "can't tell decentring from tilt without a focus series at the corners"),
        (Shape.ROUND, STRAIGHT, CopyCause.CANT_TELL,
         "can't tell decentring from tilt; no tilt of the plane of focus found"),
        (Shape.ROUND, TILTED, CopyCause.TILT,
         "tilted; the plane of focus is tilted, 0.150 +- 0.020 degrees: toward the top right"),
        (Shape.ONE_SIDED, None, CopyCause.DECENTRED, "one-sided, where a sound lens has no coma "
         "(93 %); whether it is tilted too, focus series at the corners would tell"),
        (Shape.ONE_SIDED, TILTED, CopyCause.BOTH, "tilted, and decentred"),
    ],
)  # fmt: skip
def test_what_is_behind_an_uneven_copy(centre, tilt, cause, words):
    fields = () if tilt is None else (field(tilt),)
    found = cause_of(RESULT, UNEVEN, shapes(centre), fields)
    assert (found.cause, found.tilt) == (cause, tilt)
    assert words in cause_words(found)


def test_the_series_of_the_nearest_f_number_of_that_lens_counts():
    fields = (field(TILTED, 8.0), field(STRAIGHT, 4.0), field(TILTED, lens="Heron"))
    assert cause_of(RESULT, UNEVEN, shapes(Shape.ROUND), fields).tilt is STRAIGHT


def test_an_even_copy_has_no_cause():
    even = CopyFinding(WREN, CopyVerdict.NONE_SHOWN)
    assert cause_of(RESULT, even, shapes(Shape.ONE_SIDED), (field(TILTED),)) is None
