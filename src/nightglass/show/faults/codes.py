"""Every code of what is wrong with a lens, and where it stands: for the glossary."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from nightglass.show.faults.copy_words import COPY_CAUSES, COPY_REASONS, COPY_VERDICTS
from nightglass.show.faults.shape_words import SHAPES
from nightglass.show.faults.stops_words import CAUSES

FAULT_CODES: tuple[tuple[str, Mapping[Any, str]], ...] = (
    ("`verdict` of `copy`", COPY_VERDICTS),
    ("`reason` of `copy`", COPY_REASONS),
    ("`cause` of `cause`", COPY_CAUSES),
    ("`shape` of a place", SHAPES),
    ("`cause` of `stops`", CAUSES),
)
