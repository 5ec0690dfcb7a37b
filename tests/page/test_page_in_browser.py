"""The whole job by clicks in a real browser, and every page read as a screen reader does.

Needs a browser of the system (chromium); without one these tests are skipped.
"""

import os
from pathlib import Path

import axe_playwright_python
import pytest
from bench_fakes import MEASURER, OPENER, fake_file
from page_chromium import NEEDS_CHROMIUM, serving

from nightglass.gear.bag import read_bench_file

pytestmark = [pytest.mark.slow, NEEDS_CHROMIUM]
AXE = (Path(axe_playwright_python.__file__).parent / "axe.min.js").read_text("utf-8")
RUN_AXE = "rules => axe.run(document, {runOnly: rules, resultTypes: ['violations']})"
WIDER = "document.scrollingElement.scrollWidth - document.scrollingElement.clientWidth"
"""How far a page goes beyond its window [px]; content that scrolls by itself is not counted."""
RULES = ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa", "best-practice"]
WIDTHS = (390, 1280)
STEPS = (
    "", "/plan", "/frames", "/lenses", "/lenses/0/12/2.8", "/ranking", "/compare", "/checks",
    "/camera", "/light", "/sky", "/night", "/card", "/finish", "/report", "/watch",
)  # fmt: skip
GEAR = {
    "name": "By clicks", "body": "Loan body", "sensor_width_mm": "23.4", "width_px": "3872",
    "height_px": "2592", "lens_0": "Wren", "focal_0": "12", "f_0": "2",
}  # fmt: skip


@pytest.fixture(scope="module")
def served(tmp_path_factory):
    """A page that answers, with the address that lets a browser in."""
    with serving(tmp_path_factory.mktemp("page"), opener=OPENER, measurer=MEASURER) as session:
        yield session


@pytest.fixture(scope="module")
def job(chromium, served, tmp_path_factory):
    """The whole job, done by clicks once: the address of the bench, its folder, what went wrong."""
    page = chromium.new_page(viewport={"width": 1280, "height": 900})
    faults: list[str] = []
    page.on("pageerror", lambda error: faults.append(str(error)))
    page.on("console", lambda said: faults.append(said.text) if said.type == "error" else None)
    page.on("request", lambda asked: faults.append(asked.url)
            if not asked.url.startswith(f"http://127.0.0.1:{served.port}/") else None)  # fmt: skip
    folder = tmp_path_factory.mktemp("job") / "by clicks"
    page.goto(served.address())
    page.get_by_role("link", name="Make a new bench").click()
    page.get_by_label("Folder to make").fill(str(folder))
    for name, value in GEAR.items():
        page.locator(f"[name={name}]").fill(value)
    page.get_by_role("button", name="Make this bench").click()
    base = page.url
    page.get_by_role("link", name="Frames").first.click()
    page.locator("[data-files]").first.set_input_files(frames_in(folder.parent / "card"))
    page.get_by_text("6 frames measured").wait_for(timeout=60_000)
    page.get_by_role("link", name="Lenses").first.click()
    page.get_by_role("link", name="frames behind Wren at 12 mm f/2.8").click()
    page.locator("summary").first.click()
    page.get_by_label("Why does it not count?").first.fill("door opened")
    page.get_by_role("button", name="Leave it out").first.click()
    page.get_by_text("left out in bench.toml: door opened").wait_for()
    page.get_by_role("button", name="Undo the last change").click()
    page.get_by_role("link", name="Ranking").first.click()
    page.get_by_label("Looked at as").select_option("phone")
    page.get_by_role("heading", name="looked at on a phone").wait_for()
    page.get_by_role("button", name="Keep this choice").click()
    page.get_by_role("link", name="Card").first.click()
    page.get_by_role("button", name="Make the cards").click()
    with page.expect_download(timeout=60_000) as taken:
        page.get_by_role("link", name="Picture of").first.click(timeout=60_000)
    card = Path(taken.value.path()).read_bytes()
    answers(page, base)
    page.close()
    return {"base": base, "folder": folder, "faults": faults, "card": card}


def answers(page, base: str) -> None:
    """Ask what is answered in tables."""
    page.goto(f"{base}/plan")
    page.get_by_role("button", name="Make the plan").click()
    page.get_by_text("frames done").wait_for(timeout=60_000)
    page.goto(f"{base}/checks")
    page.get_by_role("button", name="Look for faults").click()
    page.locator("#answer-faults table").first.wait_for(timeout=60_000)
    page.goto(f"{base}/night")
    asked = page.locator("#night")
    asked.locator("[name=at]").fill("52.1 N 4.4 E")
    asked.locator("[name=zone]").fill("UTC+1")
    asked.locator("[name=date]").fill("2027-05-06")
    asked.get_by_role("button", name="Show the night").click()
    page.locator("#answer-night table").first.wait_for(timeout=60_000)


