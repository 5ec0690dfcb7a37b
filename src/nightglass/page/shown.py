"""Pages from templates: everything that a template prints is escaped."""

from __future__ import annotations

from datetime import datetime
from functools import lru_cache
from importlib.resources import files
from pathlib import Path
from typing import Any

from jinja2 import Environment, FileSystemLoader, StrictUndefined

from nightglass.show.words import f_number, focal, percent

PAGE_FOLDER = Path(str(files("nightglass.page")))
LOOKS = ("day", "night")


@lru_cache(maxsize=1)
def _environment() -> Environment:
    found = Environment(
        loader=FileSystemLoader(PAGE_FOLDER / "templates"),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
        auto_reload=False,
    )
    found.filters.update(f_number=f_number, focal=focal, percent=percent)
    return found


def render(template: str, **values: Any) -> str:
    """Return a template of page/templates filled with values, all of them escaped.

    Raises jinja2.UndefinedError for a value that the template needs and was not given.
    """
    return _environment().get_template(template).render(**values)


def moment(at: datetime) -> str:
    """Return a local time in words, as 6 May 2027, 22:10."""
    return f"{at.day} {at:%B %Y, %H:%M}"


def refusal_page(words: str) -> str:
    """Return the page for a request that is not let in."""
    return render("refused.html", words=words, look="day")
