"""Fill the tables of the documents from the code, so that nothing is typed twice.

    .venv/bin/python docs/make_tables.py

A table stands between the lines "<!-- table: NAME ... -->" and "<!-- end -->"; tests/test_docs.py
fails while a document is older than the code.
"""

from __future__ import annotations

import importlib.util
import re
from collections.abc import Callable, Iterator, Mapping, Sequence
from pathlib import Path
from types import NoneType
from typing import Any, get_args

import typer
import typer.main
from pydantic import BaseModel
from pydantic.fields import FieldInfo

from nightglass.bench.factors.records import InfluenceFault, LadderVerdict
from nightglass.cli.doors import EXIT_CODES
from nightglass.cli.main import COMMANDS, build
from nightglass.gear.schema import BenchToml
from nightglass.light.defaults import ALL_DEFAULTS
from nightglass.show.bodies.words import BODIES_CODES
from nightglass.show.factors.words import CODES as FACTOR_CODES
from nightglass.show.faults.codes import FAULT_CODES
from nightglass.show.finish import words as finish_words
from nightglass.show.flats.words import FAULTS as FLAT_FAULTS
from nightglass.show.focus.words import CODES as FOCUS_CODES
from nightglass.show.iso_words import REASON_MEANINGS
from nightglass.show.plan import meanings
from nightglass.show.proof.assumptions import ASSUMPTIONS
from nightglass.show.proof.causes import CAUSES, FACTORS
from nightglass.show.proof.reasons import FRAME_REASONS, PLACE_REASONS, PREDICTION_REASONS
from nightglass.show.proof.text import METHODS
from nightglass.show.proof.verdict import NEXT_STEPS, VERDICTS
from nightglass.show.ranking.assumption_words import FALLOFF_KNOWN_FROM, MEANINGS, SOURCE_WORDS
from nightglass.show.ranking.note_words import NOTE_MEANINGS
from nightglass.show.ranking.sentences import LOSS_MEANINGS
from nightglass.show.ranking.session_words import NOT_TESTED_MEANINGS
from nightglass.show.sensor.words import CODES as SENSOR_CODES
from nightglass.show.shoot.words import CODE_WORDS
from nightglass.show.sky.frame_text import FROM_FILE
from nightglass.show.sky.words.developed import DEVELOPED
from nightglass.show.sky.words.field import FALLOFF_REASONS, HINTS, SIDE_VERDICTS, ZONE_REASONS
from nightglass.show.sky.words.filter import FILTER_REASONS
from nightglass.show.sky.words.filter import VERDICTS as FILTER_VERDICTS
from nightglass.show.sky.words.moment import LIGHTS
from nightglass.show.sky.words.motion import MOTIONS
from nightglass.show.sky.words.night import (
    GAIN_REASONS,
    LIMIT_SOURCES,
    NIGHT_NOTES,
    NOISE_SOURCES,
)
from nightglass.show.sky.words.place import AIR_REASONS, CLOCK_NOTES
from nightglass.show.sky.words.unsolved import ADVICE, FRAME_NOTES, UNSOLVED_REASONS
from nightglass.spot.record import FLAGS
from nightglass.spot.trust import limit_px

DOCS = Path(__file__).parent
BLOCK = re.compile(r"(<!-- table: ([\w.]+)[^\n]*-->\n).*?(<!-- end -->)", re.DOTALL)
STANDS_FOR = re.compile(r"\{(\w+)[^}]*\}")
SPOKEN = {
    "error": "what the failing step said, in `error`",
    "at_most_px": "...",
    "unsolved": "its reason and advice, in `unsolved`",
    "limiting_from": "the code of `limiting_from` says why",
    "stars": "a stated number",
    "setting": "the setting",
    "place": "the place",
    "value": "a stated value",
}
"""What stands for a value in the words of a code."""
ADDED_BY_THE_LIBRARY = ("help",)


def table(head: Sequence[str], rows: Sequence[Sequence[str]]) -> str:
    """Return a Markdown table."""
    lines = [head, ["---"] * len(head), *rows]
    return "\n".join(f"| {' | '.join(cell.replace('|', chr(92) + '|') for cell in line)} |"
                     for line in lines) + "\n"  # fmt: skip


