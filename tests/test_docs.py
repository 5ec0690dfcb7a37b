"""Words and code hold together: commands, options, fields, flags and keys, in both directions."""

from __future__ import annotations

import dataclasses
import importlib.util
import re
from pathlib import Path
from types import ModuleType
from typing import Any

import pytest
import typer.main
from made_worths import make_worth

from nightglass.almanac.codes import ALMANAC_CODES
from nightglass.bench.across.records import ALL_CODES as BODIES_CODES
from nightglass.bench.factors.records import InfluenceFault, LadderVerdict
from nightglass.bench.faults.report import ALL_CODES as FAULT_CODES
from nightglass.bench.flats.records import FlatFault
from nightglass.bench.focus.records import ALL_CODES as FOCUS_CODES
from nightglass.cli.main import COMMANDS, build
from nightglass.finish.codes import ALL_CODES as FINISH_CODES
from nightglass.gear.bag import parse_bench
from nightglass.gear.benchfile import Purpose
from nightglass.gear.lens import LensSetting
from nightglass.light.falloff import FalloffSource
from nightglass.light.iso import IsoReason
from nightglass.plan.codes import PLAN_CODES, CoreCode
from nightglass.proof.codes import ALL_CODES
from nightglass.sensor.codes import ALL_CODES as SENSOR_CODES
from nightglass.show.ranking.tables import ranking_rows
from nightglass.show.sky.frame_text import FROM_FILE
from nightglass.sky.codes import ALL_CODES as SKY_CODES
from nightglass.spot.record import FLAGS, Spot
from nightglass.verdict.codes import (
    AssumptionCode,
    AssumptionSource,
    LossReason,
    NoteCode,
    NotTested,
)
from nightglass.verdict.purpose import eye_of_purpose
from nightglass.verdict.question import Question
from nightglass.verdict.records import Ranking, Standing

PROJECT = Path(__file__).parents[1]
DOCS = PROJECT / "docs"
PAGES = [PROJECT / "README.md", PROJECT / "CHANGELOG.md", *sorted(DOCS.glob("*.md"))]
MADE_BY_BENCHMARKS = {"spot_accuracy.md"}
"""Linked before they are made."""
TO_COME: set[str] = set()
"""Named by the code before they were there; take a name out once its file stands."""
NAMED = re.compile(r"\b(?:docs|design|benchmarks)/[\w-]+\.(?:py|md)\b")
OF_THE_PROGRAM = {"--help", "--version"}
CODE = re.compile(r"```.*?```|`[^`\n]+`", re.DOTALL)
CALL = re.compile(r"nightglass +([a-z]+)\b([^`\n]*)")


def read(path: Path) -> str:
    return path.read_text(encoding="utf-8")


def load_tables() -> ModuleType:
    spec = importlib.util.spec_from_file_location("make_tables", DOCS / "make_tables.py")
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


TABLES = load_tables()


def built_commands() -> list[str]:
    return [
        name
        for name, (module, _) in COMMANDS.items()
        if importlib.util.find_spec(f"nightglass.cli.{module}") is not None
    ]


def options_of(command: str) -> set[str]:
    group: Any = typer.main.get_command(build(command))
    spelled = [[*p.opts, *p.secondary_opts] for p in group.commands[command].params]
    return {word for words in spelled for word in words if word.startswith("--")}


def section(page: str, heading: str) -> str:
    """Return what stands under a heading, up to the next of the same or a higher level."""
    level = heading.split(" ")[0]
    start = page.index(f"\n{heading}\n") + len(heading) + 2
    end = re.search(rf"^#{{1,{len(level)}}} ", page[start:], flags=re.MULTILINE)
    return page[start : start + end.start()] if end else page[start:]


def first_cells(text: str) -> set[str]:
    """Return the names in code quotes of the first cells of all table rows."""
    cells = [line.split("|")[1] for line in text.splitlines() if line.startswith("| `")]
    return {name for cell in cells for name in re.findall(r"`([^`]+)`", cell)}


@pytest.mark.parametrize("page", PAGES, ids=lambda path: path.name)
def test_tables_made_from_the_code_are_up_to_date(page: Path) -> None:
    assert TABLES.filled(read(page)) == read(page), (
        f"{page.name} is older than the code; run  .venv/bin/python docs/make_tables.py"
    )


def test_every_table_of_the_code_is_in_a_document() -> None:
    shown = {found[1] for page in PAGES for found in TABLES.BLOCK.findall(read(page))}
    assert shown == set(TABLES.TABLES)


@pytest.mark.parametrize("command", COMMANDS)
def test_every_command_is_documented(command: str) -> None:
    assert f"\n## {command}\n" in read(DOCS / "commands.md")
    assert f"nightglass {command}" in "".join(read(page) for page in PAGES), (
        f"README or docs never show  nightglass {command}"
    )


def test_no_command_is_documented_that_is_not_there() -> None:
    page = read(DOCS / "commands.md")
    assert re.findall(r"^## (\w+)$", page, flags=re.MULTILINE) == list(COMMANDS)


