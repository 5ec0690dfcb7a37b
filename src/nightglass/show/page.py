"""Pages of one file, with nothing from outside in them: every one is a Jinja2 template.

Everything that a template prints is escaped; only text that a template or a picture of ours has
made is marked as safe (`made`).
"""

from __future__ import annotations

from base64 import b64encode
from functools import lru_cache
from pathlib import Path
from typing import Any

from jinja2 import Environment, FileSystemLoader, StrictUndefined
from markupsafe import Markup

from nightglass.show.typefaces import FONT_FOLDER
from nightglass.show.typeset import TEMPLATE_FOLDER
from nightglass.show.whole_file import write_whole


@lru_cache(maxsize=1)
def _environment() -> Environment:
    return Environment(
        loader=FileSystemLoader(TEMPLATE_FOLDER),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )


def render(template: str, **values: Any) -> str:
    """Return a template of show/templates filled with values, all of them escaped.

    Fonts come along as data: `font_regular`, `font_bold`. Raises jinja2.UndefinedError for a value
    that the template needs and was not given.
    """
    fonts = {"font_regular": _font("B612-Regular.otf"), "font_bold": _font("B612-Bold.otf")}
    return _environment().get_template(template).render(**fonts, **values)


def made(markup: str) -> Markup:
    """Return markup that this program has made itself, pictures above all, as safe to insert."""
    return Markup(markup)


def write_page(page: str, path: Path) -> Path:
    """Write a page into a folder that is made if need be; return its path.

    Raises OSError where it can't be written.
    """
    path.parent.mkdir(parents=True, exist_ok=True)
    return write_whole(path, page.encode())


@lru_cache(maxsize=4)
def _font(name: str) -> str:
    return b64encode((FONT_FOLDER / name).read_bytes()).decode("ascii")
