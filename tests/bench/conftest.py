"""A bench folder of pretended raw files, and the way to measure it."""

import pytest


@pytest.fixture
def bench(tmp_path):
    """An empty bench with a name that has a space and letters beyond ASCII."""
    from bench_fakes import BENCH_TOML

    folder = tmp_path / "Käfer 空 bench"
    (folder / "frames").mkdir(parents=True)
    (folder / "bench.toml").write_text(BENCH_TOML, encoding="utf-8")
    return folder


@pytest.fixture
def measure(bench):
    """Measure that bench with the fakes."""
    from bench_fakes import MEASURER, OPENER

    from nightglass.bench.measuring.measure import measure_folder

    def run(folder=None, **options):
        options = {"workers": 1, "measurer": MEASURER, "opener": OPENER, **options}
        return measure_folder(folder or bench, **options)

    return run
