"""The contact sheet: one scale, no smoothing, a true scale bar."""

import io
import xml.etree.ElementTree as ElementTree
from dataclasses import replace

import numpy as np
import pytest
from PIL import Image

from nightglass.show.crops import BAR_PERCENT, contact_sheet, stretched, write_sheets


def heron(bag):
    return [r for r in bag.results if r.setting.lens.startswith("Heron")]


def test_stretch_is_the_square_root_of_the_share_of_the_peak():
    stamp = np.zeros((5, 5), np.float32)
    stamp[2, 2], stamp[1, 3], stamp[4, 2] = 1.0, 0.25, 0.04
    out = stretched(stamp, 3)
    assert out.shape == (7, 7)
    assert out.dtype == np.uint8
    # Off the centre and unequal in x and y: a swap of axes would fail.
    assert (out[3, 3], out[2, 4], out[5, 3]) == (255, 128, 51)
    assert out.sum() == 255 + 128 + 51
    assert stretched(stamp, 1).shape == (3, 3)
    assert stamp[2, 2] == 1.0


def test_pixels_are_squares_of_one_colour_each(bag):
    """Nearest neighbour: inside a tile every square of the sheet's scale has a single grey."""
    results = heron(bag)[:1]
    image = np.asarray(
        Image.open(io.BytesIO(contact_sheet(results, bag.body, "Heron"))).convert("L")
    )
    rows, columns = np.nonzero(image == 0)
    # The first tile: from the left edge of the blackest area on.
    top, left = rows.min(), columns[rows == rows.min()].min()
    line = image[top + 5, left:]
    tile = int(np.argmax(line > 200)) if (line > 200).any() else line.size
    block = image[top : top + tile, left : left + tile]
    changes = np.flatnonzero(np.any(np.diff(block.astype(int), axis=0) != 0, axis=1)) + 1
    steps = np.unique(np.diff(changes))
    assert steps.size > 0
    assert np.gcd.reduce(steps) >= 4


def test_sheet_says_scale_stretch_and_gaps(bag):
    results = heron(bag)
    short = replace(results[0], zones=results[0].zones[:2])
    svg = contact_sheet([short, *results[1:]], bag.body, "Heron 20 mm f/1.8", "svg")
    root = ElementTree.fromstring(svg.decode())
    images = [n for n in root.iter() if n.tag.endswith("image")]
    assert len(images) == 2 + 5 * (len(results) - 1)
    sizes = {(n.get("width"), n.get("height")) for n in images}
    assert len(sizes) == 1


def test_a_sheet_per_lens_is_written(bag, tmp_path):
    some = [r for r in bag.results if r.setting.lens.startswith(("Heron", "Plover"))]
    none = replace(some[0], zones=(), setting=replace(some[0].setting, lens="Godwit 50 mm"))
    files = list(write_sheets([*some, none], bag.body, tmp_path))
    assert [path.name for path in files] == [
        "spots_Heron-20-mm-f-1-8.png",
        "spots_Plover-24-mm-f-2-2.png",
    ]
    assert all(Image.open(path).format == "PNG" for path in files)


def test_bar_lengths_are_round_numbers():
    mantissas = {float(f"{p:e}".split("e")[0]) for p in BAR_PERCENT}
    assert mantissas == {1.0, 2.0, 5.0}


def test_bad_input_is_refused_in_words(bag):
    bare = replace(
        bag.results[0], zones=tuple(replace(z, stamp=None) for z in bag.results[0].zones)
    )
    with pytest.raises(ValueError, match="no setting has a measured spot to show"):
        contact_sheet([bare], bag.body, "none")
    with pytest.raises(ValueError, match="square with odd sides, not 4 x 4"):
        stretched(np.ones((4, 4)), 2)
    with pytest.raises(ValueError, match="without light"):
        stretched(np.zeros((3, 3)), 2)
