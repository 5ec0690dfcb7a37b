"""nightglass card: the cards it leaves behind, what it says, and how it refuses."""

from __future__ import annotations

import io
import json
import re

import pypdf
import pytest
from cli_results import BODY, WREN, make_bench, seem_measured, setting
from PIL import Image

from nightglass.cli.main import run
from nightglass.gear.lens import Lens, chosen_lenses

BENCH = f"""{BODY}
firmware = "1.03"
iso_steps = [800, 1600]
{WREN}serial = "W-118"

[[lens]]
name = "Curlew 17-45 mm"
focal_mm = [17, 45]
f_number = [2.5, 4.5]

[[lens]]
name = "<i>Plover</i> 24 mm f/2.2"
focal_mm = 24
f_number = 2.2
"""
RESULTS = (
    setting("Wren 12 mm f/2", 12, 2.0, 5.0),
    setting("Curlew 17-45 mm", 17, 4.0, 4.0),
    setting("Curlew 17-45 mm", 28, 4.0, 9.0),
    setting("Curlew 17-45 mm", 45, 4.5, 4.2),
    setting("Curlew 17-45 mm", 45, 4.0, 4.4),
)


@pytest.fixture
def bench(tmp_path, monkeypatch):
    return make_bench(tmp_path / "my bench é", monkeypatch, BENCH, RESULTS)


def test_cards_of_each_lens_and_of_the_bag(bench, capsys):
    assert run(["card", str(bench)]) == 0
    cards = bench / "out" / "cards"
    stems = ("Wren-12-mm-f-2", "Curlew-17-45-mm", "i-Plover-i-24-mm-f-2-2", "bag")
    assert sorted(path.name for path in cards.iterdir()) == sorted(
        f"{stem}.{kind}" for stem in stems for kind in ("png", "html", "pdf")
    )
    for stem in stems:
        assert Image.open(cards / f"{stem}.png").size == (1080, 2340)
        html = (cards / f"{stem}.html").read_text(encoding="utf-8")
        assert html.startswith('<!doctype html><html lang="en" style="background:#000">')
        assert "<i>" not in html
        pages = pypdf.PdfReader(io.BytesIO((cards / f"{stem}.pdf").read_bytes())).pages
        assert len(pages) == (3 if stem == "bag" else 1)
    shown = capsys.readouterr().out
    assert "Wren 12 mm f/2: f/2, 32 s with remote, 30 s without, ISO" in shown
    assert "<i>Plover</i> 24 mm f/2.2: not tested (not tested: no frame" in shown
    assert str(cards) in shown
    assert "Next: copy bag.html and bag.png to your phone, and print bag.pdf" in shown


def test_json_is_one_document_with_the_words_of_the_cards(bench, capsys):
    assert run(["card", str(bench), "--json"]) == 0
    document = json.loads(capsys.readouterr().out)
    by_lens = {card["lens"]: card for card in document["cards"]}
    assert by_lens["Wren 12 mm f/2"]["big"]["f_number"] == "f/2"
    jumps = [row["warning"] for row in by_lens["Curlew 17-45 mm"]["positions"]]
    assert jumps[0] == jumps[2] == ""
    assert jumps[1].startswith("jump × 2.")
    assert by_lens["<i>Plover</i> 24 mm f/2.2"]["big"]["dial"] == "not tested"
    assert by_lens["<i>Plover</i> 24 mm f/2.2"]["panorama"] == "not tested"
    # The dial's 30 is a true 32 s, with a remote 30; 3 s to save.
    assert re.fullmatch(
        r"16 frames, without dark frames, interval 3[35] s", by_lens["Wren 12 mm f/2"]["stack"]
    )
    assert re.fullmatch(
        r"180° wide, portrait: \d+ frames \d+° up, every \d+°.*, overlap \d+ %, \d+ min, rows from "
        "the land up, each left to right",
        by_lens["Wren 12 mm f/2"]["panorama"],
    )
    assert document["bag"]["page"].endswith("bag.html")


def test_one_lens_alone_makes_no_bag(bench, capsys):
    assert run(["card", str(bench), "--lens", "wren"]) == 0
    names = sorted(path.name for path in (bench / "out" / "cards").iterdir())
    assert names == ["Wren-12-mm-f-2.html", "Wren-12-mm-f-2.pdf", "Wren-12-mm-f-2.png"]
    assert " of 2<" in (bench / "out" / "cards" / "Wren-12-mm-f-2.html").read_text("utf-8")


