"""nightglass finish: developed pictures against their reference."""

import json

import numpy as np
import pytest
import tifffile
from finished_skies import encoded, sky_light
from PIL import Image
from scipy.ndimage import median_filter

from nightglass.cli.main import run
from nightglass.finish.profiles import profile_of


@pytest.fixture(scope="module")
def folder(tmp_path_factory):
    """A reference, the same picture smoothed, another scene, a text."""
    made = tmp_path_factory.mktemp("pictures")
    values = encoded(sky_light())
    smooth = np.stack([median_filter(values[..., k], 3) for k in range(3)], axis=-1)
    for name, part in (("plain", values), ("smooth", smooth), ("same", values),
                       ("elsewhere", encoded(sky_light(seed=33)))):  # fmt: skip
        whole = np.rint(65535 * part).astype(np.uint16)
        tifffile.imwrite(
            made / f"{name}.tif", whole, photometric="rgb", iccprofile=profile_of("sRGB")
        )
    (made / "words.tif").write_text("no picture")
    return made


def test_findings_are_said_and_drawn(folder, tmp_path, capsys):
    out = tmp_path / "out"
    call = ["finish", str(folder / "plain.tif"), str(folder / "smooth.tif"), "--out", str(out)]
    assert run(call) == 0
    shown = capsys.readouterr().out
    assert "smooth.tif: 3 findings" in shown.splitlines()[0]
    assert "noise in light is smoothed: at 1 px 3" in shown
    assert "stars are wider: " in shown
    assert "magnitudes under the brightest" in shown
    assert f"written: {out / 'smooth.png'}" in shown
    assert shown.splitlines()[-1].startswith("Next: look at the sheets")
    with Image.open(out / "smooth.png") as sheet:
        assert sheet.width > 1000
        pixels = np.asarray(sheet.convert("L"))
    assert pixels.std() > 30


def test_an_untouched_picture_says_so(folder, tmp_path, capsys):
    out = tmp_path / "out"
    call = ["finish", str(folder / "plain.tif"), str(folder / "same.tif"), "--out", str(out)]
    assert run(call) == 0
    shown = capsys.readouterr().out
    assert "same.tif: Nothing was done to the stars" in shown.splitlines()[0]
    assert "Next: nothing to do" in shown
    assert not out.exists()


def test_json_carries_codes_and_the_others_go_on(folder, capsys):
    names = ["plain", "smooth", "elsewhere", "words"]
    assert run(["finish", *(str(folder / f"{n}.tif") for n in names), "--json"]) == 1
    captured = capsys.readouterr()
    found = json.loads(captured.out)
    smooth, elsewhere = found["pictures"]
    assert [f["code"] for f in smooth["findings"]] == [
        "grain_smoothed", "colour_smoothed", "stars_softened",
    ]  # fmt: skip
    assert smooth["placement"]["scale"] == pytest.approx(1, abs=1e-3)
    assert smooth["profile_from"] == "embedded"
    assert elsewhere["reason"] == "other_scene"
    assert elsewhere["placement"] is None
    assert "words.tif" in found["unread"][0]
    assert found["pairs"][0]["differences"]
    assert "words.tif" in captured.err


def test_nothing_to_compare_says_what_to_do(folder, capsys):
    assert run(["finish", str(folder / "plain.tif"), str(folder / "elsewhere.tif")]) == 1
    shown = capsys.readouterr().out
    assert "another scene, or smoothed away; name the frame that it was developed from" in shown
    assert "Next: name the frame that these pictures were developed from" in shown


@pytest.mark.parametrize(
    ("words", "code", "said"),
    [
        (["plain.tif", "same.tif", "--out", "plain.tif"], 2, "this is a file; name a folder"),
        (["nowhere.tif", "same.tif"], 1, "nowhere.tif: no such file"),
        (["plain.tif"], 2, "PICTURES"),
    ],
)
def test_mistakes_say_what_is_allowed(folder, capsys, monkeypatch, words, code, said):
    monkeypatch.chdir(folder)
    assert run(["finish", *words]) == code
    assert said in capsys.readouterr().err


def wider(values):
    """Sky on both sides that the reference doesn't have, as a panorama holds."""
    sky = np.full((values.shape[0], 1000, 3), np.median(values, axis=(0, 1)))
    sky += np.random.default_rng(2).normal(0, 0.01, sky.shape)
    sky[:, 185:815] = values
    return sky


@pytest.mark.parametrize(
    ("change", "profile", "note"),
    [
        (np.rot90, True, "the picture is turned against the reference by 90.0 degrees"),
        (np.fliplr, True, "the picture is mirrored against the reference"),
        (wider, True, "the picture reaches beyond the reference (a panorama?): only the common part"
         " is compared, 63 % of it"),
        (np.array, False, "no usable colour profile in the file: sRGB is assumed"),
    ],
    ids=["turned", "mirrored", "panorama", "no profile"],
)  # fmt: skip
def test_what_a_person_overlooks_is_noted_and_measured_all_the_same(
    folder, tmp_path, capsys, change, profile, note
):
    whole = np.rint(65535 * np.clip(change(encoded(sky_light())), 0, 1)).astype(np.uint16)
    said = {"iccprofile": profile_of("sRGB")} if profile else {}
    tifffile.imwrite(tmp_path / "other.tif", whole, photometric="rgb", **said)
    assert run(["finish", str(folder / "plain.tif"), str(tmp_path / "other.tif")]) == 0
    shown = capsys.readouterr().out.splitlines()
    assert (
        shown[0] == "other.tif: Nothing was done to the stars, the noise or the colours that shows."
    )
    assert f"  note: {note}" in shown
