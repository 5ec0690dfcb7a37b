"""The list of experiments is true: every script, each constant in the file that it names."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[1]
ROWS = [
    [cell.strip() for cell in line.strip("|").split("|")]
    for line in (ROOT / "design" / "README.md").read_text("utf-8").splitlines()
    if line.startswith("| `")
]


def test_every_script_is_listed_and_every_listed_one_exists():
    listed = {row[0].strip("`") for row in ROWS}
    assert listed == {path.name for path in (ROOT / "design").glob("*.py")}


@pytest.mark.parametrize("row", ROWS, ids=lambda row: f"{row[0]} {row[2]}".replace("`", ""))
def test_the_constant_stands_in_its_file_which_names_the_script(row):
    script, _, constants, file = row
    code = (ROOT / "src" / "nightglass" / file.strip("`")).read_text("utf-8")
    for name in re.findall(r"`(\w+)`", constants):
        assert re.search(rf"\b{name}\b", code), f"{name} is not in {file}"
    assert f"design/{script.strip('`')}" in code
