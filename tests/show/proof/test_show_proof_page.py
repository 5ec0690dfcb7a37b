"""The page of bench against sky: self-contained, escaped, with the text's verdict and numbers."""

from __future__ import annotations

import base64
import io
import json
import math
import re
from dataclasses import replace
from html import unescape
from html.parser import HTMLParser

import cli_results
import numpy as np
import pytest
from PIL import Image

from nightglass.gear.benchfile import BenchFile
from nightglass.gear.body import Body
from nightglass.gear.lens import Lens
from nightglass.proof.assumptions import proof_assumptions
from nightglass.proof.codes import ALL_CODES, FrameReasonCode, PredictionReasonCode
from nightglass.proof.comparison.bench_and_sky import compare_bench_and_sky
from nightglass.proof.reasons import FrameReason, PredictionReason
from nightglass.proof.records import (
    FrameNight,
    Prediction,
    RedrawnSize,
    SkyFrame,
)
from nightglass.proof.redraw.pair import StarPair
from nightglass.show.page import render, write_page
from nightglass.show.proof.chart import STATES, proof_chart
from nightglass.show.proof.data import proof_data
from nightglass.show.proof.page import proof_html
from nightglass.show.proof.text import proof_lines, size_words
from nightglass.sky.astrometry.codes import Advice, UnsolvedReason
from nightglass.sky.astrometry.solve import Unsolved
from nightglass.sky.photometry.codes import LimitSource
from nightglass.sky.zones.zone import Zone
from nightglass.verdict.records import Interval

BODY = Body("Loan body", pitch_um=6.05, width_px=3872, height_px=2592)
WREN = "Wren <35> & co"
SIZES = {WREN: 5.0, "Dipper": 7.0, "Siskin": 10.0}


class Reader(HTMLParser):
    """Keeps tags that are open at the end, all addresses and all text."""

    def __init__(self, page: str) -> None:
        super().__init__()
        self.open: list[str] = []
        self.addresses: list[str] = []
        self.text = ""
        self.feed(page)

    def handle_starttag(self, tag, attrs):
        self.addresses += [v for k, v in attrs if k in ("href", "src", "srcset") and v is not None]
        if tag not in ("meta", "br", "img"):
            self.open.append(tag)

    def handle_startendtag(self, tag, attrs):
        self.addresses += [v for k, v in attrs if k in ("href", "src") and v is not None]

    def handle_endtag(self, tag):
        assert self.open.pop() == tag

    def handle_data(self, data):
        self.text += data + " "


def read(page: str) -> Reader:
    reader = Reader(page)
    assert reader.open == []
    return reader


def picture(bright=400.0, half=12) -> StarPair:
    """Make a star of sigma 1.5 px on the sky, 3 px as the bench's spot draws it, of equal light."""
    y, x = np.mgrid[-half : half + 1, -half : half + 1]
    sky, drawn = (
        (bright / s**2 * np.exp(-(x**2 + y**2) / (2 * s**2))).astype(np.float32) for s in (1.5, 3.0)
    )
    return StarPair(101.0, 202.0, 80.0, 9, sky, drawn)


def zone(row, column, x, y, radius, size) -> Zone:
    return Zone(
        row, column, x, y, radius, 40, length_px=size, length_px_err=0.03 * size, width_px=size,
        width_px_err=0.03 * size, trail_expected_px=(5.0, 1.0), trail_seen_px=(5.0, 1.0),
    )  # fmt: skip


def night() -> FrameNight:
    return FrameNight(
        light=Prediction(12.5, 12.6, ratio=Interval(1.1, 0.9, 1.3)),
        limit=Prediction(9.5, 9.1, ratio=Interval(-0.4, -0.6, -0.2), even=0.0),
        stars=Prediction(2000.0, 1500.0, ratio=Interval(0.75, 0.6, 0.95)),
        glow=Prediction(
            reason=PredictionReason(PredictionReasonCode.NO_LIMIT, LimitSource.TOO_FEW_STARS)
        ),
        tested_share=0.9,
    )


