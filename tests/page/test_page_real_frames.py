"""Real frames through the page: from dropping them to the answer, by clicks in a real browser.

What the answers are worth is tested beside the functions that give them; here each step is driven
once, with frames as small as its functions take.
"""

import re

import numpy as np
import pytest
import tifffile
from bench_fakes import MEASURER, OPENER, fake_file
from finished_skies import encoded, sky_light
from page_chromium import NEEDS_CHROMIUM, serving
from real_files import real_file
from scipy.ndimage import median_filter
from sensor_frames import Roll, chip

from nightglass.bench.measuring.measure import measure_folder
from nightglass.finish.profiles import profile_of
from nightglass.frame.record import Metadata
from nightglass.gear.bag import read_bench_file
from nightglass.page import answers
from nightglass.scene.dng import write_dng
from nightglass.scene.flats import DARK
from nightglass.scene.sky.starfield import Aberrations, Scene, lens_spots, render
from nightglass.sky.astrometry.camera import Camera, look_at

pytestmark = [pytest.mark.slow, NEEDS_CHROMIUM]
BENCH = """[body]
name = "Test body"
pitch_um = {pitch_um}
width_px = {width_px}
height_px = {height_px}
[[lens]]
name = "Wren"
focal_mm = {focal_mm}
f_number = 2
[[place]]
name = "centre"
[[place]]
name = "corner"
x_percent = 90
y_percent = 88
"""
PATIENCE_MS = 300_000
CAMERA = Camera(1050, 700, 1000.0, 524.5, 349.5, 0.0, 0.0)
"""Of 20 mm on pixels of 20 um."""


@pytest.fixture(scope="module")
def served(tmp_path_factory):
    with serving(tmp_path_factory.mktemp("page"), works_ahead=False) as session:
        yield session


@pytest.fixture
def tab(chromium, served):
    context = chromium.new_context(viewport={"width": 1280, "height": 900})
    page = context.new_page()
    page.faults = []
    page.on("pageerror", lambda error: page.faults.append(str(error)))
    page.on("console", lambda said: page.faults.append(said.text) if said.type == "error" else None)
    page.goto(served.address())
    yield page
    assert page.faults == []
    context.close()


@pytest.fixture
def made(tmp_path, served, tab):
    """Make a bench of such gear and open one of its steps."""

    def make(step, **gear):
        gear = {"pitch_um": 6, "width_px": 288, "height_px": 192, "focal_mm": 12, **gear}
        folder = tmp_path / "bench"
        (folder / "frames").mkdir(parents=True)
        (folder / "bench.toml").write_text(BENCH.format(**gear))
        tab.goto(f"http://127.0.0.1:{served.port}/bench/{served.benches.remember(folder)}/{step}")
        return folder

    return make


def dropped(tab, files):
    """Give files to the page and wait until it counts them."""
    tab.locator("[data-files]").first.set_input_files(files)
    words = f"{len(files)} file{'' if len(files) == 1 else 's'} in "
    tab.get_by_text(words).wait_for(timeout=PATIENCE_MS)


def answered(tab, ask, button):
    """Ask a question and return what is answered, once it is there."""
    tab.get_by_role("button", name=button).click()
    place = tab.locator(f"#answer-{ask}")
    place.get_by_text(re.compile("^Answered ")).or_(place.locator(".fault")).wait_for(
        timeout=PATIENCE_MS
    )
    assert place.locator(".fault").count() == 0, place.inner_text()
    return place.inner_text()


def night_frame(path):
    """A frame of the night, drawn from the catalogue."""
    spots = lens_spots(CAMERA, 6.0, 2.0, Aberrations(coma_um=1.0), grid=(1, 1), size_px=21)
    scene = Scene(CAMERA, look_at(310.0, 42.0, 80.0), spots, exposure_s=5.0, hot_pixels=60,
                  faintest_g=7.5, satellites=0)  # fmt: skip
    frame, _ = render(scene)
    said = Metadata(body="Test body", lens="Wren", focal_mm=20.0, f_number=2.0, iso=800,
                    exposure_marked_s=5.0, exposure_true_s=5.0)  # fmt: skip
    write_dng(path, frame.samples, white_level=scene.clipping, pattern=[[0, 1], [1, 2]],
              black=scene.black, metadata=said, compression="none", verify=False)  # fmt: skip
    return path


