"""Letters on hand: the shipped typeface for Latin text, packaged ones for the names of the world.

Names of lenses and places may be written in any script. Cards and charts draw them with fonts that
come with this program or with packages it needs, never with those of the machine, so that they look
the same everywhere. Fonts for other scripts are read only where a text needs them.
"""

from __future__ import annotations

from functools import lru_cache
from importlib.resources import files
from pathlib import Path

FONT_FOLDER = Path(str(files("nightglass.show") / "fonts"))
REPLACEMENT = "\N{WHITE SQUARE}"
PACKAGES = ("manimgx_fonts", "noto_cjk_sans_otc")
"""Noto fonts under the SIL Open Font License 1.1: scripts and emoji; Chinese, Japanese, Korean."""

_LATIN_AND_SIGNS = (
    (0x20, 0x7E), (0xA0, 0x17F), (0x2010, 0x2022), (0x2026, 0x2026), (0x2030, 0x203A),
    (0x2070, 0x208E), (0x2190, 0x2199), (0x2212, 0x2212), (0x2248, 0x2248), (0x2260, 0x2265),
    (0x25A0, 0x25FF), (0x2605, 0x2606), (0x263C, 0x263E),
)  # fmt: skip
# Greek and Cyrillic are in the fonts that typst brings along, but in none that charts can count on.
_IN_TYPST = ((0x386, 0x3CE), (0x400, 0x45F))
# Joiners, marks of direction, and the choice between a letter and a picture: they have no shape.
_SHAPELESS = frozenset("\u200c\u200d\u200e\u200f\ufe0e\ufe0f")


def drawable(text: str) -> str:
    """Return the text with every character that no font on hand has replaced by a square.

    Line breaks and tabs become spaces; runs of replaced characters stay as long as they were.
    """
    spaced = " ".join(text.split())
    return "".join(c if _has_shape(c) else REPLACEMENT for c in spaced)


def of_other_scripts(text: str) -> bool:
    """Tell whether a text has letters that the shipped typeface lacks."""
    return not all(_within(ord(c), _LATIN_AND_SIGNS) for c in text if not c.isspace())


def font_folders(text: str) -> list[Path]:
    """Return the folders of the fonts that a text needs."""
    return [FONT_FOLDER, *(_packaged() if of_other_scripts(text) else ())]


def _has_shape(character: str) -> bool:
    code = ord(character)
    if _within(code, _LATIN_AND_SIGNS) or _within(code, _IN_TYPST) or character in _SHAPELESS:
        return True
    return any(code in _codes(path) for path in _fonts())


def _within(code: int, ranges: tuple[tuple[int, int], ...]) -> bool:
    return any(low <= code <= high for low, high in ranges)


@lru_cache(maxsize=1)
def _packaged() -> tuple[Path, ...]:
    return tuple(Path(str(files(package))) for package in PACKAGES)


@lru_cache(maxsize=1)
def _fonts() -> tuple[Path, ...]:
    return tuple(
        path
        for folder in _packaged()
        for path in sorted(folder.iterdir())
        if path.suffix in (".ttf", ".otf", ".ttc")
    )


@lru_cache(maxsize=64)
def _codes(path: Path) -> frozenset[int]:
    """Return the characters for which a font has a shape."""
    from fontTools.ttLib import TTFont

    with TTFont(path, fontNumber=0, lazy=True) as font:
        return frozenset(font.getBestCmap())