def flags() -> str:
    """Every flag of a spot with its meaning."""
    return table(("flag", "meaning"), [(f"`{name}`", text) for name, text in FLAGS.items()])


def limits() -> str:
    """Lengths under which a spot is at limit."""
    rows = [
        ("Bayer, green", limit_px("bayer", "green")),
        ("Bayer, red and blue", limit_px("bayer", "red")),
        ("6x6, green", limit_px("6x6", "green")),
        ("6x6, red and blue", limit_px("6x6", "red")),
        ("every pixel a sample (grey, already demosaiced)", limit_px("none", "grey")),
    ]
    return table(("mosaic and colour", "length [px]"), [(a, f"{b:.1f}") for a, b in rows])


def defaults() -> str:
    """What stands in for values that nobody measured."""
    return table(("default", "value", "source"), [(d.name, d.text, d.source) for d in ALL_DEFAULTS])


def notes() -> str:
    """Codes of the notes in a ranking."""
    rows = [(f"`{code}`", text) for code, text in NOTE_MEANINGS.items()]
    return table(("code", "meaning"), rows)


RANKING_CODES: tuple[tuple[str, Mapping[Any, str]], ...] = (
    ("`code` of an assumption", MEANINGS),
    ("`source` of an assumption", SOURCE_WORDS),
    ("`iso_reason`", REASON_MEANINGS),
    ("`wide_open_reason`", LOSS_MEANINGS),
    ("`not_tested`", NOT_TESTED_MEANINGS),
    ("`falloff`", {kind: f"measured on {text}" for kind, text in FALLOFF_KNOWN_FROM.items()}),
)


def ranking_codes() -> str:
    """Every code of a ranking that is no note, with its words."""
    rows = [(place, f"`{code}`", text) for place, words in RANKING_CODES
            for code, text in words.items()]  # fmt: skip
    return table(("where", "code", "meaning"), rows)


PLAN_CODES: tuple[tuple[str, Mapping[Any, str]], ...] = (
    ("`code` of `sun`", meanings.SUN),
    ("`code` of `moon`", meanings.MOON),
    ("`phase` of `moon`", meanings.PHASE),
    ("`code` of `target`", meanings.TARGET),
    ("`zone_from` of `place`", meanings.ZONE),
    ("caution of `place`", meanings.PLACE_CAUTION),
    ("`code` of `blue_hour`", meanings.BLUE_HOUR),
    ("`code` of a season", meanings.SEASON),
    ("`light` of tonight", meanings.LIGHT),
    ("`light` of `land`", meanings.LAND_LIGHT),
    ("`place` in the frame", meanings.PLACE),
    ("`kind` of `area`", meanings.AREA),
    ("remark on a panorama", meanings.PANORAMA),
    ("`code` of `against_wide`", meanings.AGAINST),
    ("remark on a stack", meanings.STACK),
    ("`code` of `gear`", meanings.GEAR),
    ("`cautions`", meanings.CAUTION),
)


def plan_codes() -> str:
    """Every code of the night planner with its meaning."""
    rows = [(place, f"`{code}`", text) for place, words in PLAN_CODES
            for code, text in words.items()]  # fmt: skip
    return table(("where", "code", "meaning"), rows)


PROOF_CODES: tuple[tuple[str, Mapping[Any, str]], ...] = (
    ("verdict", VERDICTS),
    ("next", NEXT_STEPS),
    ("reason of a frame", FRAME_REASONS),
    ("reason of a place", PLACE_REASONS),
    ("reason of light, limit, stars, glow", PREDICTION_REASONS),
    ("cause", CAUSES),
    ("factor of a cause", FACTORS),
    ("decided_by", METHODS),
    ("assumption", {code: f"{name}: {value}" for code, (name, value, _) in ASSUMPTIONS.items()}),
)


def proof_codes() -> str:
    """Every code of a proof with its words."""
    rows = [
        (place, f"`{code}`", STANDS_FOR.sub(lambda found: SPOKEN[found[1]], text))
        for place, words in PROOF_CODES
        for code, text in words.items()
    ]
    return table(("where", "code", "meaning"), rows)