def test_the_sensor_is_measured_from_dropped_frames(made, tab, tmp_path):
    bench = made("camera")
    roll = Roll(chip(1.2, 3.0), 400, seed=400).bias().flats((0.5, 0.2, 0.07, 0.02))
    roll.take(DARK, 30.0)
    roll.take(DARK, 30.0)
    dropped(tab, [str(path) for path, _ in roll.write(tmp_path / "card")])
    tab.get_by_label("Temperature of the dark frames").fill("9")
    said = answered(tab, "sensor", "Measure the sensor")
    assert "ISO 400" in said
    gain = read_bench_file(bench).body.gain_e_per_count[400]
    assert gain == pytest.approx(1.2, rel=0.05)
    assert (bench / "sensor.json").is_file()
    tab.reload()
    assert "Answered" in tab.locator("#answer-sensor").inner_text()


def test_the_light_over_the_field_is_measured_from_dropped_frames(made, tab, tmp_path):
    size = {"pitch_um": 20.0, "width_px": 576, "height_px": 384}
    made("light", **size)
    y, x = np.indices((384, 576))
    square = ((x - 287.5) ** 2 + (y - 191.5) ** 2) / (287.5**2 + 191.5**2)
    files = []
    for k in range(2):
        light = 6000 * (1 - 0.4 * square) * (1 + (0.1 - 0.2 * k) * (x / 576 - 0.5))
        counts = 512 + np.random.default_rng(k).poisson(light)
        said = Metadata(body="Test body", lens="Wren", focal_mm=12.0, f_number=2.0, iso=200,
                        exposure_marked_s=0.01, exposure_true_s=0.01)  # fmt: skip
        files.append(tmp_path / f"flat{k}.dng")
        write_dng(files[-1], counts.astype(np.uint16), white_level=16383, pattern=[[0, 1], [1, 2]],
                  black=512, metadata=said, compression="none", verify=False)  # fmt: skip
    dropped(tab, files)
    said = answered(tab, "flats", "Measure the light")
    assert "Wren" in said
    assert "stops" in said


def test_a_developed_picture_is_held_against_its_frame(made, tab, tmp_path):
    made("finish")
    values = encoded(sky_light())
    smooth = np.stack([median_filter(values[..., k], 3) for k in range(3)], axis=-1)
    files = []
    for name, part in (("plain", values), ("smooth", smooth)):
        files.append(tmp_path / f"{name}.tif")
        whole = np.rint(65535 * part).astype(np.uint16)
        tifffile.imwrite(files[-1], whole, photometric="rgb", iccprofile=profile_of("sRGB"))
    dropped(tab, files)
    tab.get_by_label("What it should look like").select_option("plain.tif")
    said = answered(tab, "finish", "Hold them against the frame")
    assert "smoothed" in said
    assert tab.locator("#answer-finish figure img").count() > 0


def test_a_frame_of_the_night_is_solved_and_held_against_the_bench(made, tab, tmp_path):
    bench = made("sky", pitch_um=20.0, width_px=1050, height_px=700, focal_mm=20)
    for k in range(4):
        x, y = ((524.5, 349.5), (945.0, 616.0))[k % 2]
        fake_file(bench / "frames" / f"f{k}.dng", x=x, y=y, width=1050, height=700, focal_mm=20.0,
                  f_number=2.0, body="Test body")  # fmt: skip
    measure_folder(bench, workers=1, measurer=MEASURER, opener=OPENER)
    dropped(tab, [night_frame(tmp_path / "night.dng")])
    said = answered(tab, "map", "Measure the sky")
    assert "night.dng" in said
    assert "not solved" not in said
    assert tab.locator("#answer-map figure img").count() > 0
    said = answered(tab, "proof", "Hold bench against sky")
    assert "Wren" in said
    kept = answers.last(read_bench_file(bench), "proof")
    assert any(file.suffix == ".html" for file in kept.told.files)