def test_a_lens_that_is_not_in_the_bag_lists_the_bag(bench, capsys):
    assert run(["card", str(bench), "--lens", "Heron"]) == 2
    assert capsys.readouterr().err.startswith(
        '--lens "Heron" is not in the bag; choose one of: Wren 12 mm f/2, Curlew 17-45 mm'
    )


def test_a_part_of_a_name_must_fit_one_lens():
    lenses = [Lens(name, 24, 24, 2, 2) for name in ("Wren", "Wren II", "Heron")]
    assert chosen_lenses(lenses, ["wren"]) == (lenses[0],)
    assert chosen_lenses(lenses, ["II", "her", "Heron"]) == (lenses[1], lenses[2])
    assert chosen_lenses(lenses, []) == tuple(lenses)
    with pytest.raises(ValueError, match='--lens "r" fits several lenses; choose one of: Wren'):
        chosen_lenses(lenses, ["r"])
    with pytest.raises(ValueError, match='--lens " " is not in the bag'):
        chosen_lenses(lenses, [" "])


def test_nothing_measured_yet_says_what_to_do(bench, capsys, monkeypatch):
    seem_measured(monkeypatch, ())
    assert run(["card", str(bench)]) == 1
    told = capsys.readouterr().err
    assert "No card: no lens could be judged. Wren 12 mm f/2, Curlew 17-45 mm" in told
    assert f'nightglass measure "{bench}"' in told
    assert not (bench / "out" / "cards").exists()


def test_out_that_can_not_be_written_is_told_in_one_line(bench, capsys):
    (bench / "out").write_text("a file in the way")
    assert run(["card", str(bench)]) == 1
    told = capsys.readouterr().err
    assert "can't be written (" in told
    assert "free the disk or allow writing there" in told
    assert len(told.strip().splitlines()) == 1


def test_a_full_disk_leaves_the_old_card_whole(bench, capsys, monkeypatch):
    from pathlib import Path

    assert run(["card", str(bench), "--lens", "wren"]) == 0
    card = bench / "out" / "cards" / "Wren-12-mm-f-2.png"
    before = card.read_bytes()

    def full(self, data):
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(Path, "write_bytes", full)
    assert run(["card", str(bench), "--lens", "wren"]) == 1
    assert "No space left on device" in capsys.readouterr().err
    assert card.read_bytes() == before
    assert [p.name for p in card.parent.iterdir() if p.name.endswith(".part")] == []


def test_purpose_and_release_reach_the_card(bench, capsys):
    assert run(["card", str(bench), "--for", "phone", "--limit", "0.15", "--remote", "--json"]) == 0
    document = json.loads(capsys.readouterr().out)
    wren = next(card for card in document["cards"] if card["lens"].startswith("Wren"))
    assert re.match(r"Over your limit by 0\.\d+ % of height", wren["warnings"][0])
    assert "at 32 s" in wren["trail"]


def test_site_and_focus_reach_the_card(bench, capsys):
    text = BENCH.replace('serial = "W-118"', 'focus = "bright star a third out"')
    text += '[site]\nplace = "52.1 N 4.4 E"\nzone = "Europe/Amsterdam"\n'
    (bench / "bench.toml").write_text(text, encoding="utf-8")
    assert run(["card", str(bench), "--night", "2027-05-06", "--json"]) == 0
    document = json.loads(capsys.readouterr().out)
    wren = next(card for card in document["cards"] if card["lens"].startswith("Wren"))
    assert wren["focus"] == "bright star a third out"
    page = (bench / "out" / "cards" / "Wren-12-mm-f-2.html").read_text("utf-8")
    assert "2027-05-06" in page
    # New moon of 2027-05-06, 10:59 UTC (worked out with ephem).
    assert "1 % lit, down all night" in page
    assert run(["card", str(bench), "--night", "6 May"]) == 2
    assert '"6 May" is not a date; write year-month-day' in capsys.readouterr().err


def test_a_night_without_a_site_says_where_to_keep_one(bench, capsys):
    assert run(["card", str(bench), "--night", "2027-05-06"]) == 2
    told = capsys.readouterr().err
    assert told.startswith("--night needs a place: keep it in bench.toml under [site]")


def test_a_folder_without_bench_toml_is_named(tmp_path, capsys):
    assert run(["card", str(tmp_path)]) == 2
    assert "no bench.toml here; make one: nightglass new" in capsys.readouterr().err