SKY_CODES: tuple[tuple[str, Mapping[Any, str]], ...] = (
    ("`notes` of a frame", {FROM_FILE: "what the file itself says, in `text`"}),
    ("`notes` of a frame", FRAME_NOTES),
    ("`developed` of a frame", DEVELOPED),
    ("`notes` of a frame", CLOCK_NOTES),
    ("`reason` of a frame that is not solved", UNSOLVED_REASONS),
    ("`advice` for it", ADVICE),
    ("`reason` of `air`", AIR_REASONS),
    ("`conditions` of `moment`", LIGHTS),
    ("`notes` of `night`", NIGHT_NOTES),
    ("`gain_reason`", GAIN_REASONS),
    ("`limiting_from`", LIMIT_SOURCES),
    ("`limited_by`", NOISE_SOURCES),
    ("`kind` of `motion`", MOTIONS),
    ("`reason` of a zone", ZONE_REASONS),
    ("`falloff_reason` of `lens`", FALLOFF_REASONS),
    ("`verdict` of `decentring`", SIDE_VERDICTS),
    ("`hints` of `lens`", HINTS),
    ("`verdict` of `filtering`", FILTER_VERDICTS),
    ("`reason` of `filtering`", FILTER_REASONS),
)


def sky_codes() -> str:
    """Every code of a frame of the sky with its words."""
    rows = [(place, f"`{code}`", STANDS_FOR.sub("...", text)) for place, words in SKY_CODES
            for code, text in words.items()]  # fmt: skip
    return table(("where", "code", "meaning"), rows)


FINISH_CODES: tuple[tuple[str, Mapping[Any, str]], ...] = (
    ("`code` of a finding", finish_words.FINDINGS),
    ("`notes` of a picture", finish_words.NOTES),
    ("`reason` of a picture", finish_words.UNCOMPARED),
    ("`profile_from`", finish_words.PROFILES),
    ("`code` of a difference", finish_words.DIFFERENCES),
)


def finish_codes() -> str:
    """Every code of what the finishing did with its words."""
    rows = [(place, f"`{code}`", STANDS_FOR.sub("...", text)) for place, words in FINISH_CODES
            for code, text in words.items()]  # fmt: skip
    return table(("where", "code", "meaning"), rows)


def shoot_codes() -> str:
    """Every code of a bench plan and of the watch with its words."""
    rows = [(place, f"`{code}`", text) for place, words in CODE_WORDS
            for code, text in words.items()]  # fmt: skip
    return table(("where", "code", "meaning"), rows)


def sensor_codes() -> str:
    """Every code of a sensor's report with its words."""
    rows = [
        (place, f"`{code}`", STANDS_FOR.sub(lambda found: SPOKEN.get(found[1], "..."), text))
        for place, words in SENSOR_CODES
        for code, text in words.items()
    ]
    return table(("where", "code", "meaning"), rows)


def focus_codes() -> str:
    """Every code of a focus series with its words."""
    rows = [(place, f"`{code.value}`", STANDS_FOR.sub("...", text)) for place, words in FOCUS_CODES
            for code, text in words.items()]  # fmt: skip
    return table(("where", "code", "meaning"), rows)


def flat_codes() -> str:
    """Every fault of a flat with its words."""
    return table(
        ("code", "meaning"), [(f"`{code.value}`", text) for code, text in FLAT_FAULTS.items()]
    )


def factor_codes() -> str:
    """Every code of a factor study with its words."""
    places = {InfluenceFault: "`fault`", LadderVerdict: "`verdict` of `ladder`"}
    rows = [(places[type(code)], f"`{code.value}`", text) for code, text in FACTOR_CODES.items()]
    return table(("where", "code", "meaning"), rows)


def fault_codes() -> str:
    """Every code of what is wrong with a lens, with its words."""
    rows = [(place, f"`{code}`", text) for place, words in FAULT_CODES
            for code, text in words.items()]  # fmt: skip
    return table(("where", "code", "meaning"), rows)


def bodies_codes() -> str:
    """Every code of one lens on several bodies, with its words."""
    rows = [(place, f"`{code}`", text) for place, words in BODIES_CODES
            for code, text in words.items()]  # fmt: skip
    return table(("where", "code", "meaning"), rows)


def exit_codes() -> str:
    """What the program tells a script."""
    return table(("code", "meaning"), [(str(code), text) for code, text in EXIT_CODES.items()])


