"""Typesetting: shipped fonts only, and Latin text is never lost."""

import typst

from nightglass.show.typeset import FONT_FOLDER, REPLACEMENT, drawable

TITLE = "星 ★ ☾ 🔭 シグマ é"


def test_characters_without_a_glyph_become_squares_and_the_rest_stays():
    assert drawable(TITLE) == "□ ★ ☾ □ □□□ é"
    assert (
        drawable("Ørsted Żuraw\tАист\nΓερανός 24 mm f/2.8")
        == "Ørsted Żuraw Аист Γερανός 24 mm f/2.8"
    )
    assert drawable(REPLACEMENT) == REPLACEMENT


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
