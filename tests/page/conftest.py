"""A page on a bench of pretended raw files, asked as a browser asks."""

import shutil

import pytest
from page_browser import PORT, Browser

from nightglass.page.benches import Benches
from nightglass.page.session import Session


@pytest.fixture(scope="session")
def chromium():
    """A browser of the system, started once."""
    from page_chromium import CHROMIUM, FLAGS
    from playwright.sync_api import sync_playwright

    with sync_playwright() as play:
        browser = play.chromium.launch(executable_path=CHROMIUM, args=FLAGS)
        yield browser
        browser.close()


def new_bench(parent):
    """A bench of pretended raw files, with a remark that must survive."""
    from bench_fakes import BENCH_TOML

    folder = parent / "Käfer 空 bench"
    (folder / "frames").mkdir(parents=True)
    (folder / "bench.toml").write_text("# my own words\n" + BENCH_TOML, encoding="utf-8")
    return folder


@pytest.fixture
def bench(tmp_path):
    return new_bench(tmp_path)


@pytest.fixture
def outside(tmp_path):
    """A browser that was not let in."""
    from bench_fakes import MEASURER, OPENER

    listed = Benches(tmp_path / "list" / "benches.json")
    session = Session(listed, PORT, opener=OPENER, measurer=MEASURER, works_ahead=False)
    yield Browser(session)
    session.jobs.stop_all()


@pytest.fixture
def browser(outside):
    return outside.enter()


@pytest.fixture
def base(browser, bench):
    """The address of that bench."""
    return f"/bench/{browser.session.benches.remember(bench)}"


@pytest.fixture(scope="session")
def measured_once(tmp_path_factory):
    """A bench with six frames measured; each test gets a copy of the folder."""
    from bench_fakes import MEASURER, OPENER, fake_file

    from nightglass.bench.measuring.measure import measure_folder

    folder = new_bench(tmp_path_factory.mktemp("measured"))
    for k in range(6):
        x, y = ((1935.5, 1295.5), (3480.0, 2280.0))[k % 2]
        fake_file(folder / "frames" / f"f{k}.dng", x=x + 0.3 * k, y=y, length=6.0 + 0.1 * k)
    measure_folder(folder, workers=1, measurer=MEASURER, opener=OPENER)
    return folder


@pytest.fixture
def measured(bench, base, measured_once):
    """The same bench with those six frames measured: the store knows files by size and time."""
    shutil.copytree(measured_once, bench, dirs_exist_ok=True)
    return base
