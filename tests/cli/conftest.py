"""The stand-ins for decoder and measurer of the bench tests serve the doors too."""

import os
import sys
from pathlib import Path

import pytest

FAKES = Path(__file__).parents[1] / "bench"
sys.path.insert(0, str(FAKES))


@pytest.fixture
def fakes(monkeypatch):
    """Measure pretended raw files (tests/bench/bench_fakes.py) in place of real ones."""
    import bench_fakes

    import nightglass.bench.loose as loose
    import nightglass.bench.measure as measure

    for room, name in ((loose, "measure_files"), (measure, "measure_folder")):
        defaults = getattr(room, name).__kwdefaults__
        monkeypatch.setitem(defaults, "measurer", bench_fakes.MEASURER)
        monkeypatch.setitem(defaults, "opener", bench_fakes.OPENER)
    monkeypatch.setenv(
        "PYTHONPATH", os.pathsep.join((str(FAKES), os.environ.get("PYTHONPATH", "")))
    )
    return bench_fakes
