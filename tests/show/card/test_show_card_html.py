"""The card as a page: nothing from outside, black first, no script, everything escaped."""

from dataclasses import replace
from datetime import date
from html.parser import HTMLParser

import pytest

from nightglass.gear.lens import Lens
from nightglass.show.card.html import cards_html
from nightglass.show.card.record import CardContext, bag_cards

MADE = date(2027, 5, 6)


class Page(HTMLParser):
    """Tags with their attributes, and the text that a reader sees."""

    def __init__(self, html: str) -> None:
        super().__init__()
        self.tags: list[tuple[str, dict[str, str | None]]] = []
        self.text: list[str] = []
        self.hidden = 0
        self.feed(html)

    def handle_starttag(self, tag, attrs):
        self.tags.append((tag, dict(attrs)))
        self.hidden += tag in ("style", "title")

    def handle_endtag(self, tag):
        self.hidden -= tag in ("style", "title")

    def handle_data(self, data):
        if not self.hidden and data.strip():
            self.text.append(data.strip())


def page_of(bag, lenses=None, **more):
    cards = bag_cards(
        lenses or bag.lenses, bag.ranking, bag.results, CardContext(bag.body, MADE, **more)
    )
    html = cards_html(cards)
    return html, Page(html)


def test_black_is_painted_before_anything_else(bag):
    html, page = page_of(bag)
    assert html.startswith('<!doctype html><html lang="en" style="background:#000">')
    assert page.tags[0] == ("html", {"lang": "en", "style": "background:#000"})
    assert ("meta", {"name": "color-scheme", "content": "dark"}) in page.tags


def test_nothing_comes_from_outside_and_nothing_runs(bag):
    html, page = page_of(bag)
    for tag, attributes in page.tags:
        assert tag not in ("script", "link", "img", "iframe", "object", "embed", "base", "form")
        assert not any(name.startswith("on") for name in attributes)
        for name in ("src", "srcset", "data", "action"):
            assert name not in attributes
        assert (attributes.get("href") or "#").startswith("#")
    assert "http:" not in html
    assert "https:" not in html
    assert "@import" not in html
    assert html.count("url(") == html.count("url(data:font/otf;base64,") == 2
    policy = {"http-equiv": "Content-Security-Policy"}
    [content] = [a["content"] for t, a in page.tags if t == "meta" and policy.items() <= a.items()]
    assert content.startswith("default-src 'none';")


def test_a_hostile_lens_name_is_only_text(bag):
    name = '<script>alert(1)</script> "quoted" & $title 星 24 mm'
    html, page = page_of(bag, (Lens(name, 24, 24, 2, 2), *bag.lenses))
    assert "<script" not in html
    assert all(tag != "script" for tag, _ in page.tags)
    assert name in page.text


def test_every_figure_is_on_the_page(bag):
    _, page = page_of(bag)
    text = " ".join(page.text).replace("\N{NO-BREAK SPACE}", " ")
    for standing in bag.ranking.standings:
        worth = standing.worth
        assert worth.setting.lens in page.text
        figures = (
            f"f/{worth.setting.f_number:g}", f"{worth.times.centre.remote_s:.0f} s",
            f"{worth.times.centre.dial_marked_s:g} s",
        )  # fmt: skip
        assert " · ".join(figures) in text
        assert f"{worth.lens_tightness_percent:.2f} % of height" in text
        assert str(worth.iso.iso) in text
    for word in ("not tested", "Made 2027-05-06", "This copy", "Any other lens", "jump × 1.7"):
        assert word in text


def test_order_is_aperture_then_remote_then_dial_then_iso(bag):
    _, page = page_of(bag, bag.lenses[:1])
    words = [w for w in page.text if w in ("f-number", "with remote", "no remote", "ISO")]
    assert words[:4] == ["f-number", "with remote", "no remote", "ISO"]


def test_anchors_are_large_enough_for_gloves(bag):
    """A CSS millimetre is 3.78 CSS px (CSS Values 4, 96 px per inch) but a phone of 360 CSS px and
    68 mm has 5.29 per real mm: 22 CSS mm are 15.7 real mm."""
    html, page = page_of(bag)
    anchors = [a["href"] for tag, a in page.tags if tag == "a"]
    identities = {a["id"] for _, a in page.tags if "id" in a}
    assert len(anchors) == 2 * len(bag.lenses)  # to each lens, and back to the list
    assert {href[1:] for href in anchors} <= identities
    assert "min-height:22mm" in html
    assert 22 * 96 / 25.4 / (360 / 68.0) >= 15.0
    _, single = page_of(bag, bag.lenses[:1])
    assert not [tag for tag, _ in single.tags if tag == "a"]


def test_no_strip_for_tonight_unless_it_is_given(bag):
    html, _ = page_of(bag)
    assert 'class="block night"' not in html


def test_no_cards_no_page():
    with pytest.raises(ValueError, match="no cards to draw; give at least one"):
        cards_html([])


def test_unknown_gear_reads_not_recorded(bag):
    bare = replace(bag, body=replace(bag.body, firmware=None))
    _, page = page_of(bare)
    assert "firmware not recorded" in " ".join(page.text)
