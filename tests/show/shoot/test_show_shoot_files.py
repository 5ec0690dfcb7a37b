"""The plan as files: check list that remembers ticks, print, table, sheet."""

import base64
import csv
import hashlib
import io
import json
import re
import shutil
import subprocess

import pytest
from pypdf import PdfReader
from shoot_benches import DIPPER, WREN, bench

from nightglass.shoot.plan import distances_of, plan_bench
from nightglass.show.csv_rows import csv_text
from nightglass.show.shoot.check_list import check_list
from nightglass.show.shoot.data import plan_data
from nightglass.show.shoot.files import write_plan
from nightglass.show.shoot.print import plan_pdf
from nightglass.show.shoot.sheet import how_to_shoot, is_ours, write_sheet
from nightglass.show.shoot.tables import line_rows

PLAN = plan_bench(bench(WREN, DIPPER, repeats=2, distance_m=10.0, source_mm=0.5))
KEY = re.compile(r'data-key="([0-9a-f]+-\d+)"')
BROWSER = """
const boxes = INPUTS.map(d => ({dataset: d, checked: false, parentNode: {className: ""},
  addEventListener(kind, deed) { this.deed = deed; }}));
const parts = {};
for (const id of ["done", "next", "gone", "unkept", "clear"])
  parts[id] = {textContent: "", hidden: true, dataset: {},
    addEventListener(kind, deed) { this.deed = deed; }};
globalThis.document = {body: {dataset: {name: "club"}}, querySelectorAll: () => boxes,
  getElementById: id => parts[id]};
const kept = STORED;
globalThis.localStorage = {
  getItem(key) { if (BROKEN) throw new Error("denied"); return key in kept ? kept[key] : null; },
  setItem(key, value) { if (BROKEN) throw new Error("denied"); kept[key] = value; }};
SCRIPT
const tap = k => { const box = boxes.find(b => b.dataset.key === k); box.checked = !box.checked;
  box.deed(); };
DEEDS
console.log(JSON.stringify({kept, ticked: boxes.filter(b => b.checked).map(b => b.dataset.key),
  words: Object.fromEntries(Object.entries(parts).map(
    ([k, p]) => [k, p.hidden ? "" : p.textContent])),
  next: boxes.filter(b => b.parentNode.className === "tick next").map(b => b.dataset.key)}));
"""


@pytest.fixture(scope="module")
def page():
    return check_list(PLAN, "club")


def script_of(page):
    return re.search(r"<script>(.*)</script>", page, re.DOTALL)[1]


@pytest.fixture
def browse(page):
    """Run the page's script over its own boxes in node, with a browser's storage pretended."""
    node = shutil.which("node")
    if node is None:
        pytest.skip("node is not installed: the check list's script can't be run")
    boxes = [
        {"key": key, "order": order, "minutes": minutes, "say": say}
        for key, order, minutes, say in re.findall(
            r'data-key="([^"]+)" data-order="(\d+)" data-minutes="([\d.]+)" data-say="([^"]+)"',
            page,
        )
    ]

    def run(deeds="", stored=None, broken=False):
        text = BROWSER.replace("INPUTS", json.dumps(boxes)).replace("SCRIPT", script_of(page))
        text = text.replace("STORED", json.dumps(stored or {})).replace("DEEDS", deeds)
        text = text.replace("BROKEN", "true" if broken else "false")
        done = subprocess.run([node, "-e", text], capture_output=True, text=True, check=True)
        return json.loads(done.stdout)

    return run


def in_order(page):
    pairs = re.findall(r'data-key="([^"]+)" data-order="(\d+)"', page)
    return [key for key, _ in sorted(pairs, key=lambda pair: int(pair[1]))]


def test_check_list_has_a_box_for_each_frame_in_the_order_of_rounds(page):
    keys = KEY.findall(page)
    assert len(set(keys)) == len(keys) == PLAN.total.frames
    measured = PLAN.blocks[1]
    first = [f"{line.id}-{turn}" for turn in (1, 2) for line in measured.lines]
    assert in_order(page)[3:13] == first


def test_check_list_is_one_file_that_asks_for_nothing(page):
    assert not re.search(r"(?:src|href)=|url\((?!data:)|https?://", page)
    digest = base64.b64encode(hashlib.sha256(script_of(page).encode()).digest()).decode()
    assert f"script-src 'sha256-{digest}'" in page
    assert "default-src 'none'" in page
    assert "width=device-width" in page
    assert "never look into it through a lens" in page


def test_names_are_text_everywhere():
    odd = bench(WREN.__class__('<script>"x"</script>', 12, 12, 2, 2))
    assert "<script>&#34;" not in check_list(plan_bench(odd), "</script><b>")
    assert check_list(plan_bench(odd), "</script><b>").count("<script>") == 1
    assert plan_pdf(plan_bench(odd), "</script><b>").startswith(b"%PDF")