def case(sizes=SIZES, ratio=1.05):
    """Return bench and frames of lenses, each frame with a picture at the centre."""
    results = [cli_results.setting(name, 12.0, 2.8, size) for name, size in sizes.items()]
    frames = [
        SkyFrame(
            f"sky/{n}.dng", result.setting,
            (zone(1, 2, 1935.5, 1295.5, 0.0, ratio * size),
             zone(0, 0, 387.0, 432.0, 0.76, 1.1 * ratio * size)),
            stars=900, limiting_mag=9.1,
            redrawn_sizes=(
                RedrawnSize("centre", 66, math.log(ratio), 0.01, 30, 8.0, 8 * ratio, picture()),
            ),
            night=night(),
        )
        for n, (result, size) in enumerate(zip(results, sizes.values(), strict=True))
    ]  # fmt: skip
    return results, frames


def page_of(results, frames, **more) -> tuple[str, object]:
    proof = compare_bench_and_sky(results, frames, BODY)
    lenses = tuple(Lens(name, 12.0, 12.0, 2.0, 2.0) for name in SIZES)
    assumed = proof_assumptions(BenchFile(BODY, lenses), proof, place_known=False)
    return proof_html(proof, assumed, **more), proof


def test_the_page_needs_nothing_from_outside():
    page, _ = page_of(*case(), chart_svg='<svg xmlns="http://www.w3.org/2000/svg"></svg>')
    reader = read(page)
    assert len(reader.addresses) == 6
    assert all(a.startswith("data:image/png;base64,") for a in reader.addresses)
    assert "default-src 'none'" in page
    assert "<script" not in page
    assert set(re.findall(r"url\((?!data:)[^)]*\)", page)) == set()
    assert set(re.findall(r"https?://[^\"' ]*", page)) == {"http://www.w3.org/2000/svg"}


def test_what_a_person_typed_is_escaped():
    page, _ = page_of(*case(), hints=["no file <like> this"], name="my <bench>")
    assert "<35>" not in page
    assert "Wren &lt;35&gt; &amp; co" in page
    for words in ("no file &lt;like&gt; this", "my &lt;bench&gt;"):
        assert words in page.replace("No file", "no file")


def test_the_verdict_comes_first_and_every_number_is_the_text_s():
    page, proof = page_of(*case())
    text = read(page).text
    body = text.split("Bench against sky", 2)[2]
    first = body.index("The bench order holds, judged at centre and corner.")
    assert first < body.index("Next: ") < body.index("Setting by")
    said = "\n".join(proof_lines(proof))
    pairs = (
        "Pairs of settings by these places: 3 in the same order on bench and sky, 0 reversed, "
        "0 undecided."
    )
    assert pairs in said
    assert pairs in text
    for setting in proof.settings:
        for place in setting.places:
            for ratio in (place.ratio, place.as_measured_ratio):
                if ratio is not None:
                    assert size_words(ratio.value, ratio) in text
                    # The same digits stand in the text's table.
                    assert f"{ratio.value:.2f}" in said
                    assert f"{ratio.low:.2f} to {ratio.high:.2f}" in said
    assert "-0.40 (-0.60 to -0.20) less than predicted" in re.sub(r"\s+", " ", text)
    assert "can't be told: too few stars near the limit" in unescape(text)
    assert "Stars and limit over 90 % of the frame" in text


def test_the_order_has_sizes_with_intervals_on_both_sides():
    page, proof = page_of(*case())
    text = re.sub(r"\s+", " ", read(page).text)
    first = proof.settings[-1].bench_worst
    assert first.bench_px == pytest.approx(5.5, rel=0.01)
    # Three repeats of 1, 1.02, 0.98: ln-scatter 0.0200, over root 3; pooled over the lens's two
    # places: 4 degrees of freedom, Student's t 2.776 (any handbook of statistics).
    half = 2.776 * 0.02 / math.sqrt(3)
    assert math.log(first.bench_span.high / first.bench_px) == pytest.approx(half, rel=0.02)
    assert f"bench 1 corner 0.21 % {size_words(first.bench_px, first.bench_span)}" in text


def judged(alone, alike):
    """Return a proof of one place whose two comparisons say what is planted."""
    results, frames = case({WREN: 5.0}, ratio=alone)
    redrawn_sizes = tuple(
        replace(one, log_ratio=math.log(alike)) for one in frames[0].redrawn_sizes
    )
    return [results[0]], [replace(frames[0], redrawn_sizes=redrawn_sizes)]


def table_row(lines, place, way):
    at = next(k for k, line in enumerate(lines) if line.strip().startswith(place))
    return next(line for line in lines[at:] if way in line)