def commands() -> str:
    """Every command with its arguments and options."""
    return "\n".join(f"## {name}\n\n{_command(name)}" for name in COMMANDS)


def _command(name: str) -> str:
    if importlib.util.find_spec(f"nightglass.cli.{COMMANDS[name][0]}") is None:
        return f"{COMMANDS[name][1]} Not built yet: the command does not run.\n"
    group: Any = typer.main.get_command(build(name))
    command = group.commands[name]
    rows = [
        (f"`{_spelled(p)}`", " ".join((getattr(p, "help", None) or "").split()), _default(p))
        for p in command.params
        if p.name not in ADDED_BY_THE_LIBRARY
    ]
    text = " ".join((command.help or "").split("\f")[0].split())
    return f"{text}\n\n{table(('argument or option', 'meaning', 'without it'), rows)}"


def _spelled(parameter: Any) -> str:
    if parameter.param_type_name == "argument":
        return f"{(parameter.name or '').upper()}{'...' if parameter.nargs == -1 else ''}"
    return " / ".join([*parameter.opts, *parameter.secondary_opts])


def _default(parameter: Any) -> str:
    value = parameter.default
    if parameter.required:
        return "required"
    if callable(value) or value is None or value == "" or value is False:
        return "-"
    if isinstance(value, Path) and str(value) == ".":
        return "this folder"
    return "on" if value is True else f"{value}"


def tables_of_bench_toml() -> Iterator[tuple[str, str, type[BaseModel]]]:
    """Yield (name as typed, meaning, model) of every table of bench.toml."""
    for key, field in BenchToml.model_fields.items():
        model = _model(field.annotation)
        yield (f"[[{key}]]" if "[[" in (model.__doc__ or "") else f"[{key}]"), key, model
        for inner, part in model.model_fields.items():
            if (below := _model_or_none(part.annotation)) is not None:
                yield f"[{key}.{inner}]", f"{key}.{inner}", below


def keys(model: type[BaseModel]) -> str:
    """Every key of a table of bench.toml."""
    rows = [(f"`{key}`", field.description or "", _default_of(field))
            for key, field in model.model_fields.items()]  # fmt: skip
    return table(("key", "allowed", "without it"), rows)


def _default_of(field: FieldInfo) -> str:
    if field.is_required():
        return "required"
    value = field.get_default(call_default_factory=True)
    return "-" if value is None or value in ("", (), {}) else f"{value}"


def _model(annotation: Any) -> type[BaseModel]:
    found = _model_or_none(annotation)
    if found is None:
        raise TypeError(f"{annotation} is no table of bench.toml; add it to docs/make_tables.py")
    return found


def _model_or_none(annotation: Any) -> type[BaseModel] | None:
    for part in (annotation, *get_args(annotation)):
        if part is not NoneType and isinstance(part, type) and issubclass(part, BaseModel):
            return part
    return None


TABLES: dict[str, Callable[[], str]] = {
    "flags": flags,
    "limits": limits,
    "defaults": defaults,
    "notes": notes,
    "ranking_codes": ranking_codes,
    "exit_codes": exit_codes,
    "proof_codes": proof_codes,
    "plan_codes": plan_codes,
    "sky_codes": sky_codes,
    "finish_codes": finish_codes,
    "shoot_codes": shoot_codes,
    "flat_codes": flat_codes,
    "focus_codes": focus_codes,
    "factor_codes": factor_codes,
    "fault_codes": fault_codes,
    "bodies_codes": bodies_codes,
    "sensor_codes": sensor_codes,
    "commands": commands,
    **{
        f"bench.{name}": (lambda model=model: keys(model))  # type: ignore[misc]
        for _, name, model in tables_of_bench_toml()
    },
}


def filled(text: str) -> str:
    """Return a document with its tables made anew; KeyError for a table that nobody makes."""
    return BLOCK.sub(lambda found: found[1] + TABLES[found[2]]() + found[3], text)


def main() -> None:
    """Rewrite every document whose tables changed."""
    for path in sorted([*DOCS.glob("*.md"), DOCS.parent / "README.md"]):
        text = path.read_text(encoding="utf-8")
        new = filled(text)
        if new != text:
            path.write_text(new, encoding="utf-8")
            print(f"tables made anew: {path}")  # noqa: T201


if __name__ == "__main__":
    main()
