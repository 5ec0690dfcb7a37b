"""Charts: drawn without browser or network, with every number, shape and word in them."""

import re
import xml.etree.ElementTree as ElementTree
from dataclasses import replace

import numpy as np
import pytest
from PIL import Image

from nightglass.show.chart_style import safe, save_chart, shortened
from nightglass.show.ranking.charts import ranking_chart
from nightglass.show.ranking.files import write_charts
from nightglass.show.ranking.frontier_chart import frontier_chart
from nightglass.show.ranking.map_chart import lens_map_chart

A5_MM = 210.0
SVG = "{http://www.w3.org/2000/svg}"


def over_limit(ranking):
    """The last two lenses over the limit, the first at limit."""
    first, *middle = ranking.standings[:-2]
    last = [
        replace(
            s,
            over_limit=True,
            worth=replace(s.worth, over_limit_percent=0.16, lens_tightness_percent=0.41),
        )
        for s in ranking.standings[-2:]
    ]
    first = replace(first, worth=replace(first.worth, at_limit=True, tightness_interval=None))
    return replace(ranking, standings=(first, *middle, *last))


def svg_of(chart, tmp_path):
    svg, _ = save_chart(chart, tmp_path / "chart")
    return ElementTree.fromstring(svg.read_text(encoding="utf-8"))


def texts(root) -> list[str]:
    return ["".join(node.itertext()).strip() for node in root.iter(f"{SVG}text")]


@pytest.fixture(scope="module")
def folder(tmp_path_factory, bag):
    """All charts of a bag, with maps of two lenses only: drawing is what takes the time."""
    folder = tmp_path_factory.mktemp("charts")
    mapped = tuple(w for w in bag.ranking.worths if w.setting.lens.startswith(("Curlew", "Plover")))
    unbeaten = tuple(w for w in bag.ranking.unbeaten if w in mapped)
    ranking = replace(over_limit(bag.ranking), worths=mapped, unbeaten=unbeaten)
    return folder, ranking, list(write_charts(ranking, folder))


def test_ranking_front_and_a_map_per_lens_are_written(folder):
    where, _, files = folder
    names = {path.name for path in files}
    assert {path.name for path in where.iterdir()} == names
    assert {"ranking.svg", "ranking.png", "light_and_tightness.svg"} <= names
    assert len([name for name in names if name.startswith("map_")]) == 2 * 2


def test_ranking_says_place_lens_score_blur_limit_and_state(folder):
    where, ranking, _ = folder
    said = texts(ElementTree.fromstring((where / "ranking.svg").read_text(encoding="utf-8")))
    for standing in ranking.standings:
        worth = standing.worth
        assert str(standing.place) in said
        assert worth.setting.lens in said
        assert f"{worth.score.value:.0f}" in said
        assert any(t.startswith(f"{worth.lens_tightness_percent:.2f} %") for t in said)
    assert "your limit" in said
    # Each number stands there twice: on its halo of paper, and in ink.
    assert len([t for t in said if t.endswith("over limit")]) == 2 * 2
    assert len([t for t in said if t.endswith("at limit")]) == 2 * 1
    assert any("Not ranked: Sandpiper" in t for t in said)


def test_over_limit_is_a_shape_not_only_a_colour(folder):
    """Circles have arcs, triangles straight lines only: outlines of the symbols."""
    where, ranking, _ = folder
    root = ElementTree.fromstring((where / "ranking.svg").read_text(encoding="utf-8"))
    outlines = [
        path.get("d")
        for group in root.iter(f"{SVG}g")
        if "mark-symbol" in (group.get("class") or "")
        for path in group.iter(f"{SVG}path")
    ]
    triangles = [d for d in outlines if d and "A" not in d]
    circles = [d for d in outlines if d and "A" in d]
    # A score point and a blur point for each lens.
    assert (len(triangles), len(circles)) == (2 * 2, 2 * (len(ranking.standings) - 2))


def test_error_bars_are_the_95_percent_intervals(bag):
    spec = ranking_chart(bag.ranking).to_dict()
    rows = spec["hconcat"][1]["layer"][0]["data"]["values"]
    for row, standing in zip(rows, bag.ranking.standings, strict=True):
        score, blur = standing.worth.score, standing.worth.tightness_interval
        assert (row["low"], row["high"]) == (score.low, score.high)
        assert (row["blur_low"], row["blur_high"]) == (blur.low, blur.high)


def test_no_bar_is_made_up_where_the_spread_is_not_known(bag, tmp_path):
    first = bag.ranking.standings[0]
    bare = replace(
        first.worth, score=replace(first.worth.score, low=None, high=None), tightness_interval=None
    )
    ranking = replace(bag.ranking, standings=(replace(first, worth=bare),))
    root = svg_of(ranking_chart(ranking), tmp_path)
    bars = [g for g in root.iter(f"{SVG}g") if "mark-rule" in (g.get("class") or "")]
    assert sum(len(list(g.iter(f"{SVG}line"))) for g in bars) == 1 + _grid_lines(bars)
    assert first.worth.setting.lens in texts(root)


