"""One exposure time everywhere: every command that prints one is asked about one bench."""

import json
import math

import pytest
from cli_results import BODY, HERON, RESULTS, make_bench

from nightglass.cli.main import run

TIME_AND_SITE = """
[time]
holds_at = "{holds_at}"
release = "{release}"

[site]
place = "45 N 7 E"
zone = "Europe/Rome"
"""
AIM = "180 45"
"""The equator of the sky on the meridian, at 45 degrees north: where the ranking looks."""


@pytest.fixture(params=[("centre", "dial"), ("centre", "remote"), ("corners", "dial")])
def bench(request, tmp_path, monkeypatch):
    holds_at, release = request.param
    said = TIME_AND_SITE.format(holds_at=holds_at, release=release)
    return make_bench(tmp_path, monkeypatch, BODY + HERON + said, RESULTS[2:])


def asked(capsys, *arguments):
    capsys.readouterr()
    assert run([*map(str, arguments), "--json"]) == 0
    return json.loads(capsys.readouterr().out)


def test_all_commands_give_one_time(bench, capsys):
    lens = ("--lens", "heron", "--f", "1.8", "--focal", "20")
    ranked = asked(capsys, "rank", bench, "--no-charts")["standings"][0]
    time_s = ranked["exposure_s"]
    (card,) = asked(capsys, "card", bench)["cards"]
    assert card["big"]["remote"] == f"{ranked['remote_s']:.0f} s"
    assert card["big"]["dial"] == f"{ranked['dial_marked_s']:g} s"
    # A gap of 3 s between frames; on the dial the true time behind the mark counts.
    stack = asked(capsys, "stack", bench, *lens, "--aim", AIM)
    assert stack["exposure_s"] == pytest.approx(time_s)
    assert f"interval {math.ceil(time_s + 3):.0f} s" in card["stack"] or (
        f"interval {round(time_s + 3):.0f} s" in card["stack"]
    )
    tonight = asked(
        capsys, "tonight", bench, *lens, "--aim", AIM, "--date", "2027-05-06", "--time", "23:00"
    )
    chosen = tonight
    assert tonight["at"]["utc"] == "2027-05-06T21:00:00Z"
    assert chosen["remote_s"] == ranked["remote_s"]
    assert chosen["dial_marked_s"] == ranked["dial_marked_s"]
    assert chosen["other_remote_s"] == pytest.approx(ranked["other_remote_s"], abs=1)
    panorama = asked(
        capsys, "panorama", bench, *lens, "--width", "5", "--heights", "43..47", "--landscape",
        "--date", "2027-05-06", "--time", "23:00",
    )  # fmt: skip
    (frame,) = panorama["frames"]
    assert frame["altitude_degrees"] == pytest.approx(45, abs=2.5)
    if ranked["holds_at"] == "centre":
        assert panorama["exposure_s"] == pytest.approx(time_s, rel=0.07)
    else:
        # Seams leave the rims out, so the corners that count lie nearer to the middle.
        assert time_s <= panorama["exposure_s"] <= ranked["other_dial_true_s"]
