"""Pages of one file, with nothing from outside in them: the shell, lists and tables of facts."""

from __future__ import annotations

from base64 import b64encode
from collections.abc import Iterable, Sequence
from html import escape
from pathlib import Path
from string import Template

from nightglass.show.typeset import FONT_FOLDER, TEMPLATE_FOLDER


def page_html(title: str, parts: Iterable[str]) -> str:
    """Return a whole page of parts that are safe already, below its title as a heading."""
    template = Template((TEMPLATE_FOLDER / "page.html").read_text(encoding="utf-8"))
    return template.substitute(
        title=escape(title),
        font_regular=_font("B612-Regular.otf"),
        font_bold=_font("B612-Bold.otf"),
        body="\n".join([f"<h1>{escape(title)}</h1>", *parts]),
    )


def write_page(page: str, path: Path) -> Path:
    """Write a page into a folder that is made if need be; return its path.

    Raises OSError where it can't be written.
    """
    path.parent.mkdir(parents=True, exist_ok=True)
    path.write_text(page, encoding="utf-8")
    return path


def bullets(lines: Iterable[str]) -> str:
    """Return lines as a list, each begun with a capital; empty ones are left out."""
    items = (f"<li>{escape(line[0].upper() + line[1:])}</li>" for line in lines if line)
    return f"<ul>{''.join(items)}</ul>"


def facts_table(facts: Iterable[tuple[str, str, str]]) -> str:
    """Return a table of name, value and source."""
    rows = "".join(
        f'<tr><td class="name">{escape(name)}</td><td>{escape(value)}</td>'
        f'<td class="source">{escape(source)}</td></tr>'
        for name, value, source in facts
    )
    return f'<table class="facts">{rows}</table>'


def head_row(heads: Sequence[tuple[str, str]]) -> str:
    """Return the head of a table from (words, class) of each column."""
    cells = (f'<th class="{kind}">{escape(words)}</th>' for words, kind in heads)
    return f"<tr>{''.join(cells)}</tr>"


def _font(name: str) -> str:
    return b64encode((FONT_FOLDER / name).read_bytes()).decode("ascii")
