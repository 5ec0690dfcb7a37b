"""The stand-ins for decoder and measurer of the bench tests serve the doors too."""

import pytest


@pytest.fixture
def fakes(monkeypatch):
    """Measure pretended raw files (tests/support/bench_fakes.py) in place of real ones."""
    import bench_fakes

    import nightglass.bench.loose as loose
    import nightglass.bench.measuring.measure as measure

    for room, name in ((loose, "measure_files"), (measure, "measure_folder")):
        defaults = getattr(room, name).__kwdefaults__
        monkeypatch.setitem(defaults, "measurer", bench_fakes.MEASURER)
        monkeypatch.setitem(defaults, "opener", bench_fakes.OPENER)
    return bench_fakes
