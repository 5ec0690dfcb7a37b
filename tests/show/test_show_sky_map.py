"""The map of a sky frame: strokes, numbers, and zones that were not tested."""

from __future__ import annotations

import xml.etree.ElementTree as ET

import pytest

from nightglass.show.sky_map import ZoneMark, in_numbers, sky_map_svg, write_sky_map

ZONES = (
    ZoneMark(300, 500, 0.83, 6.0, 4.0, 30.0, (5.0, 1.0), 40),
    ZoneMark(900, 500, 0.0, 3.0, 3.0, 0.0, (4.0, 0.0), 40),
    ZoneMark(1500, 500, 0.83, 9.0, 5.0, 150.0, (5.0, -1.0), 40),
    ZoneMark(900, 100, 0.55),
)


def test_lens_and_trail_differ_by_stroke_and_untested_zones_say_so():
    root = ET.fromstring(sky_map_svg(ZONES, 1800, 1000, "Wren 12 mm, f/2 <test>"))
    space = "{http://www.w3.org/2000/svg}"
    assert len(root.findall(f"{space}ellipse")) == 3
    dashed = [line for line in root.iter(f"{space}line") if line.get("stroke-dasharray")]
    assert len(dashed) == 3
    words = [text.text for text in root.iter(f"{space}text")]
    assert "not tested" in words
    assert "0.600 %" in words
    assert "Wren 12 mm, f/2 <test>" in words


def test_numbers_of_centre_edges_corners_and_decentring():
    rows = dict(in_numbers(ZONES, 0.1))
    assert rows["centre"] == "0.300 % of height (3.0 px)"
    assert rows["edges"] == "not tested"
    assert rows["corners"] == "0.750 % of height (7.5 px), 0.600 to 0.900"
    assert rows["right over left"] == "1.50 (1 for a centred lens)"


def test_both_files_are_written(tmp_path):
    svg, png = write_sky_map(sky_map_svg(ZONES, 1800, 1000, "é 星"), tmp_path / "a b")
    assert svg.name == "a b.svg"
    assert png.read_bytes().startswith(b"\x89PNG")


def test_nothing_measured_is_refused():
    with pytest.raises(ValueError, match="no zone was measured: nothing to draw"):
        sky_map_svg(ZONES[3:], 100, 100, "x")
