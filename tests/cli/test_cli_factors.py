"""nightglass factors at the door: a planted study from files to words, data and chart."""

import json

import numpy as np
import pytest

from nightglass.cli.main import run


@pytest.fixture
def bench(tmp_path, fakes):
    toml = fakes.BENCH_TOML + '[[frames]]\nmatch = "ladder/*"\nseries = "ladder"\n'
    (tmp_path / "bench.toml").write_text(toml, encoding="utf-8")
    rng = np.random.default_rng(5)
    for k in range(24):
        stop, iso = k % 4, 800 * (1 + k // 4 % 2)
        fakes.fake_file(
            tmp_path / f"frames/ladder/{k:02d}.dng", exposure_true_s=0.1 * 2**stop, iso=iso,
            length=6.3 * np.exp(0.03 * stop + rng.normal(0, 0.01)), width_px=4.0,
            taken_at=f"2027-05-06T20:{k:02d}:00",
        )  # fmt: skip
    assert run(["measure", str(tmp_path), "--workers", "1"]) == 0
    return tmp_path


def test_sentences_say_what_each_condition_does(bench, capsys):
    capsys.readouterr()
    assert run(["factors", str(bench)]) == 0
    out = capsys.readouterr().out.splitlines()
    assert out[0].startswith('Wren at 12 mm, f/2.8, centre, series "ladder": 24 frames, spread')
    assert out[1].startswith("The exposure moves the size most: ")
    assert out[2].startswith("  one stop brighter: +2.8 % (+2.5 to +3.2 %); explains 92 % of the")
    assert out[3].startswith("  ISO one stop higher: ")
    assert "(no effect found above " in out[3]
    text = "\n".join(out)
    assert "Not tested, nowhere said: distance, size of the source and focus." in text
    assert "Exposure ladder: unclipped frames of 4 exposures differ beyond chance (" in text
    assert out[-1] == f'Next: keep exposure alike for all lenses, then  nightglass rank "{bench}"'
    assert (bench / "out/factors.png").stat().st_size > 5000


def test_data_hold_codes_and_numbers(bench, capsys):
    capsys.readouterr()
    assert run(["factors", str(bench), "--json", "--no-charts"]) == 0
    data = json.loads(capsys.readouterr().out)
    (study,) = data["studies"]
    effects = {one["influence"]: one for one in study["effects"]}
    assert effects["exposure"]["effect_found"] is True
    assert (
        effects["exposure"]["effect_low_percent"]
        < 3.05
        < effects["exposure"]["effect_high_percent"]
    )
    assert effects["focus"] | {"fault": "not_known", "effect_percent": None} == effects["focus"]
    assert study["ladder"]["verdict"] == "differ"
    assert data["written"] == []


def test_a_bench_where_nothing_varied_says_how_to_make_a_study(tmp_path, fakes, capsys):
    (tmp_path / "bench.toml").write_text(fakes.BENCH_TOML, encoding="utf-8")
    for k in range(3):
        fakes.fake_file(tmp_path / f"frames/{k}.dng")
    run(["measure", str(tmp_path), "--workers", "1"])
    capsys.readouterr()
    assert run(["factors", str(tmp_path)]) == 1
    out = capsys.readouterr().out
    assert out.startswith("No factor study: nothing varied at one setting and place. Shoot one")
    assert f'Next: shoot a study, then  nightglass measure "{tmp_path}"' in out


def test_frames_that_varied_by_chance_are_no_study_and_do_not_fill_the_screen(
    tmp_path, fakes, capsys
):
    (tmp_path / "bench.toml").write_text(fakes.BENCH_TOML, encoding="utf-8")
    for k in range(6):
        fakes.fake_file(tmp_path / f"frames/{k}.dng", exposure_true_s=0.5 * (1 + k % 2),
                        f_number=2.8 if k < 2 else 4.0 if k < 4 else 5.6)  # fmt: skip
    run(["measure", str(tmp_path), "--workers", "1"])
    capsys.readouterr()
    assert run(["factors", str(tmp_path)]) == 1
    out = capsys.readouterr().out.splitlines()
    assert out == [
        "No effect can be told yet: something varied at 3 settings and places, in 2 frames at most."
        " Take 6 or more, best 20, of one setting with the star at one place (docs/factors.md).",
        f'Next: shoot a study, then  nightglass measure "{tmp_path}"',
    ]