def test_ticks_are_kept_and_come_back(browse, page):
    one, two, three = in_order(page)[:3]
    before = browse()
    assert before["words"]["done"].startswith(f"0 of {PLAN.total.frames} frames; ")
    assert before["next"] == [one]
    after = browse(f"tap('{one}'); tap('{two}');")
    assert after["words"]["done"].startswith(f"2 of {PLAN.total.frames} frames; ")
    assert after["next"] == [three]
    assert after["words"]["next"].startswith("Next: refocus, then Wren 12 mm f/2, f/2, centre")
    again = browse(stored=after["kept"])
    assert again["ticked"] == [one, two]
    assert browse(f"tap('{one}');", stored=after["kept"])["ticked"] == [two]


def test_ticks_of_lines_that_are_gone_are_told_and_kept(browse, page):
    stored = {"nightglass bench plan: club": json.dumps({"0123456789ab-1": True})}
    found = browse(f"tap('{in_order(page)[0]}');", stored=stored)
    assert found["words"]["gone"].startswith("1 tick belongs to lines that this plan no longer has")
    assert "0123456789ab-1" in found["kept"]["nightglass bench plan: club"]


def test_phone_that_keeps_nothing_says_so_and_rubbish_is_passed_over(browse, page):
    broken = browse(f"tap('{in_order(page)[0]}');", broken=True)
    assert broken["words"]["unkept"].startswith("This browser does not keep ticks")
    assert broken["words"]["done"].startswith("1 of ")
    for rubbish in ("{", "[1]", "null"):
        found = browse(stored={"nightglass bench plan: club": rubbish})
        assert found["ticked"] == []
        assert found["words"]["unkept"] == ""


def test_clearing_takes_two_taps(browse, page):
    one = in_order(page)[0]
    assert browse(f"tap('{one}'); parts.clear.deed();")["ticked"] == [one]
    assert browse(f"tap('{one}'); parts.clear.deed(); parts.clear.deed();")["ticked"] == []


def test_all_ticked_says_so(browse):
    assert (
        browse("for (const box of boxes) { box.checked = true; box.deed(); }")["words"]["next"]
        == "All frames are ticked."
    )


def test_print_holds_every_station_and_the_cautions():
    reader = PdfReader(io.BytesIO(plan_pdf(PLAN, "club")))
    text = " ".join(" ".join(page.extract_text().split()) for page in reader.pages)
    for words in ("Bench plan: club", "Wren 12 mm f/2", "Dipper 14-28 mm f/2.8-4, 20 mm", "20.6 m",
                  "IEC 62471", "Local rules come first", "reference lens, middle"):  # fmt: skip
        assert words in text


def test_table_and_data_hold_the_same_lines():
    rows = list(csv.DictReader(io.StringIO(csv_text(line_rows(PLAN)), newline="")))
    data = plan_data(PLAN)
    assert [row["line"] for row in rows] == [line["line"] for line in data["lines"]]
    assert sum(int(row["frames"]) for row in rows) == data["total"]["frames"]
    assert json.loads(json.dumps(data, allow_nan=False))["distances"][0]["lens"] == WREN.name
    alone = plan_data(plan_bench(bench(WREN, repeats=1)))
    assert alone["precision"]["counts_from_percent"] is None


def test_files_are_written(tmp_path):
    names = [path.name for path in write_plan(PLAN, "club", tmp_path / "out")]
    assert names == [f"bench_plan.{end}" for end in ("html", "pdf", "csv", "json")]
    assert sorted(p.name for p in (tmp_path / "out").iterdir()) == sorted(names)


def test_sheet_has_sizes_for_the_bag_and_the_cautions():
    file = bench(WREN, DIPPER, distance_m=10.0)
    sheet = how_to_shoot(file, distances_of(file))
    # 12 mm at 10 m on 6 um: 2.5 mm on the axis, over the corner's stretch of 2.0615.
    assert re.search(r"12 mm +10\.0 m +1\.21 mm +61 degrees +20\.6 m +Wren", sheet)
    for words in (
        "Local rules come first", "IEC 62471", "IEC 60825-1", "Do not stare", "the 10 m of",
        "Never aim a lens or an optical finder at the sun", "not alone", "traffic", "40-70 %",
        "Refocus before EACH",
    ):  # fmt: skip
        assert words in " ".join(sheet.split())
    assert max(map(len, sheet.splitlines())) <= 110


def test_sheet_is_made_anew_but_a_changed_one_is_kept(tmp_path):
    file = bench(WREN)
    sheet = how_to_shoot(file, distances_of(file))
    path, aside = write_sheet(sheet, tmp_path)
    assert aside is None
    assert is_ours(path.read_text("utf-8"))
    other = how_to_shoot(bench(DIPPER), distances_of(bench(DIPPER)))
    assert write_sheet(other, tmp_path) == (path, None)
    assert "Dipper" in path.read_text("utf-8")
    path.write_text(path.read_text("utf-8").replace("THE STAR", "MY STAR"), "utf-8")
    assert write_sheet(sheet, tmp_path)[1] == tmp_path / "HOW-TO-SHOOT-yours.txt"
    path.write_text("mine", "utf-8")
    assert write_sheet(sheet, tmp_path)[1] == tmp_path / "HOW-TO-SHOOT-yours-2.txt"
    assert "MY STAR" in (tmp_path / "HOW-TO-SHOOT-yours.txt").read_text("utf-8")