@pytest.mark.parametrize("command", built_commands())
def test_options_are_documented_and_no_others(command: str) -> None:
    page = section(read(DOCS / "commands.md"), f"## {command}")
    documented = set(re.findall(r"--[a-z][a-z-]*", " ".join(first_cells(page))))
    assert documented == options_of(command)


@pytest.mark.parametrize("page", PAGES, ids=lambda path: path.name)
def test_commands_shown_in_documents_run_as_shown(page: Path) -> None:
    for code in CODE.findall(read(page)):
        for command, rest in CALL.findall(code):
            assert command in COMMANDS, f"{page.name} shows  nightglass {command}: no such command"
            if command in built_commands():
                shown = set(re.findall(r"--[a-z][a-z-]*", rest)) - OF_THE_PROGRAM
                assert shown <= options_of(command), f"{page.name}: nightglass {command}{rest}"


def test_spot_fields_are_in_the_glossary_and_no_others() -> None:
    spots = section(read(DOCS / "glossary.md"), "## One star spot").split("<!-- table")[0]
    assert first_cells(spots) == {field.name for field in dataclasses.fields(Spot)}


def test_codes_of_a_proof_are_in_the_glossary_and_no_others() -> None:
    part = section(read(DOCS / "glossary.md"), "### Codes of a proof")
    lines = [line.split("|")[2] for line in part.splitlines() if line.startswith("| ")]
    shown = [name for line in lines for name in re.findall(r"`([^`]+)`", line)]
    assert sorted(shown) == sorted(code.value for kind in ALL_CODES for code in kind)


def test_codes_of_the_planner_are_in_the_glossary_and_no_others() -> None:
    shown = read(DOCS / "glossary.md").split("<!-- table: plan_codes")[1].split("<!-- end")[0]
    found = [line.split("|")[2].strip(" `") for line in shown.splitlines()[3:]]
    # Whether the centre of the Milky Way is up is for the field card, which prints words.
    kinds = [kind for kind in (*ALMANAC_CODES, *PLAN_CODES) if kind is not CoreCode]
    assert sorted(found) == sorted(code.value for kind in kinds for code in kind)


def test_codes_of_the_sky_are_in_the_glossary_and_no_others() -> None:
    part = section(read(DOCS / "glossary.md"), "### Codes of a frame of the real sky")
    lines = [line.split("|")[2] for line in part.splitlines() if line.startswith("| ")]
    shown = [name for line in lines for name in re.findall(r"`([^`]+)`", line)]
    codes = [FROM_FILE, *(code.value for kind in SKY_CODES for code in kind)]
    assert sorted(shown) == sorted(codes)


def test_codes_of_the_finishing_are_in_the_glossary_and_no_others() -> None:
    shown = read(DOCS / "glossary.md").split("<!-- table: finish_codes")[1].split("<!-- end")[0]
    found = [line.split("|")[2].strip(" `") for line in shown.splitlines()[3:]]
    assert sorted(found) == sorted(code.value for kind in FINISH_CODES for code in kind)


def test_codes_of_a_sensor_are_in_the_glossary_and_no_others() -> None:
    shown = read(DOCS / "glossary.md").split("<!-- table: sensor_codes")[1].split("<!-- end")[0]
    found = [line.split("|")[2].strip(" `") for line in shown.splitlines()[3:]]
    assert sorted(found) == sorted(code.value for kind in SENSOR_CODES for code in kind)


def test_faults_of_flats_are_in_the_glossary_and_no_others() -> None:
    shown = read(DOCS / "glossary.md").split("<!-- table: flat_codes")[1].split("<!-- end")[0]
    assert first_cells(shown) == {code.value for code in FlatFault}


def test_codes_of_focus_are_in_the_glossary_and_no_others() -> None:
    shown = read(DOCS / "glossary.md").split("<!-- table: focus_codes")[1].split("<!-- end")[0]
    found = [line.split("|")[2].strip(" `") for line in shown.splitlines()[3:]]
    assert sorted(found) == sorted(code.value for kind in FOCUS_CODES for code in kind)


def test_codes_of_a_factor_study_are_in_the_glossary_and_no_others() -> None:
    shown = read(DOCS / "glossary.md").split("<!-- table: factor_codes")[1].split("<!-- end")[0]
    found = [line.split("|")[2].strip(" `") for line in shown.splitlines()[3:]]
    assert sorted(found) == sorted(
        c.value for kind in (InfluenceFault, LadderVerdict) for c in kind
    )


def test_codes_of_faults_are_in_the_glossary_and_no_others() -> None:
    shown = read(DOCS / "glossary.md").split("<!-- table: fault_codes")[1].split("<!-- end")[0]
    found = [line.split("|")[2].strip(" `") for line in shown.splitlines()[3:]]
    assert sorted(found) == sorted(code.value for kind in FAULT_CODES for code in kind)


def test_codes_of_bodies_are_in_the_glossary_and_no_others() -> None:
    shown = read(DOCS / "glossary.md").split("<!-- table: bodies_codes")[1].split("<!-- end")[0]
    found = [line.split("|")[2].strip(" `") for line in shown.splitlines()[3:]]
    assert sorted(found) == sorted(code.value for kind in BODIES_CODES for code in kind)


