"""The map of a sky frame: strokes, numbers, sides, light, and zones that were not tested."""

from __future__ import annotations

import io
import re
import xml.etree.ElementTree as ET
from base64 import b64decode
from dataclasses import replace

import numpy as np
import pytest
from PIL import Image, ImageFont
from sky_sheets import FALLOFF, SPACE, field, sheet, texts, zones

from nightglass.show import chart_style
from nightglass.show.sky import style as sky_style
from nightglass.show.sky.falloff_curve import signed
from nightglass.show.sky.map import sky_map_svg
from nightglass.show.sky.spot_outline import outline, share_level
from nightglass.show.sky.stars import star_crops_svg
from nightglass.show.typefaces import FONT_FOLDER
from nightglass.sky.zones.codes import ZoneReason

FONT = ImageFont.truetype(str(FONT_FOLDER / "B612-Regular.otf"), 100)
LONG_NOTE = "the sky's own motion explains the trails and a very long word of it " * 6


def inside(svg: str) -> None:
    """Every text lies inside the picture, by the widths of the shipped (wide) font."""
    root = ET.fromstring(svg)
    width, height = float(root.get("width", 0)), float(root.get("height", 0))
    for text in root.iter(f"{SPACE}text"):
        size = float(text.get("font-size", 13))
        # The pictures' own fonts are a little narrower than the shipped one.
        long = 0.92 * FONT.getlength(text.text or "") * size / 100
        x, y = float(text.get("x", 0)), float(text.get("y", 0))
        left = x - {"middle": long / 2, "end": long}.get(text.get("text-anchor", ""), 0)
        if "rotate" in (text.get("transform") or ""):
            assert min(y - long / 2, height - y - long / 2) >= 0, text.text
            assert size <= x <= width - 4, text.text
            continue
        assert min(left, width - left - long) >= 0, (text.text, left, left + long, width)
        assert size <= y <= height - 3, (text.text, y, height)


def test_lens_and_trail_differ_by_stroke_and_untested_zones_say_so():
    root = ET.fromstring(sky_map_svg(field(), "Wren 12 mm, f/2 <test>"))
    lens = [shape for shape in root.iter(f"{SPACE}polygon") if shape.get("data-zone")]
    assert len({shape.get("data-zone") for shape in lens}) == 14
    trails = [line for line in root.iter(f"{SPACE}polyline") if line.get("data-trail")]
    assert len(trails) == 14
    assert all(line.get("stroke-dasharray") for line in trails)
    assert not any(shape.get("stroke-dasharray") for shape in lens)
    words = texts(root)
    assert "not tested" in words
    assert any("it takes five" in word for word in words)
    assert "Wren 12 mm, f/2 <test>" in words


def test_the_numbers_are_those_of_the_zones():
    known = field()
    words = texts(ET.fromstring(sky_map_svg(known, "x")))
    for zone in known.measured:
        number = f"{zone.length_px * known.percent:.3f} ± {zone.length_px_err * known.percent:.3f}"
        assert f"{number} %" in words
    centre = known.readings[0]
    assert f"{centre.length_px:.2f} ± {centre.length_px_err:.2f}" in words
    assert f"{known.uneven[0].ratio:.2f}" in words


def test_stars_stand_at_their_places_and_share_one_enlargement():
    known = field()
    root = ET.fromstring(sky_map_svg(known, "x"))
    frame = next(r for r in root.iter(f"{SPACE}rect") if r.get("data-part") == "frame")
    left, wide = float(frame.get("x")), float(frame.get("width"))
    widths = {}
    for shape in root.iter(f"{SPACE}polygon"):
        if shape.get("data-zone"):
            points = np.array([p.split(",") for p in shape.get("points").split()], dtype=float)
            zone = tuple(int(v) for v in shape.get("data-zone").split(","))
            widths.setdefault(zone, points)
    for zone in known.measured:
        points = widths[zone.row, zone.column]
        middle = (points[:, 0].max() + points[:, 0].min()) / 2
        assert middle == pytest.approx(left + (zone.x_px + 0.5) / known.width_px * wide, abs=6)
    sizes = {z: np.hypot(*(p - p.mean(axis=0)).T).max() for z, p in widths.items()}
    # Zone (1, 4) is drawn as an ellipse: exactly 9 px long against 3 px in the centre.
    assert sizes[1, 4] / sizes[1, 2] == pytest.approx(3.0, rel=0.02)


