"""Records as bytes and back: the same, or refused."""

import json
import zlib
from dataclasses import dataclass
from datetime import datetime, timedelta, timezone
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from nightglass.bench.store import packing
from nightglass.bench.store.packing import LayoutError, pack, unpack
from nightglass.gear.lens import LensSetting
from nightglass.spot.record import Measured, Spot, SpotImage

SIMPLE = st.none() | st.booleans() | st.integers() | st.text() | st.floats(allow_nan=False)
TREES = st.recursive(
    SIMPLE,
    lambda inside: (
        st.lists(inside, max_size=4)
        | st.lists(inside, max_size=4).map(tuple)
        | st.dictionaries(st.text() | st.integers(), inside, max_size=4)
    ),
    max_leaves=12,
)


@given(TREES)
def test_plain_values_come_back_the_same(value):
    again = unpack(pack(value))
    assert again == value
    assert type(again) is type(value)


def test_records_and_arrays_come_back_the_same():
    light = np.arange(12, dtype=np.float32).reshape(3, 4)
    value = Measured((Spot("a.dng", "green", x_px=1.5, flags=("faint",)),), {
        "green": SpotImage(light, 3, 4)
    })  # fmt: skip
    again = unpack(pack(value))
    assert again.spots == value.spots
    image = again.images["green"]
    assert image.light.dtype == np.float32
    assert np.array_equal(image.light, light)
    setting = LensSetting("Body", "Wren", 12.0, 2.0)
    at = datetime(2027, 5, 6, 23, 30, tzinfo=timezone(timedelta(hours=2)))
    assert unpack(pack((setting, at, Path("a/b")))) == (setting, at, Path("a/b"))
    assert np.isnan(unpack(pack(float("nan"))))
    assert unpack(pack(np.float32(0.5))) == 0.5


def test_what_is_no_record_of_this_package_is_not_kept():
    @dataclass(frozen=True)
    class Foreign:
        x: int = 1

    with pytest.raises(TypeError, match="Foreign is not a record of this package"):
        pack(Foreign())
    with pytest.raises(TypeError, match="a set can't be kept; use numbers, text, arrays"):
        pack({1, 2})


def test_other_layout_is_refused_and_nothing_foreign_is_called():
    packed = json.loads(zlib.decompress(pack(LensSetting("Body", "Wren", 12.0, 2.0))))
    packed["value"]["of"]["more"] = 1
    with pytest.raises(LayoutError, match="LensSetting has other fields now"):
        unpack(zlib.compress(json.dumps(packed).encode()))
    for name in ("os:system", "nightglass.bench.store.packing:importlib", "nightglass.no:Such"):
        packed["value"]["record"] = name
        with pytest.raises(LayoutError):
            unpack(zlib.compress(json.dumps(packed).encode()))
    with pytest.raises(LayoutError, match="measure again"):
        unpack(b"no content")
    with pytest.raises(LayoutError, match="packed in format 0; this version reads"):
        unpack(zlib.compress(b'{"format": 0, "value": 1}'))
    assert packing.FORMAT == 1