def frames_in(folder: Path) -> list[Path]:
    return [
        fake_file(
            folder / f"f{k}.dng",
            length=6.0 + 0.1 * k,
            x=(1935.0, 3480.0)[k % 2] + 0.4 * k,
            y=(1295.0, 2280.0)[k % 2],
        )
        for k in range(6)
    ]


def test_the_whole_job_is_done_by_clicks(job):
    bench = read_bench_file(job["folder"])
    assert bench.purpose.words == "phone"
    assert not bench.frames
    assert job["card"][:4] == b"\x89PNG"
    assert job["faults"] == []


@pytest.mark.parametrize(("width", "look"), [(390, "day"), (390, "night"), (1280, "day")])
def test_every_page_can_be_read_by_everybody(chromium, served, job, width, look):
    context = chromium.new_context(viewport={"width": width, "height": 850})
    page = context.new_page()
    page.goto(served.address())
    if look == "night":
        page.get_by_role("button", name="Night red").click()
    root = f"http://127.0.0.1:{served.port}"
    for address in (f"{root}/", f"{root}/new", f"{root}/none", *(job["base"] + s for s in STEPS)):
        page.goto(address)
        page.evaluate("document.querySelectorAll('details').forEach(one => one.open = true)")
        assert page.evaluate(WIDER) == 0, f"{address} is wider than {width} px"
        page.evaluate(AXE)
        found = page.evaluate(RUN_AXE, RULES)
        told = [(one["id"], one["nodes"][0]["target"]) for one in found["violations"]]
        assert told == [], address
    context.close()


def test_a_chart_answers_pointer_and_keyboard(chromium, served, job):
    context = chromium.new_context(viewport={"width": 1280, "height": 900})
    page = context.new_page()
    faults: list[str] = []
    page.on("console", lambda said: faults.append(said.text) if said.type == "error" else None)
    page.on("request", lambda asked: faults.append(asked.url)
            if not asked.url.startswith(f"http://127.0.0.1:{served.port}/") else None)  # fmt: skip
    page.goto(served.address())
    page.goto(job["base"] + "/ranking")
    page.get_by_text("Chart: score and blur").click()
    plot = page.get_by_role("application").first
    plot.wait_for(timeout=120_000)
    page.locator(".live .mark-symbol path").first.hover()
    assert "Wren at 12 mm, f/2.8" in page.locator(".tip").first.inner_text()
    page.mouse.move(5, 5)
    plot.focus()
    page.keyboard.press("ArrowRight")
    assert "Score: 100" in page.locator(".tip").first.inner_text()
    page.evaluate(AXE)
    assert page.evaluate(RUN_AXE, RULES)["violations"] == []
    page.keyboard.press("Escape")
    assert page.locator(".tip").first.inner_text() == ""
    page.keyboard.press("Enter")
    page.wait_for_url("**/lenses/0/12/2.8")
    assert faults == []
    context.close()


def test_the_whole_page_is_reached_by_the_keyboard(chromium, served, job):
    context = chromium.new_context()
    page = context.new_page()
    page.goto(served.address())
    page.goto(job["base"] + "/ranking")
    page.keyboard.press("Tab")
    assert page.evaluate("document.activeElement.className") == "skip"
    page.keyboard.press("Enter")
    assert page.evaluate("document.activeElement.id") == "main"
    page.keyboard.press("Tab")
    assert page.evaluate("document.activeElement.name") == "purpose"
    context.close()


@pytest.mark.parametrize("width", [390, 1280])
def test_words_twice_as_large_still_fit(chromium, served, job, width):
    """200 % text at 1280 px is the room of 640 px; a phone's reader asks for more of it still."""
    context = chromium.new_context(viewport={"width": width, "height": 850})
    page = context.new_page()
    page.goto(served.address())
    for step in STEPS:
        page.goto(job["base"] + step)
        page.evaluate("document.documentElement.style.setProperty('font-size', '200%')")
        page.evaluate("document.querySelectorAll('details').forEach(one => one.open = true)")
        assert page.evaluate(WIDER) == 0, step
    context.close()


def test_pictures_for_the_eye(chromium, served, job, tmp_path):
    """Kept where NIGHTGLASS_PICTURES names a folder; looked at by eyes."""
    folder = Path(os.environ.get("NIGHTGLASS_PICTURES", tmp_path))
    for width in WIDTHS:
        context = chromium.new_context(viewport={"width": width, "height": 850})
        page = context.new_page()
        page.goto(served.address())
        page.goto(job["base"] + "/ranking")
        page.screenshot(path=folder / f"ranking_{width}.png", full_page=True)
        context.close()
        assert (folder / f"ranking_{width}.png").stat().st_size > 10_000
