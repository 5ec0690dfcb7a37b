"""Kinds of value in bench.toml, and what every table of it shares."""

from __future__ import annotations

from typing import Annotated, Any

from pydantic import BaseModel, BeforeValidator, ConfigDict, Field

LONGEST_EXPOSURE_S = 900.0
"""Longer ones are taken for a slip of the keyboard: no bench or sky frame needs them."""


def one_or_two(value: Any) -> Any:
    """Return 20 as (20, 20); [11, 18] stays a pair."""
    if isinstance(value, int | float) and not isinstance(value, bool):
        return (value, value)
    return value


def one_or_more(value: Any) -> Any:
    """Return a single text as a list of one."""
    return (value,) if isinstance(value, str) else value


class Table(BaseModel):
    """A table of bench.toml: unknown keys are errors."""

    model_config = ConfigDict(extra="forbid", frozen=True, allow_inf_nan=False)


Name = Annotated[str, Field(min_length=1, max_length=120)]
FocalMm = Annotated[float, Field(gt=0, le=2000)]
FNumber = Annotated[float, Field(ge=0.5, le=64)]
Iso = Annotated[int, Field(ge=10, le=10_000_000)]
Names = Annotated[tuple[Name, ...], BeforeValidator(one_or_more)]
