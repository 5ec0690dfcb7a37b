"""A command line that can't be used as typed: what is wrong, what is allowed, where to look."""

from __future__ import annotations

import difflib
from collections.abc import Mapping
from typing import Any

NOT_PARSED = {
    "float_parsing": "is not a number",
    "float_type": "is not a number",
    "int_parsing": "is not a whole number",
    "int_type": "is not a whole number",
    "int_from_float": "is not a whole number",
}
"""What the library's reader of values found wrong, in a photographer's words."""
LONGEST_TYPED = 60


def usage_line(error: Any, commands: Mapping[str, Any], asked: str | None) -> str:
    """Return one line for a usage error of the command line's library.

    commands: the program's commands; asked: the one that was typed; error: with the context in
    which it was found, if the library keeps it.
    """
    context = getattr(error, "ctx", None)
    path = f"nightglass {asked}" if asked in commands else "nightglass"
    fault = _fault(error, context, commands)
    return f"{fault}{'' if fault.endswith('?') else '.'} See:  {path} --help"


def _fault(error: Any, context: Any, commands: Mapping[str, Any]) -> str:
    kind = type(error).__name__
    if kind == "NoSuchOption" and context is not None:
        options = [o for p in context.command.params for o in p.opts if o.startswith("-")]
        return f"there is no option {error.option_name}{_meant(error.option_name, options)}"
    if kind == "MissingParameter" and error.param is not None:
        return f"{_name(error.param)} is missing; give: {_help(error.param)}"
    if kind == "BadParameter" and error.param is not None:
        return f"{_name(error.param)}: {_value_fault(error)}; give: {_help(error.param)}"
    if error.message.startswith("No such command "):
        typed = error.message.partition("'")[2].split("'. ")[0].rstrip(".'")
        return f"there is no command {_cut(typed)}{_meant(typed, list(commands))}"
    if error.message.startswith("Got unexpected extra argument"):
        extra = error.message.split(" (")[-1].rstrip(").")
        return (
            f'too much was typed: {_cut(extra)}; put names with spaces in quotes, like "my bench"'
        )
    return _plain(error.message)


def _meant(typed: str, allowed: list[str]) -> str:
    near = difflib.get_close_matches(typed, allowed, n=1, cutoff=0.6)
    return f"; did you mean {near[0]}?" if near else f"; allowed: {', '.join(allowed)}"


def _value_fault(error: Any) -> str:
    """What is wrong with a value; the reader's own finding stands behind the library's error."""
    findings = getattr(error.__cause__, "errors", None)
    if findings is None:
        return _plain(error.message)
    finding = findings()[0]
    typed = f'"{_cut(str(finding["input"]))}"'
    if finding["type"] in NOT_PARSED:
        return f"{typed} {NOT_PARSED[finding['type']]}"
    if finding["type"] == "greater_than_equal":
        return f"{typed} is too small, {finding['ctx']['ge']} is the least"
    return _plain(error.message.removeprefix("Value error, "))


def _name(parameter: Any) -> str:
    options = [name for name in parameter.opts if name.startswith("-")]
    return options[-1] if options else str(parameter.name).upper()


def _help(parameter: Any) -> str:
    words = (getattr(parameter, "help", None) or "").strip().rstrip(".")
    return words[:1].lower() + words[1:] if words[1:2].islower() else words


def _plain(message: str) -> str:
    return message.strip().rstrip(".")


def _cut(typed: str) -> str:
    return typed if len(typed) <= LONGEST_TYPED else typed[: LONGEST_TYPED - 3] + "..."