def test_trails_and_stars_lie_along_their_own_diagonals():
    known = tuple(replace(z, trail_seen_px=(4.0, 3.0)) for z in zones())
    root = ET.fromstring(sky_map_svg(field(known), "x"))

    def points(shape):
        return np.array([p.split(",") for p in shape.get("points").split()], dtype=float)

    for line in (p for p in root.iter(f"{SPACE}polyline") if p.get("data-trail")):
        start, end = points(line)
        # y grows downward in the raw file and in the picture.
        assert (end - start)[1] / (end - start)[0] == pytest.approx(0.75, abs=0.02)
    shapes = {}
    for shape in root.iter(f"{SPACE}polygon"):
        if shape.get("data-zone"):
            shapes.setdefault(shape.get("data-zone"), points(shape))
    # From an image, and an ellipse without one: both 30 degrees from +x toward +y.
    for zone in ("0,4", "1,4"):
        away = shapes[zone] - shapes[zone].mean(axis=0)
        axis = np.linalg.svd(away)[2][0]
        assert np.degrees(np.arctan2(axis[1], axis[0])) % 180 == pytest.approx(30, abs=3)


def test_a_long_tail_stays_in_its_own_cell():
    y, x = np.mgrid[-80:81, -80:81] / 4.0
    # A coma that begins at the star's place and ends 12 px to the right of it.
    tail = np.exp(-0.5 * (y / 1.0) ** 2) * ((x > -1) & (x < 12))
    known = [replace(z, image=None, length_px=3.0, width_px=2.0) for z in zones()]
    known[14] = replace(known[14], length_px=11.0, width_px=3.0, image=tail.astype(np.float32))
    drawn = field(tuple(known))
    root = ET.fromstring(sky_map_svg(drawn, "x"))
    frame = next(r for r in root.iter(f"{SPACE}rect") if r.get("data-part") == "frame")
    right = float(frame.get("x")) + float(frame.get("width"))
    low = float(frame.get("y")) + float(frame.get("height"))
    for shape in (p for p in root.iter(f"{SPACE}polygon") if p.get("data-zone") == "2,4"):
        at = np.array([p.split(",") for p in shape.get("points").split()], dtype=float)
        assert at[:, 0].max() < right
        # The numbers begin 46 above the cell's end.
        assert at[:, 1].max() < low - 46


def test_the_softer_side_is_marked_and_named():
    root = ET.fromstring(sky_map_svg(field(), "x"))
    marks = [line.get("data-softer") for line in root.iter(f"{SPACE}polyline")]
    assert "right" in marks
    assert "bottom" not in marks
    even = sky_map_svg(field(zones(right=1.0)), "x")
    assert "softer side" not in even


def test_a_trail_longer_than_its_zone_ends_in_arrows():
    short = ET.fromstring(sky_map_svg(field(), "x"))
    long = ET.fromstring(sky_map_svg(field(zones(trail=(200.0, 30.0))), "x"))

    def joints(root: ET.Element) -> int:
        return sum(
            len(line.get("points", "").split()) == 3 for line in root.iter(f"{SPACE}polyline")
        )

    assert joints(short) == 0
    assert joints(long) == 28


def test_a_trail_that_is_not_the_skys_has_the_skys_beside_it():
    moved = tuple(replace(z, trail_expected_px=(1.0, -6.0)) for z in zones())
    svg = sky_map_svg(field(moved), "x")
    inside(svg)
    assert svg.count('data-sky="1"') == 14
    assert "own motion would have drawn" in svg
    plain = sky_map_svg(field(), "x")
    assert "data-sky" not in plain
    assert "own motion would have" not in plain


@pytest.mark.parametrize("size", [(6000, 4000), (4000, 6000), (20000, 13000), (900, 600)])
@pytest.mark.parametrize("trail", [(4.0, 1.0), (150.0, -80.0)])
def test_text_stays_inside_the_picture(size, trail):
    known = field(zones(size=size, trail=trail), size, FALLOFF)
    long = "long name é 星 " * 12, "Wren 12 mm · f/2 " * 9, [LONG_NOTE] * 2
    for side in ("top", "right", "bottom", "left"):
        svg = sky_map_svg(known, *long, side)
        inside(svg)
        assert f'data-up="{side}"' in svg


def test_a_zone_over_two_columns_has_its_star_in_their_middle_and_no_line_between():
    def over_two(one, x_px):
        return replace(one, columns=2, x_px=x_px)

    known = list(zones())
    known[0], known[14] = over_two(known[0], 1199.5), over_two(known[14], 4799.5)
    for inner in (1, 13):
        known[inner] = replace(
            known[inner], length_px=None, width_px=None, reason=ZoneReason.JOINED
        )
    svg = sky_map_svg(field(tuple(known)), "x")
    inside(svg)
    root = ET.fromstring(svg)
    lines = {line.get("data-left-of") for line in root.iter(f"{SPACE}polyline")} - {None}
    every = {f"{row},{column}" for row in range(3) for column in range(1, 5)}
    assert every - lines == {"0,1", "2,4"}
    frame = next(r for r in root.iter(f"{SPACE}rect") if r.get("data-part") == "frame")
    left, wide = float(frame.get("x")), float(frame.get("width"))
    for zone, share in (("0,0", 0.2), ("2,4", 0.8)):
        shape = next(p for p in root.iter(f"{SPACE}polygon") if p.get("data-zone") == zone)
        x = [float(p.split(",")[0]) for p in shape.get("points").split()]
        assert (min(x) + max(x)) / 2 == pytest.approx(left + share * wide, abs=6)
    words = texts(root)
    # The one in the bottom left corner is not tested; nothing is said in the joined cells.
    assert words.count("not tested") == 1
    assert not any("counted with" in word for word in words)
    assert any(word.startswith("8 of 8, ") for word in words)


