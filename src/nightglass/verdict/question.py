"""The two questions that a ranking answers: which picture, and which patch of sky."""

from __future__ import annotations

from enum import StrEnum


class Question(StrEnum):
    """What is compared: whole pictures, or one patch of sky at equal angular scale."""

    PICTURE = "picture"
    SKY = "sky"

    @property
    def other(self) -> Question:
        """The question that was not asked."""
        return Question.SKY if self is Question.PICTURE else Question.PICTURE
