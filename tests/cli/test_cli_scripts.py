"""Lens names in the world's scripts, through every picture of a bench."""

import io
import json
import re

import numpy as np
import pypdf
import pytest
from cli_results import setting
from PIL import Image

import nightglass.bench.study.repeats
from nightglass.cli.main import run

NAMES = ("גלעד 24 מ״מ 星の光 f/2", "نجمة ٥٠ مم 🔭 별빛 👩‍🚀")
HEAD = """
[body]
name = "Loan body"
serial = "机身 Корпус"
pitch_um = 6.05
width_px = 3872
height_px = 2592
iso_steps = [800, 1600]
read_noise_e = { 800 = 3.1, 1600 = 2.4 }
"""
LENS = '[[lens]]\nname = "{}"\nfocal_mm = 24\nf_number = 2.0\nfocus = "鏡頭 ∞, then back 2 mm"\n'


@pytest.fixture(scope="module")
def bench(tmp_path_factory):
    folder = tmp_path_factory.mktemp("scripts")
    (folder / "bench.toml").write_text(HEAD + "".join(map(LENS.format, NAMES)), encoding="utf-8")
    results = tuple(setting(name, 24, 2.0, 4.0 + k) for k, name in enumerate(NAMES))
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(nightglass.bench.study.repeats, "setting_results", lambda store, b: results)
        assert run(["rank", str(folder)]) == 0
        assert run(["card", str(folder)]) == 0
    return folder


def test_files_keep_the_letters_of_the_names(bench):
    names = {path.stem for path in (bench / "out" / "cards").glob("*.png")}
    assert names == {"גלעד-24-מ-מ-星の光-f-2", "نجمة-٥٠-مم-별빛", "bag"}


def test_charts_draw_every_name_as_outlines_and_say_it(bench):
    svg = (bench / "out" / "ranking.svg").read_text(encoding="utf-8")
    for name in NAMES:
        assert f'aria-label="{name}"' in svg
        # Nothing is left to the reader's own fonts.
        assert f">{name}</text>" not in svg
    assert "□" not in svg
    ids = re.findall(r'<[a-z:0-9]*symbol id="([^"]+)"', svg)
    assert ids
    assert len(ids) == len(set(ids))


def test_pages_and_prints_hold_every_name(bench):
    page = (bench / "out" / "cards" / "bag.html").read_text(encoding="utf-8")
    for name in NAMES:
        assert name in page
    pdf = pypdf.PdfReader(bench / "out" / "cards" / "גלעד-24-מ-מ-星の光-f-2.pdf")
    words = "".join(p.extract_text() for p in pdf.pages)
    assert "星の光" in words
    assert "□" not in words
    fonts = {str(f["/BaseFont"]) for p in pdf.pages
             for f in (r.get_object() for r in p["/Resources"]["/Font"].values())}  # fmt: skip
    assert any("NotoSansCJK" in name for name in fonts), fonts


def test_json_keeps_every_letter(bench, capsys, monkeypatch):
    results = tuple(setting(name, 24, 2.0, 4.0 + k) for k, name in enumerate(NAMES))
    monkeypatch.setattr(nightglass.bench.study.repeats, "setting_results", lambda s, b: results)
    assert run(["rank", str(bench), "--json", "--no-charts"]) == 0
    rows = json.loads(capsys.readouterr().out)["standings"]
    assert sorted(row["lens"] for row in rows) == sorted(NAMES)


def ink(png: bytes) -> float:
    """Share of dark dots of a picture."""
    with Image.open(io.BytesIO(png)) as picture:
        return float(np.mean(np.asarray(picture.convert("L")) < 128))


@pytest.mark.parametrize(
    "words", ["גלעד", "نجمة", "星光", "별빛", "🔭⭐", "हिन्दी", "ไทย", "Γερανός", "Аист", "ქართული"]
)
def test_every_script_has_shapes_of_its_own(words):
    from nightglass.show.outlined import outlined, png_of
    from nightglass.show.typefaces import drawable

    def drawn(text):
        return png_of(outlined(
            '<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 160 40" width="160" height="40">'
            '<rect width="160" height="40" fill="#fff"/>'
            f'<text x="80" y="26" text-anchor="middle" font-size="20">{text}</text></svg>'
        ))  # fmt: skip

    assert drawable(words) == words
    assert ink(drawn(words)) > 0.004
    # Not boxes: those of a text of squares, one for each letter, look alike.
    assert drawn(words) != drawn("□" * len(words))
    assert drawn(words) != drawn(words[::-1] if len(set(words)) > 1 else "a")
