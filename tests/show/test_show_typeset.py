"""Typesetting: fonts on hand only, and Latin text is never lost."""

import typst

from nightglass.show.typefaces import FONT_FOLDER, PACKAGES, REPLACEMENT, drawable, font_folders

TITLE = "星 ★ ☾ 🔭 シグマ é"


def test_characters_of_fonts_on_hand_stay_and_others_become_squares():
    assert drawable(TITLE) == TITLE
    # Egyptian hieroglyphs and a private letter are in no font on hand; controls never are.
    assert drawable("a \U00013000 \ue000\x1b b") == "a □ □□ b"
    assert (
        drawable("Ørsted Żuraw\tАист\nΓερανός 24 mm f/2.8")
        == "Ørsted Żuraw Аист Γερανός 24 mm f/2.8"
    )
    assert drawable(REPLACEMENT) == REPLACEMENT


def test_fonts_of_other_scripts_are_read_only_where_a_text_needs_them():
    assert font_folders("Żuraw 12 mm, ±0.5 → ☾") == [FONT_FOLDER]
    assert len(font_folders("星")) == 1 + len(PACKAGES)


def svg_of(text: str) -> str:
    source = (
        '#set page(width: 40pt, height: 40pt, margin: 4pt)\n'
        '#set text(font: ("B612", "DejaVu Sans Mono"), size: 20pt)\n' + text
    ).encode()  # fmt: skip
    compiler = typst.Compiler(input=source, font_paths=[FONT_FOLDER], ignore_system_fonts=True)
    return compiler.compile(format="svg").decode()


def outline(text: str) -> str:
    """The drawn outline of one character, without the ids that typst gives to glyphs."""
    svg = svg_of(text)
    start = svg.find("<path", svg.find("<symbol"))
    return svg[svg.find(' d="', start) : svg.find("/>", start)]


def test_every_range_that_counts_as_covered_has_glyphs():
    """A character without a glyph is drawn as the font's empty box, the same for all of them."""
    box = outline("星")
    assert box == outline("シ")
    for character in "aéŁżΣωЖя→−≈≤■▲▶○★☆☾•…²":
        assert drawable(character) == character
        assert outline(character) != box, character


def test_shipped_fonts_have_their_licence_beside_them():
    names = sorted(path.name for path in FONT_FOLDER.iterdir())
    assert names == ["B612-Bold.otf", "B612-Regular.otf", "OFL.txt"]
    licence = (FONT_FOLDER / "OFL.txt").read_text(encoding="utf-8")
    assert "SIL OPEN FONT LICENSE Version 1.1" in licence
