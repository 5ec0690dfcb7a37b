"""What all tests share: workers and child programs find tests/support as the tests do, and no test
of properties fails because the machine is busy."""

import os
from pathlib import Path

import pytest
from hypothesis import settings

SUPPORT = Path(__file__).parent / "support"
os.environ["PYTHONPATH"] = os.pathsep.join(
    part for part in (str(SUPPORT), os.environ.get("PYTHONPATH", "")) if part
)
settings.register_profile("nightglass", deadline=None)
settings.load_profile("nightglass")


def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    """Long files first: begun last, one worker would wait for the other."""
    long = {item.path for item in items if item.get_closest_marker("slow")}
    items.sort(key=lambda item: item.path not in long)