@pytest.mark.parametrize("terms", [(1.2, 0.5), (0.9, -0.7)])
def test_the_light_of_both_places_is_named_beside_its_number(terms):
    known = field(falloff=replace(FALLOFF, terms=terms))
    svg = sky_map_svg(known, "x")
    inside(svg)
    at = {}
    for text in ET.fromstring(svg).iter(f"{SPACE}text"):
        at.setdefault(text.text, []).append((float(text.get("x")), float(text.get("y"))))
    for name, radius in (("short sides", known.falloff.edge_radius), ("corners", 1.0)):
        number = f"{signed(-known.falloff.stops(radius))} ± {known.falloff.stops_err(radius):.2f}"
        ((x, y),) = at[number]
        assert (x, y + 16) in [(a, pytest.approx(b)) for a, b in at[name]]


def test_few_zones_still_make_a_picture():
    svg = sky_map_svg(field(zones()[7:8], falloff=None), "x")
    inside(svg)
    words = texts(ET.fromstring(svg))
    assert "not tested: no two zones mirror each other" in words
    assert any(word.startswith("not tested: too few unclipped catalogue stars") for word in words)


def test_nothing_measured_is_refused():
    with pytest.raises(ValueError, match="no zone was measured: nothing to draw"):
        sky_map_svg(field(zones()[10:11]), "x")


def test_an_outline_holds_its_share_of_a_known_spot():
    y, x = np.mgrid[-60:61, -60:61] / 4.0
    spot = np.exp(-0.5 * (((x - 0.5) / 2) ** 2 + (y / 1) ** 2))
    points = outline(spot, 0.9, 4)
    # A Gaussian holds 90 % inside sqrt(2 ln 10) = 2.146 deviations.
    assert points[:, 0].max() == pytest.approx(0.5 + 2 * 2.146, abs=0.1)
    assert points[:, 1].min() == pytest.approx(-2.146, abs=0.1)
    assert np.sum(spot[spot > share_level(spot, 0.5)]) / spot.sum() == pytest.approx(0.5, abs=0.01)


def test_outlines_of_nothing_are_refused():
    with pytest.raises(ValueError, match="holds no light"):
        outline(np.zeros((5, 5)), 0.5, 4)
    with pytest.raises(ValueError, match="share is 1; it lies between 0 and 1"):
        outline(np.ones((5, 5)), 1.0, 4)


def test_crops_stand_at_their_zones_at_one_scale():
    shown = sheet()
    svg = star_crops_svg(shown.field, shown.crops, "Stars of x.dng")
    inside(svg)
    root = ET.fromstring(svg)
    images = {i.get("data-zone"): i for i in root.iter(f"{SPACE}image")}
    assert set(images) == {f"{c.row},{c.column}" for c in shown.crops}
    assert len({i.get("width") for i in images.values()}) == 1
    assert float(images["0,0"].get("x")) < float(images["0,4"].get("x"))
    assert float(images["0,0"].get("y")) < float(images["2,0"].get("y"))
    words = texts(root)
    assert words.count("no single unclipped star") == 15 - len(shown.crops)
    bar = next(w for w in words if "% of picture height =" in w)
    share, px = (float(v) for v in re.findall(r"[\d.]+", bar))
    assert bar.endswith("px; SNR: light of the star over its noise")
    assert px == pytest.approx(share * 40, rel=0.02)
    # The tile shows 21 px: the bar is as long as its words say.
    line = next(p for p in root.iter(f"{SPACE}polyline") if p.get("data-part") == "bar")
    ends = [float(p.split(",")[0]) for p in line.get("points").split()]
    assert (ends[1] - ends[0]) / float(images["0,0"].get("width")) == pytest.approx(px / 21, 0.02)


def test_a_crop_is_shown_pixel_by_pixel():
    shown = sheet()
    root = ET.fromstring(star_crops_svg(shown.field, shown.crops, "x"))
    address = next(root.iter(f"{SPACE}image")).get("href")
    seen = np.asarray(Image.open(io.BytesIO(b64decode(address.split(",")[1]))))
    times = seen.shape[0] // 21
    assert seen.shape == (21 * times, 21 * times)
    assert np.all(seen[:times, :times] == seen[0, 0])
    middle = seen[10 * times + 1, 10 * times + 1]
    assert middle == 255


def test_no_crops_are_refused():
    with pytest.raises(ValueError, match="no zone has a single unclipped star to show"):
        star_crops_svg(field(), (), "x")


def test_the_inks_are_the_houses():
    assert (sky_style.INK, sky_style.SOFT, sky_style.LINE) == (
        chart_style.INK, chart_style.SOFT, chart_style.LINE
    )  # fmt: skip