def test_flags_are_in_the_glossary_and_no_others() -> None:
    page = read(DOCS / "glossary.md")
    table = page.split("<!-- table: flags")[1].split("<!-- end -->")[0]
    assert first_cells(table) == set(FLAGS)


@pytest.mark.parametrize(
    ("heading", "model"), [(h, m) for h, _, m in TABLES.tables_of_bench_toml()]
)
def test_bench_keys_are_documented_and_no_others(heading: str, model: Any) -> None:
    text = section(read(DOCS / "bench-file.md"), f"## {heading}")
    assert first_cells(text) == set(model.model_fields)


def test_every_part_of_the_bench_file_page_names_a_table() -> None:
    headings = re.findall(r"^## (.+)$", read(DOCS / "bench-file.md"), flags=re.MULTILINE)
    assert headings == [heading for heading, _, _ in TABLES.tables_of_bench_toml()]


def columns_of_the_ranking() -> set[str]:
    worth = make_worth(LensSetting("Body", "Wren 12 mm f/2", 12.0, 2.0))
    eye = eye_of_purpose(Purpose())
    standing = Standing(1, worth, False, None, None, ())
    given = (Question.PICTURE, eye, None, None, (), ())
    return set(ranking_rows(Ranking((standing,), (worth,), (worth,), None, *given))[0])


def test_columns_of_the_ranking_are_documented_and_no_others() -> None:
    text = section(read(DOCS / "files.md"), "## Columns of ranking.csv")
    assert first_cells(text) == columns_of_the_ranking()


def test_small_bench_file_of_the_page_is_valid() -> None:
    text = read(DOCS / "bench-file.md").split("```toml\n")[1].split("```")[0]
    assert parse_bench(text).lenses[0].name == "Wren 12 mm f/2"


def test_make_commands_of_the_readme_exist() -> None:
    targets = set(re.findall(r"^([a-z-]+):", read(PROJECT / "Makefile"), flags=re.MULTILINE))
    named = {
        target
        for code in CODE.findall(read(PROJECT / "README.md"))
        for target in re.findall(r"\bmake ([a-z-]+)", code)
    }
    assert {"demo", "test"} <= named
    assert named <= targets


@pytest.mark.parametrize("page", PAGES, ids=lambda path: path.name)
def test_links_lead_somewhere(page: Path) -> None:
    for target in re.findall(r"\]\(([^)\s]+)\)", read(page)):
        path, _, anchor = target.partition("#")
        file = (page.parent / path).resolve() if path else page
        if Path(path).name in MADE_BY_BENCHMARKS:
            continue
        assert file.exists(), f"{page.name} links to {target}"
        if anchor:
            titles = re.findall(r"^#+ (.+)$", read(file), flags=re.MULTILINE)
            slugs = {re.sub(r"[^\w -]", "", title).lower().replace(" ", "-") for title in titles}
            assert anchor in slugs, f"{page.name} links to {target}"


def test_every_script_and_page_that_is_named_exists() -> None:
    sources = [*(PROJECT / "src").rglob("*.py"), *(PROJECT / "benchmarks").glob("*.py"), *PAGES]
    made = {f"docs/{name}" for name in MADE_BY_BENCHMARKS}
    missing = {
        f"{name} (named in {path.relative_to(PROJECT)})"
        for path in sources
        for name in NAMED.findall(read(path))
        if name not in TO_COME | made and not (PROJECT / name).exists()
    }
    assert not missing


def test_readme_opens_with_the_job_and_the_two_commands() -> None:
    text = read(PROJECT / "README.md")
    assert text.index("make demo") < text.index("\n## ", text.index("## Two commands") + 1)
    order = ["## Two commands", "## Your own frames", "## Cautions", "## How it works", "## Limits"]
    places = [text.index(heading) for heading in order]
    assert places == sorted(places)


@pytest.mark.parametrize(
    "word", ["IEC 62471", "IEC 60825-1", "sun", "alone", "traffic", "tides", "not on safety"]
)
def test_readme_states_the_cautions(word: str) -> None:
    assert word in section(read(PROJECT / "README.md"), "## Cautions")


def test_every_code_of_a_note_is_explained_and_no_others() -> None:
    shown = read(DOCS / "glossary.md").split("<!-- table: notes")[1].split("<!-- end -->")[0]
    assert set(re.findall(r"^\| `(\w+)` \|", shown, flags=re.MULTILINE)) == set(NoteCode)


def test_codes_of_a_ranking_are_in_the_glossary_and_no_others() -> None:
    shown = read(DOCS / "glossary.md").split("<!-- table: ranking_codes")[1].split("<!-- end")[0]
    found = [line.split("|")[2].strip(" `") for line in shown.splitlines()[3:]]
    kinds = (
        AssumptionCode, AssumptionSource, IsoReason, LossReason, FalloffSource, NotTested,
    )  # fmt: skip
    assert sorted(found) == sorted(code.value for kind in kinds for code in kind)