def test_one_uncertain_lens_does_not_squeeze_the_others(bag):
    first, second, *rest = bag.ranking.standings
    wild = replace(second.worth, score=replace(second.worth.score, high=5000.0))
    ranking = replace(bag.ranking, standings=(first, replace(second, worth=wild), *rest))
    spec = ranking_chart(ranking).to_dict()
    axis = spec["hconcat"][1]["layer"][0]["encoding"]["x"]["scale"]["domain"]
    assert axis[1] == pytest.approx(2.5 * 100 * 1.02)
    assert any("goes on: its lens needs more repeats" in t for t in spec["title"]["subtitle"])


def _grid_lines(groups) -> int:
    return sum(
        len(list(g.iter(f"{SVG}line"))) for g in groups if "role-axis" in (g.get("class") or "")
    )


def test_map_prints_every_number_and_words_for_gaps_and_jumps(folder, bag):
    where, _, _ = folder
    said = texts(
        ElementTree.fromstring(
            (where / "map_Curlew-17-45-mm-f-2-5-4-5.svg").read_text(encoding="utf-8")
        )
    )
    curlew = [w for w in bag.ranking.worths if w.setting.lens.startswith("Curlew")]
    for worth in curlew:
        blur = worth.lens_tightness_percent
        assert (f"{blur:.2f}" if blur >= 0.1 else f"{blur:.3f}") in said
    cells = 6 * 6
    # Untested cells take no room: no word, no frame.
    assert "not tested" not in said
    assert len(curlew) < cells
    assert said.count("jump × 1.7") == 2
    assert "Blur jumps at 28 mm: 1.7 times that of the zoom positions beside it." in "".join(said)


def test_front_numbers_the_unbeaten_settings(folder):
    where, ranking, _ = folder
    said = texts(
        ElementTree.fromstring((where / "light_and_tightness.svg").read_text(encoding="utf-8"))
    )
    for number in range(1, len(ranking.unbeaten) + 1):
        assert said.count(str(number)) >= 2
    for worth in ranking.unbeaten:
        assert worth.setting.lens in said
    assert {"within your limit", "over your limit"} <= set(said)


def test_text_is_readable_at_a5(folder, big_bag, tmp_path):
    """Smallest letters at least 2.2 mm of type (6.3 points) when a chart is as wide as A5 lies."""
    _, _, files = folder
    big = save_chart(ranking_chart(big_bag.ranking), tmp_path / "ranking12")
    for path in (p for p in [*files, *big] if p.suffix == ".svg"):
        root = ElementTree.fromstring(path.read_text(encoding="utf-8"))
        width = float(root.get("width"))
        sizes = [float(s) for s in re.findall(r'font-size="([\d.]+)px"', path.read_text("utf-8"))]
        assert min(sizes) * A5_MM / max(width, 600) > 2.2, path.name


def test_pictures_have_a_margin_and_nothing_is_cut(folder):
    _, _, files = folder
    for path in (p for p in files if p.suffix == ".png"):
        image = np.asarray(Image.open(path).convert("L"))
        for edge in (image[:10], image[-10:], image[:, :10], image[:, -10:]):
            assert edge.min() == 255, path.name


def test_svg_asks_for_nothing_from_outside(folder):
    for path in (p for p in folder[2] if p.suffix == ".svg"):
        text = path.read_text(encoding="utf-8")
        assert not re.search(r'(href|src)="(?!#)', text)
        assert "<script" not in text


def test_odd_names_stay_text(bag_of, tmp_path):
    from nightglass.gear.lens import Lens

    names = ('<b>& "quoted" 24 mm', "x" * 90, "<b>& 星 24 mm")
    odd = bag_of(tuple(Lens(name, 24, 24, 2, 2) for name in names))
    drawn = svg_of(ranking_chart(odd.ranking), tmp_path)
    said = texts(drawn)
    assert safe(names[0]) == names[0]
    assert names[0] in said
    assert names[2] in [group.get("aria-label") for group in drawn.iter(f"{SVG}g")]
    assert shortened("x" * 90, 44) in said
    assert len(shortened("x" * 90, 44)) == 44


def test_bad_input_is_refused_in_words(bag, tmp_path):
    empty = replace(bag.ranking, standings=(), worths=(), unbeaten=())
    with pytest.raises(ValueError, match="no lens could be ranked; the reasons are in not_ranked"):
        ranking_chart(empty)
    with pytest.raises(ValueError, match="no setting was judged"):
        frontier_chart(empty)
    with pytest.raises(ValueError, match='no setting of "Godwit" was judged; lenses with'):
        lens_map_chart("Godwit", bag.ranking)
    assert list(write_charts(empty, tmp_path)) == []
    (tmp_path / "in the way").write_text("a file")
    with pytest.raises(OSError, match="exists"):
        save_chart(ranking_chart(bag.ranking), tmp_path / "in the way" / "chart")