@pytest.mark.parametrize(
    ("alone", "alike", "side", "words"),
    [
        (1.3, 1.0, "within the errors", "larger on the sky, but not as measured"),
        (1.0, 1.3, "larger on the sky", ""),
        (0.7, 0.7, "smaller on the sky", "smaller on the sky"),
    ],
)
def test_text_page_chart_and_data_judge_alike(alone, alike, side, words):
    results, frames = judged(alone, alike)
    page, proof = page_of(results, frames)
    lines = list(proof_lines(proof))
    alone_row = table_row(lines, "centre", "lens alone")
    alike_row = table_row(lines, "centre", "  as measured ")
    assert re.search(rf"  40 *{words}$", alone_row)
    said = "" if side == "within the errors" else side
    assert re.search(rf"  66 *{said}$", alike_row)
    text = re.sub(r"\s+", " ", read(page).text)
    for part in (words, said):
        assert not part or f") {part}" in text
    layers = proof_chart(proof).to_dict()["layer"]
    drawn = [row for layer in layers for row in layer.get("data", {}).get("values", [])]
    point = [row for row in drawn if row.get("name", "").endswith("centre")]
    assert {(r["decides"], r["state"]) for r in point} == {(True, side), (False, side)}
    # The coloured one is the one as measured, in % of the height.
    assert next(r["bench"] for r in point if r["decides"]) == pytest.approx(100 * 8 / 2592)
    data = proof_data(proof)["settings"][0]["places"][0]
    assert data["decided_by"] == "as_measured"
    assert STATES[data["differs"]] == side
    assert data["lens_alone_differs"] == proof.settings[0].places[0].lens_alone_differs


def test_why_a_size_as_measured_may_be_the_smaller_one_is_said_once():
    page, proof = page_of(*case())
    text, lines = read(page).text, "\n".join(proof_lines(proof))
    for said in (text, lines):
        assert said.count("single stars lose their faint tails in noise and among neighbours") == 1


@pytest.mark.parametrize("names", ["abc", "abcd"])
def test_tau_is_shown_from_four_settings_on_and_explained_once(names):
    # With three, one order of 3 x 2 x 1 = 6 is the same by chance: no tau with an empty interval.
    page, proof = page_of(*case({name: 5.0 * 1.4**k for k, name in enumerate(names)}))
    few = len(names) == 3
    assert proof_data(proof)["tau"] == {"value": 1.0, "low": 1.0, "high": 1.0}
    for said in (re.sub(r"\s+", " ", read(page).text), "\n".join(proof_lines(proof))):
        assert ("three settings are too few to tell an order" in said) is few
        assert ("tau 1.00 (1.00 to 1.00)" in said) is not few
        explained = "au is 1 where all pairs of settings stand in the same order"
        assert said.count(explained) == (0 if few else 1)
        words = "Pairs of settings by these places"
        assert few or said.index(words) < said.index("Kendall's tau")


def strings_in(data):
    if isinstance(data, dict):
        return {s for value in data.values() for s in strings_in(value)}
    if isinstance(data, list):
        return {s for value in data for s in strings_in(value)}
    return {str(data)} if isinstance(data, str) else set()


def test_plain_data_hold_codes_and_names_but_no_sentences():
    results, frames = case({**SIZES, WREN: 30.0}, ratio=1.3)
    lost = SkyFrame("sky/lost.dng", None, reason=FrameReason(FrameReasonCode.NO_EXPOSURE))
    proof = compare_bench_and_sky(results, [*frames[:2], lost], BODY)
    codes = {code.value for kind in ALL_CODES for code in kind}
    names = {frame.file for frame in proof.frames}
    for setting in {result.setting for result in results}:
        names |= {setting.body, setting.lens}
    words = strings_in(json.loads(json.dumps(proof_data(proof)))) - codes - names
    # Places and zones, why the limit is not known, and "" where a code says all.
    assert words == {"", "centre", "corner", "here", "too_few_stars"}


