"""Records of options: a command takes a record, the command line its fields one by one.

Commands that share options share the record; what an option is called and how it is explained
stands once, in a table of fields.
"""

from __future__ import annotations

import dataclasses
import functools
import inspect
from collections.abc import Callable, Iterator, Mapping, Sequence
from typing import Annotated, Any, get_type_hints

from typer.models import ArgumentInfo

from nightglass.cli.doors import EXAMPLES, refuse_unless_above_zero

Options = Mapping[type, Mapping[str, Any]]
"""Record -> field -> typer.Option; fields that are records themselves need no entry."""


def with_records(options: Options) -> Callable[[Callable[..., None]], Callable[..., None]]:
    """Return a decorator for commands whose parameters are records of options.

    The command line sees the arguments, then one option for each field, records within records
    included, in their order and with the fields' own defaults. A size that is not above 0 is
    refused by its option's name before the command runs (doors.EXAMPLES). Raises KeyError for a
    field that has no option.
    """

    def decorate(command: Callable[..., None]) -> Callable[..., None]:
        hints = get_type_hints(command, include_extras=True)
        shown: list[inspect.Parameter] = []
        for name, parameter in inspect.signature(command).parameters.items():
            if dataclasses.is_dataclass(hints[name]):
                shown += _parameters(hints[name], options)
            else:
                shown.append(parameter.replace(annotation=hints[name]))
        shown.sort(key=lambda parameter: not _is_argument(parameter))
        keywords = [p.replace(kind=inspect.Parameter.KEYWORD_ONLY) for p in shown]

        above_zero = dict(_sizes(shown))

        @functools.wraps(command)
        def run(**given: Any) -> None:
            refuse_unless_above_zero({option: given[k] for k, option in above_zero.items()})
            command(**{k: _value(k, hint, given) for k, hint in hints.items() if k != "return"})

        run.__signature__ = inspect.Signature(keywords)  # type: ignore[attr-defined]
        run.__annotations__ = {p.name: p.annotation for p in keywords}
        return run

    return decorate


def _sizes(shown: Sequence[inspect.Parameter]) -> Iterator[tuple[str, str]]:
    """Yield (field, option) of those that must be above 0."""
    for parameter in shown:
        for mark in getattr(parameter.annotation, "__metadata__", ()):
            # The library keeps the first name of an annotated option as its default.
            for name in (
                getattr(mark, "default", None),
                *(getattr(mark, "param_decls", None) or ()),
            ):
                if isinstance(name, str) and name in EXAMPLES:
                    yield parameter.name, name


def _is_argument(parameter: inspect.Parameter) -> bool:
    marks = getattr(parameter.annotation, "__metadata__", ())
    return any(isinstance(mark, ArgumentInfo) for mark in marks)


def _parameters(record: Any, options: Options) -> Iterator[inspect.Parameter]:
    hints = get_type_hints(record)
    for field in dataclasses.fields(record):
        hint = hints[field.name]
        if dataclasses.is_dataclass(hint):
            yield from _parameters(hint, options)
        else:
            yield inspect.Parameter(
                field.name,
                inspect.Parameter.KEYWORD_ONLY,
                default=field.default,
                annotation=Annotated[hint, options[record][field.name]],
            )


def _value(name: str, hint: Any, given: Mapping[str, Any]) -> Any:
    """The value of a parameter or field: given as typed, or a record made of what was."""
    if not dataclasses.is_dataclass(hint):
        return given[name]
    hints = get_type_hints(hint)
    fields = {f.name: _value(f.name, hints[f.name], given) for f in dataclasses.fields(hint)}
    record: Any = hint
    return record(**fields)
