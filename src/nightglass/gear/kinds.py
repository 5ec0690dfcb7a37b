"""Kinds of values in bench.toml: names, texts, lengths, f-numbers, ISO, each with its limits."""

from __future__ import annotations

from typing import Annotated, Any

from pydantic import AfterValidator, BaseModel, BeforeValidator, ConfigDict, Field
from pydantic_core import PydanticCustomError

from nightglass.gear.names import name_fault

LONGEST_EXPOSURE_S = 900.0
"""Longer ones are taken for a slip of the keyboard: no bench or sky frame needs them."""
SMALLEST_PITCH_UM, LARGEST_PITCH_UM = 0.5, 30.0
LONGEST_TEXT = 120


def one_or_two(value: Any) -> Any:
    """20 -> (20, 20); [11, 18] stays a pair."""
    if isinstance(value, int | float) and not isinstance(value, bool):
        return (value, value)
    return value


def _one_or_more(value: Any) -> Any:
    return (value,) if isinstance(value, str) else value


def _named(value: str) -> str:
    fault = name_fault(value)
    if fault is not None:
        raise PydanticCustomError("name", "{fault}", {"fault": fault})
    return value


class Table(BaseModel):
    """A table of bench.toml: unknown keys are errors."""

    model_config = ConfigDict(extra="forbid", frozen=True, allow_inf_nan=False)


Name = Annotated[str, AfterValidator(_named)]
Text = Annotated[str, Field(min_length=1, max_length=LONGEST_TEXT)]
FocalMm = Annotated[float, Field(gt=0, le=2000)]
FNumber = Annotated[float, Field(ge=0.5, le=64)]
Iso = Annotated[int, Field(ge=10, le=10_000_000)]
RecordedNames = Annotated[tuple[str, ...], BeforeValidator(_one_or_more)]
