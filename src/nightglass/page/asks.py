"""Questions that a step asks and answers beside the page: a form, a piece of work, its answer."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Literal

from nightglass.gear.benchfile import BenchFile
from nightglass.gear.lens import LensSetting
from nightglass.gear.typed import number_of
from nightglass.page.jobs import Tell, Told
from nightglass.show.columns import Part

Kind = Literal["text", "number", "date", "choice", "check"]
Choices = Sequence[tuple[str, str]]


@dataclass(frozen=True)
class Field:
    """One field of a form; what is left empty is as bench.toml says, or a stated default."""

    name: str
    label: str
    kind: Kind = "text"
    hint: str = ""
    value: str = ""
    choices: Choices = ()
    """(value, words)"""


@dataclass(frozen=True)
class Typed:
    """What was typed into a form, each field as what it stands for; None: left empty."""

    texts: Mapping[str, str]

    def text(self, name: str) -> str | None:
        """Return a text."""
        return self.texts.get(name) or None

    def number(self, name: str, example: str) -> float | None:
        """Return a number. Raises ValueError for a text that is none."""
        text = self.text(name)
        return None if text is None else number_of(text, name.replace("_", " "), example)

    def count(self, name: str, example: str) -> int | None:
        """Return a whole number. Raises ValueError for a text that is none."""
        value = self.number(name, example)
        return None if value is None else round(value)

    def flag(self, name: str) -> bool:
        """Return whether a box was ticked."""
        return name in self.texts

    def remote(self) -> bool | None:
        """Return how the shutter is released; None: as bench.toml says."""
        return {"remote": True, "dial": False}.get(self.texts.get("release", ""))


Settings = Callable[[], Sequence[LensSetting]]
"""Gives the settings on record, for forms that ask for one."""
Fields = Callable[[BenchFile, Settings], tuple[Field, ...]]
Run = Callable[[BenchFile, Typed, Tell], Told]


@dataclass(frozen=True)
class Ask:
    """One question of a step."""

    key: str
    title: str
    about: str
    button: str
    fields: Fields
    run: Run
    reads_files: bool = False
    """Whether it decodes files: then it is answered in a process apart."""


@dataclass(frozen=True)
class AskedStep:
    """A step made of questions; drop: folder of the bench that takes its files."""

    key: str
    title: str
    about: str
    asks: tuple[Ask, ...]
    drop: str = ""
    drop_words: str = ""

    def ask(self, key: str) -> Ask | None:
        """Return the question of a key, or None."""
        return next((one for one in self.asks if one.key == key), None)


def nothing(_bench: BenchFile, _settings: Settings) -> tuple[Field, ...]:
    """Return no fields: the question needs none."""
    return ()


def told(parts: Iterable[Part], files: Iterable[Path] = ()) -> Told:
    """Return an answer of its parts and its files."""
    return Told(tuple(parts), tuple(files))


RELEASE = Field(
    "release", "Shutter", "choice",
    choices=(("", "as the bench says"), ("dial", "without remote"), ("remote", "with remote")),
)  # fmt: skip
