"""The page on frames of the sky: self-contained, escaped, with every number and its source."""

from __future__ import annotations

import re
from html.parser import HTMLParser

import numpy as np
import pytest
from sky_sheets import sheet

from nightglass.show.digits import plus_minus
from nightglass.show.sky.report import (
    filtering_html,
    pictures,
    report_html,
    section_of,
    write_pictures,
    write_report,
)
from nightglass.sky.photometry.codes import FilterReason, FilterVerdict
from nightglass.sky.photometry.filtering import Filtering

VERDICT = Filtering("bulb <b>", 30.0, 2, FilterVerdict.FILTERED, 90, 0.1, (0.05, 0.18), 0.8,
                    FilterReason.CUT_TO_NEIGHBOURS, 9, np.full(90, 20.0),
                    np.full(90, 20.0))  # fmt: skip


class Reader(HTMLParser):
    """Keeps tags that are open at the end, and all addresses."""

    def __init__(self) -> None:
        super().__init__()
        self.open: list[str] = []
        self.addresses: list[str] = []

    def handle_starttag(self, tag, attrs):
        self.addresses += [v for k, v in attrs if k in ("href", "src") and v is not None]
        if tag not in ("meta", "br"):
            self.open.append(tag)

    def handle_startendtag(self, tag, attrs):
        self.addresses += [v for k, v in attrs if k in ("href", "src") and v is not None]

    def handle_endtag(self, tag):
        assert self.open.pop() == tag


def read(page: str) -> Reader:
    reader = Reader()
    reader.feed(page)
    assert reader.open == []
    return reader


def test_the_page_needs_nothing_from_outside():
    one = sheet()
    page = report_html([section_of(one, pictures(one))] * 2, [VERDICT])
    addresses = read(page).addresses
    assert addresses
    assert all(a.startswith(("data:image/png;base64,", "#")) for a in addresses)
    assert "default-src 'none'" in page
    assert "<script" not in page
    for anchor in (a for a in addresses if a.startswith("#")):
        assert f'id="{anchor[1:]}"' in page


def test_what_a_person_typed_is_escaped():
    one = sheet()
    page = report_html([section_of(one, pictures(one))], [VERDICT], "a <b> & c")
    assert "night &lt;1&gt;.dng" in page
    assert "night <1>" not in page
    assert "a &lt;b&gt; &amp; c" in page
    assert "bulb &lt;b&gt;, 30 s: filtered." in page


def test_numbers_of_every_zone_stand_in_the_table_with_their_errors():
    one = sheet()
    page = section_of(one, {}).html
    for zone in one.field.measured:
        assert f"{zone.length_px:.2f} ± {zone.length_px_err:.2f}" in page
        assert f'<td class="number">{zone.lean:+.2f} ± {zone.lean_err:.2f}</td>' in page
    assert page.count("not tested: 3 single unclipped stars stand out here") == 1
    heads = re.findall(r"<th[^>]*>([^<]*)</th>", page)
    assert heads[6:9] == ["lean", "red, px", "blue, px"]
    assert heads[5] == "points"
    rows = [row for row in re.findall(r"<tr>(.*?)</tr>", page) if '"name">top left<' in row]
    assert rows[0].count("<td") == len(heads)
    assert "fit to 800 stars" in page
    assert "Right over left: " in page
    assert "real, right softer" in page


def test_a_frame_that_was_not_solved_has_its_reason_and_no_picture():
    from dataclasses import replace

    bare = replace(sheet(), field=None, crops=(), no_field="not solved")
    assert pictures(bare) == {}
    section = section_of(bare, {})
    assert section.glance[1] == "not solved"
    assert "<svg" not in report_html([section])


def test_on_a_phone_rows_become_cards_and_pictures_scroll_in_their_own_box():
    one = sheet()
    page = report_html([section_of(one, pictures(one))] * 2, [VERDICT])
    cells = re.findall(r'data-name="([^"]+)">([^<]*)<', page)
    assert cells[:3] == [
        ("centre, % of height", "0.075 ± 0.003"),
        ("edges, % of height", section_of(one, {}).glance[2]),
        ("corners, % of height", section_of(one, {}).glance[3]),
    ]
    assert page.count('<figure class="map">') == 5
    phone = page[page.index("@media screen and (max-width:700px){") :]
    for rule in (
        ".map{overflow-x:auto}",
        ".glance td{display:block;width:auto}",
        ".glance td.number::before{content:attr(data-name)",
    ):
        assert rule in phone[: phone.index("@media print")]


def test_filtering_has_its_verdict_and_picture():
    part = filtering_html([VERDICT])
    assert "bulb &lt;b&gt;, 30 s: filtered." in part
    assert "<svg" in part


def test_files_are_written_into_a_new_folder(tmp_path):
    one = sheet()
    folder = tmp_path / "new é"
    written = write_pictures(pictures(one), folder, "night")
    assert [path.name for path in written] == [
        "map_night.svg", "map_night.png", "stars_night.svg", "stars_night.png"
    ]  # fmt: skip
    assert all(path.stat().st_size > 1000 for path in written)
    page = write_report(report_html([section_of(one, {})]), folder)
    assert re.match("<!doctype html>", page.read_text(encoding="utf-8"))


def test_nothing_to_report_is_refused():
    with pytest.raises(ValueError, match="nothing to report: no frame was read"):
        report_html([])


@pytest.mark.parametrize(
    ("value", "err", "text"),
    [(2000.412, 1.23, "2000.4 ± 1.2 px"), (0.12345, 0.0042, "0.1235 ± 0.0042 px"),
     (1805.2, 12.0, "1805 ± 12 px"), (3.0, None, "3 px"), (3.0, 0.0, "3 px")],
)  # fmt: skip
def test_values_and_errors_have_the_digits_of_the_error(value, err, text):
    assert plus_minus(value, err, "px") == text