def test_a_real_frame_of_the_night_is_solved(made, tab):
    frame = real_file("real-sky", "2019-07-29T204726_Alt60_Azi45_Try1.tiff")
    made("sky", pitch_um=5.0, width_px=1024, height_px=768, focal_mm=25)
    dropped(tab, [frame])
    said = answered(tab, "map", "Measure the sky")
    assert "Alt60_Azi45" in said
    # As a general star solver found it: data/real-sky/README.md.
    assert re.search(r"314\.\d|20 ?h 58", said), said


def test_files_that_hold_no_picture_are_told_of_and_cost_nothing_else(made, tab, tmp_path):
    made("sky")
    (tmp_path / "junk.dng").write_bytes(b"no picture " * 99)
    dropped(tab, [tmp_path / "junk.dng"])
    tab.get_by_role("button", name="Measure the sky").click()
    fault = tab.locator("#answer-map .fault")
    fault.wait_for(timeout=PATIENCE_MS)
    assert "not a picture file that can be read" in fault.inner_text()


def led_frame(path, lens, seed):
    """A small raw frame of one point of light, with what its camera wrote."""
    y, x = np.indices((384, 576))
    light = 3000 * np.exp(-((x - 290.3) ** 2 + (y - 190.6) ** 2) / 9)
    counts = np.random.default_rng(seed).normal(512 + light, 4).round().astype(np.uint16)
    said = Metadata(body="Test body", lens=lens, focal_mm=12.0, f_number=2.0, iso=200,
                    exposure_marked_s=0.5, exposure_true_s=0.5)  # fmt: skip
    write_dng(path, counts, white_level=16383, pattern=[[0, 1], [1, 2]], black=512, metadata=said,
              compression="none", verify=False)  # fmt: skip
    return path


def test_a_new_bench_comes_from_dropped_frames_corrected_by_hand(tab, served, tmp_path):
    files = [led_frame(tmp_path / f"{k}.dng", lens, k) for k, lens in enumerate(("WR12", "HR12"))]
    tab.get_by_role("link", name="Make a new bench").click()
    tab.locator("[name=name]").fill("From nothing")
    tab.locator("[data-gear]").set_input_files([*files, files[0]])
    tab.get_by_text("Read from 0.dng, 1.dng, 0.dng.").wait_for(timeout=PATIENCE_MS)
    typed = {name: tab.locator(f"[name={name}]").input_value() for name in (
        "name", "body", "width_px", "height_px", "lens_0", "lens_1", "lens_2", "focal_0", "f_0",
    )}  # fmt: skip
    assert typed == {
        "name": "From nothing", "body": "Test body", "width_px": "576", "height_px": "384",
        "lens_0": "WR12", "lens_1": "HR12", "lens_2": "", "focal_0": "12", "f_0": "2",
    }  # fmt: skip
    tab.locator("[name=lens_0]").fill("Wren")
    tab.locator("[name=sensor_width_mm]").fill("11,52")
    tab.locator("[name=folder]").fill(str(tmp_path / "made"))
    tab.get_by_role("button", name="Make this bench").click()
    tab.get_by_role("link", name="Frames").first.wait_for()
    bench = read_bench_file(tmp_path / "made")
    assert bench.body.pitch_um == pytest.approx(20.0)
    assert [lens.name for lens in bench.lenses] == ["Wren", "HR12"]
    assert bench.lenses[0].recorded_as == ("WR12",)
    tab.get_by_role("link", name="Frames").first.click()
    tab.locator("[data-files]").first.set_input_files(files)
    tab.get_by_text("2 frames measured").wait_for(timeout=PATIENCE_MS)
    assert "Wren" in tab.locator("ul.frames").inner_text()