def test_a_zone_that_stands_in_is_told_in_table_page_and_data():
    results, frames = case({WREN: 5.0})
    centre, corner = frames[0].zones
    zones = (
        replace(centre, column=3, x_px=1935.5 + 600),
        replace(corner, columns=2, x_px=774.0),
    )
    page, proof = page_of(results, [replace(frames[0], zones=zones)])
    lines = list(proof_lines(proof))
    notes = (
        "* centre: lens alone by the zone beside it, its middle 23 % of height away, carried here "
        "by the change between zones",
        "* corner: lens alone by two zones joined, because each alone has too few stars",
    )
    text = re.sub(r"\s+", " ", read(page).text)
    data = proof_data(proof)["settings"][0]["places"]
    for note, place, told in zip(notes, ("centre *", "corner *"), data, strict=True):
        assert f"  {note}" in lines
        assert note in text
        assert any(line.startswith(f"  {place}  ") for line in lines)
        assert f"{place} " in text
        assert "zone_note" not in told
    assert [told["zone"] for told in data] == ["beside", "here"]
    assert [told["zone_joined"] for told in data] == [False, True]


def test_sizes_are_told_in_percent_of_height_first():
    page, proof = page_of(*case({WREN: 5.0}))
    place = proof.settings[0].places[1]
    # 100 x 5.5 / 2592.
    assert place.bench_px == pytest.approx(5.5, rel=0.01)
    words = f"0.21 % ({place.bench_px:.2f} px)"
    assert words in table_row(list(proof_lines(proof)), "corner", "lens alone")
    assert words in read(page).text


def test_stars_stand_side_by_side_at_one_scale_and_one_stretch():
    page, _ = page_of(*case())
    addresses = read(page).addresses
    tiles = [
        np.asarray(Image.open(io.BytesIO(base64.b64decode(a.split(",", 1)[1])))) for a in addresses
    ]
    # Half a tile of 9 px, the largest star's reach; 19 px at 17 dots each.
    assert {tile.shape for tile in tiles} == {(323, 323)}
    sky, drawn = (tile[323 // 2, 323 // 2] for tile in tiles[:2])
    # Equal light: the spot of twice the size has a quarter of the peak, half after the root.
    assert (sky, drawn) == (255, 128)
    text = read(page).text
    assert text.count("bench, drawn as this star") == 3
    assert "0.5 % of height = 13.0 px" in text
    share = 50 * 0.5 / (100 * 19 / 2592)
    assert f"width:{share:.2f}%" in page


def test_a_setting_without_a_redrawn_star_has_no_picture():
    results, frames = case({WREN: 5.0})
    page, _ = page_of(results, [replace(frames[0], redrawn_sizes=())])
    assert "<img" not in page
    assert "Can't tell: 1 setting has both bench and sky" in read(page).text


def test_nothing_compared_and_every_frame_with_its_reason():
    results, _ = case()
    cloud = FrameReason(
        FrameReasonCode.NOT_SOLVED,
        unsolved=Unsolved(UnsolvedReason.TOO_FEW_STARS, 4, Advice.MORE_LIGHT),
    )
    crake = FrameReason(FrameReasonCode.NOT_ASSIGNED, 'the lens "<Crake>" is not in the bag')
    lost = [
        SkyFrame("sky/cloud.dng", results[0].setting, reason=cloud),
        SkyFrame("sky/other.dng", None, reason=crake),
    ]
    page, _ = page_of(results, lost)
    text = re.sub(r"\s+", " ", read(page).text)
    assert "Can't tell: 0 settings have both bench and sky" in text
    assert "No chart: no place has a size on both bench and sky" in text
    assert "0 frames of the sky compared, 2 not compared" in text
    assert text.count("not used") == 2
    assert "not solved: only 4 stars stand out; a solution takes 8 or more; expose longer" in text
    assert 'the lens "<Crake>" is not in the bag' in text
    assert "no frame of the sky" in text
    page, _ = page_of([], [])
    assert "No setting of the bench has a frame of the sky" in page


def test_undecided_pairs_are_named():
    page, _ = page_of(*case({WREN: 5.0, "Dipper": 5.01, "Siskin": 10.0}))
    text = re.sub(r"\s+", " ", read(page).text)
    assert "Undecided: Wren <35> & co, 12 mm, f/2.8 and Dipper, 12 mm, f/2.8" in text


def test_what_was_assumed_and_cautions_are_there():
    text = read(page_of(*case())[0]).text
    for words in (
        "not known: moon and twilight not checked",
        "not known: light and glow not compared",
        "Never point a laser at the sky",
        "Local rules and licensed practice",
    ):
        assert words in text


def test_a_page_is_written_into_a_new_folder(tmp_path):
    path = write_page(render("page.html", title="a <b>"), tmp_path / "new é" / "proof.html")
    assert "<title>a &lt;b&gt;</title>" in path.read_text(encoding="utf-8")
