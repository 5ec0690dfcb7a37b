"""The night planner at the command line: what is printed, written and refused."""

import json
import re
import socket

import pytest
import typer.main

from nightglass.cli import main
from nightglass.show.plan.caution_words import short_cautions, whole_cautions

PLANNER = {
    "night": "night",
    "season": "night",
    "tonight": "night",
    "panorama": "panorama",
    "stack": "panorama",
}
"""Command -> module below nightglass.cli."""
CAPE = ("--at", "33.9 S 18.4 E", "--zone", "Africa/Johannesburg", "--date", "2027-06-04")
LENS = ("--focal", "20", "--f", "1.8")


@pytest.fixture
def run(monkeypatch, capsys, tmp_path):
    """Run a command away from any bench; return (exit code, printed, told)."""
    monkeypatch.chdir(tmp_path)
    for name, module in PLANNER.items():
        monkeypatch.setitem(main.COMMANDS, name, (module, "the night planner"))

    def go(*arguments):
        code = main.run(arguments)
        out = capsys.readouterr()
        return code, out.out, out.err

    return go


def test_a_night_in_text(run):
    code, out, _ = run("night", "--at", "52.1 N 4.4 E", "--date", "2027-05-06")
    assert code == 0
    assert "Dark and moon down     00:01 to 03:17; 3.3 h" in out
    assert "Never point a laser" in out


def test_a_night_as_data(run):
    code, out, _ = run("night", *CAPE, "--json", "--target", "Large Magellanic Cloud")
    assert code == 0
    data = json.loads(out)
    assert data["target"]["name"] == "Large Magellanic Cloud"
    assert data["place"]["zone"] == "Africa/Johannesburg"


def test_several_nights_are_a_table(run):
    code, out, _ = run("night", "--at", "52.1 N 4.4 E", "--date", "2027-05-06..2027-05-09")
    assert code == 0
    assert out.splitlines()[0].startswith("night of")
    assert "Sat 08 May 2027" in out
    assert "Never point a laser" in out


def test_the_kept_site_is_used(run, tmp_path):
    (tmp_path / "bench.toml").write_text(BENCH, encoding="utf-8")
    code, out, err = run("night", "--date", "2027-06-04")
    assert code == 0, err
    assert "above a horizon of 6° all round" in out
    assert "Africa/Windhoek" in out
    assert "at Gravel plain (22.6000° S 17.1000° E)" in out
    code, by_name, err = run("night", "--date", "2027-06-04", "--at", "gravel plain")
    assert (code, by_name) == (0, out), err


@pytest.mark.parametrize(
    "arguments",
    [
        ("night", "--date", "2027-06-04"),
        ("season", "--from", "2027-06-01", "--nights", "3"),
        ("tonight", "--date", "2027-06-04", "--lens", "kestrel"),
        ("panorama", "--date", "2027-06-04", "--lens", "kestrel", "--width", "60"),
        ("stack", "--lens", "kestrel"),
    ],
    ids=lambda arguments: arguments[0],
)
def test_the_bench_folder_comes_first_in_every_command(run, tmp_path, arguments):
    folder = tmp_path / "mybench"
    folder.mkdir()
    (folder / "bench.toml").write_text(BENCH, encoding="utf-8")
    code, out, err = run(arguments[0], str(folder), *arguments[1:])
    assert (code, err) == (0, "")
    assert "Gravel plain" in out or "Kestrel" in out
    code, _, err = run(arguments[0], str(tmp_path / "mybnch"), *arguments[1:])
    assert code == 2
    assert "mybnch" in err
    assert len(err.strip().splitlines()) == 1


def test_the_time_of_a_panorama_follows_the_release_of_the_bench(run, tmp_path):
    # 20 mm f/1.8: 0.16828 % of 24 mm is a trail of 27.7 s at the equator of the sky; the dial's 25.
    asked = ("stack", "--lens", "kestrel", "--aim", "0 67.4", "--json")
    (tmp_path / "bench.toml").write_text(BENCH, encoding="utf-8")
    _, dial, _ = run(*asked)
    _, remote, _ = run(*asked, "--remote")
    assert json.loads(dial)["exposure_s"] == pytest.approx(2 ** (14 / 3))
    assert json.loads(remote)["exposure_s"] == pytest.approx(28, abs=0.01)


def test_an_arch_is_dated_and_found_at_a_time_when_it_stands(run):
    code, out, err = run("panorama", *CAPE, "--arch", *LENS)
    assert code == 0, err
    # At its highest the centre is 5 degrees from the zenith there: the arch is taken later.
    assert "First frame: Saturday 05 June 2027, 02:58, at 33.9 S 18.4 E" in out
    assert "for the Milky Way's arch, up to 73° high" in out
    code, _, err = run("panorama", *CAPE, "--arch", *LENS, "--time", "00:30")
    assert code == 2
    assert "no arch, and rows can't be closed there" in err


def test_a_season_writes_its_files(run, tmp_path):
    out_folder = tmp_path / "plans"
    code, out, _ = run(
        "season", *CAPE[:4], "--from", "2027-06-01", "--nights", "20", "--out", str(out_folder)
    )
    assert code == 0
    assert "The best nights, best first" in out
    assert {p.name for p in out_folder.iterdir()} == {
        "season.svg", "season.png", "season.csv", "season.ics",
    }  # fmt: skip


def test_tonight_gives_times_and_draws_them(run, tmp_path):
    code, out, _ = run(
        "tonight", *CAPE, "--time", "22:30", *LENS,
        "--aim", "centre of the Milky Way in the left third", "--out", str(tmp_path / "t"),
    )  # fmt: skip
    assert code == 0
    assert "with remote    49 s; 18 s if every place must hold" in out
    assert "on the dial    30 s; 15 s if every place must hold" in out
    assert "common rules for this lens" in out
    assert "Taken: a sensor of 36x24 mm" in out
    assert (tmp_path / "t" / "tonight.svg").read_text().startswith("<svg")


def test_tonight_of_a_lens_that_nobody_tested(run, tmp_path):
    (tmp_path / "bench.toml").write_text(BENCH, encoding="utf-8")
    code, out, err = run(
        "tonight", "--lens", "Kestrel 20", "--date", "2027-06-04", "--time", "22:30",
        "--aim", "180 30",
    )  # fmt: skip
    assert code == 0, err
    assert "Kestrel 20 is taken wide open: nothing measured says better (not tested)." in out
    code, part, err = run(
        "tonight", "--lens", "kestrel", "--date", "2027-06-04", "--time", "22:30",
        "--aim", "180 30",
    )  # fmt: skip
    assert (code, part) == (0, out), err
    code, _, err = run("tonight", "--lens", "Dodo", "--date", "2027-06-04", "--aim", "180 30")
    assert code != 0
    assert '--lens "Dodo" is not in the bag; choose one of: Kestrel 20' in err


def test_a_panorama_is_planned_drawn_and_listed(run, tmp_path):
    code, out, _ = run(
        "panorama", *CAPE, "--time", "20:30", "--focal", "35", "--f", "1.4", "--like", "14",
        "--wide-f", "2.8", "--usable", "70", "--out", str(tmp_path / "p"),
    )  # fmt: skip
    assert code == 0
    assert "seams use only the middle 70 % of each side" in out
    assert "stops per patch of sky" in out
    page = (tmp_path / "p" / "panorama.html").read_text()
    assert 'style="background:#000"' in page
    assert "<script" not in page
    assert "http" not in page
    assert (tmp_path / "p" / "panorama.png").stat().st_size > 10_000


def test_a_panorama_as_data_needs_no_place_with_a_typed_time(run):
    code, out, _ = run(
        "panorama", "--focal", "24", "--f", "1.4", "--exposure", "10", "--width", "180",
        "--heights", "0..30", "--json",
    )  # fmt: skip
    assert code == 0
    data = json.loads(out)
    assert data["exposure_s"] == 10
    assert sum(row["frames"] for row in data["rows"]) == len(data["frames"])


def test_a_stack(run):
    code, out, _ = run("stack", *CAPE[:4], *LENS, "--noise", "25", "--exposure", "32")
    assert code == 0
    assert "16 frames of 32.0 s (true time)" in out
    assert "interval       35 s on the remote" in out
    # Common practice: 4 frames are a stop less noise and two stops more light.
    assert "25 % of one frame's: 4.0 stops more light, 2.0 stops less noise" in out
    assert out.rstrip().endswith("\n".join(short_cautions()))
    code, out, _ = run("stack", *CAPE[:4], *LENS, "--aim", "0 56.1", "--dial", "--json")
    # The equator of the sky: 0.16828 % of 24 mm at 20 mm x 7.2921e-5 a second is 27.7 s; within
    # 1.07 times that is the mark 25, 2^(14/3) s.
    assert json.loads(out)["exposure_s"] == pytest.approx(2 ** (14 / 3))


@pytest.mark.parametrize(
    ("arguments", "message"),
    [
        (("night", "--at", "91 N 4 E"), "is off the globe: latitude 91"),
        (("night", "--at", "151.2, -33.9"), "the numbers look swapped, the latitude comes first"),
        (("night", "--at", "52 N 4 E", "--zone", "Mars/Base"), 'unknown zone "Mars/Base"'),
        (("night", "--at", "52 N 4 E", "--date", "2027-02-30"), "day 30 does not exist"),
        (("night", "--at", "52 N 4 E", "--date", "2060-01-01"), "outside the table of sun"),
        (("night", "--at", "52 N 4 E", "--horizon", "0:5, 180:5"), "table: nothing between"),
        (("night", "--at", "52 N 4 E", "--horizon", "hills.txt"), 'there is no file "hills.txt"'),
        (("night",), "no place given; say where"),
        (("tonight", *CAPE, *LENS, "--aim", "180 -10"), "the aim lies 10° below the horizon"),
        (("tonight", *CAPE), "no setting to plan for; name a lens of the bench"),
        (("tonight", *CAPE, *LENS, "--sensor", "24x36"), "they should be square"),
        (("panorama", *CAPE, *LENS, "--overlap", "95"), "overlap 95 % is above 90 %"),
        (("panorama", *CAPE, *LENS, "--heights", "10..100"), "rows can't pass the zenith"),
        (
            ("panorama", *CAPE, "--focal", "300", "--f", "2.8", "--exposure", "1", "--usable", "30",
             "--width", "360", "--heights", "60..90"),
            "the panorama can't be closed",
        ),
        (("panorama", *CAPE, *LENS, "--exposure", "-3"), "--exposure is -3; it must be above 0"),
        (("panorama", *CAPE, *LENS, "--exposure", "0"), "--exposure is 0; it must be above 0"),
        (("panorama", *CAPE, *LENS, "--saving", "-3"), "saving takes -3 s; it can't be negative"),
        (("night", *CAPE, "--sky", "-5"), "a sky of -5 mag per square arcsecond is none at night"),
        (("stack", *CAPE[:4], *LENS, "--sky", "99"), "it goes from 14 (a lit town) to 23"),
        (("stack", *CAPE[:4], *LENS, "--noise-area", "0"), "--noise-area is 0; it must be above 0"),
        (("stack", *CAPE[:4], *LENS, "--exposure", "0"), "--exposure is 0; it must be above 0"),
        (("stack", *CAPE[:4], *LENS, "--aim", "Pleiades"), "a stack is planned for a fixed aim"),
    ],
)  # fmt: skip
def test_bad_input_is_told_in_one_line(run, arguments, message):
    code, _, err = run(*arguments)
    assert code != 0
    assert message in err
    assert len(err.strip().splitlines()) == 1


def test_swapped_coordinates_are_pointed_out(run):
    code, out, _ = run("night", "--at", "4.4, 52.1", "--zone", "Europe/Amsterdam")
    assert code == 0
    assert "Look again: This place is" in out
    assert "with latitude and longitude swapped" in out


BENCH = """
[body]
name = "Club body"
pitch_um = 6.0
width_px = 6000
height_px = 4000

[[lens]]
name = "Kestrel 20"
focal_mm = 20
f_number = 1.8

[site]
name = "Gravel plain"
place = "22.6 S 17.1 E"
zone = "Africa/Windhoek"
horizon = 6
"""


@pytest.mark.parametrize("sun", ["up", "down"])
def test_land_by_starlight_needs_a_dark_sky(run, sun):
    day = {"up": "2027-06-21", "down": "2027-12-21"}[sun]
    code, out, err = run(
        "tonight", "--at", "70 N 25 E", "--date", day, "--time", "23:30", *LENS, "--aim", "0 40"
    )
    assert code == 0, err
    assert ("The sun is up: never aim a lens or a finder at it." in out) == (sun == "up")
    assert ("Land by starlight" in out) == (sun == "down")
    assert out.index("Land: Focused at") < out.index("Before you go")


def test_moonlight_is_told_overhead_where_the_target_never_rises(run):
    code, out, _ = run("night", "--at", "70 N 25 E", "--date", "2027-12-12", "--json")
    assert code == 0
    moon, hours = json.loads(out)["moon"], json.loads(out)["hours"]
    assert moon["code"] == "up_all_night"
    assert moon["cost_stops_at_most"] is None
    # Common practice: under a high full moon the sky has some 18 mag per square arcsecond, 3 to 4
    # mag more than the dark 21.6 that is taken; 1 stop is 0.75 mag.
    assert 3 < moon["cost_overhead_stops_at_most"] < 5
    dark = [h for h in hours if h["sun_degrees"] < -18]
    assert all(h["moon_cost_overhead_stops"] > 3 for h in dark)
    assert len(dark) == 13
    assert all(h["moon_cost_overhead_stops"] is None for h in hours if h not in dark)


def test_a_moon_that_stays_down_where_the_sun_stays_up(run):
    _, out, _ = run("night", "--at", "70 N 25 E", "--date", "2027-06-21")
    assert "The sun stays up: there is no night." in out
    assert "The moon stays down all day." in out


def test_a_span_of_nights_ends_with_the_cautions(run):
    _, out, _ = run("night", "--at", "52.1 N 4.4 E", "--date", "2027-05-06..2027-05-08")
    assert out.rstrip().endswith("\n".join(whole_cautions()))


@pytest.mark.parametrize("command", main.COMMANDS)
def test_no_unit_is_lost_in_help(command):
    # Square brackets are markup for the help's printer: "[m]" would vanish.
    group = typer.main.get_command(main.build(command))
    for parameter in group.commands[command].params:
        assert not re.search(r"\[[a-z%]", getattr(parameter, "help", None) or ""), parameter.name


OFFLINE = [
    ("night", *CAPE),
    ("season", *CAPE[:4], "--from", "2027-06-01", "--nights", "12"),
    ("tonight", *CAPE, "--time", "20:30", *LENS, "--aim", "180 30", "--out", "t"),
    ("panorama", *CAPE, "--time", "20:30", *LENS, "--width", "90", "--heights", "0..30"),
    ("stack", *CAPE[:4], *LENS, "--frames", "4"),
]


@pytest.mark.parametrize("arguments", OFFLINE, ids=lambda arguments: arguments[0])
def test_every_plan_is_made_without_a_network(run, monkeypatch, arguments):
    def refuse(*given, **named):
        raise OSError("the network was touched")

    monkeypatch.setattr(socket.socket, "connect", refuse)
    monkeypatch.setattr(socket, "getaddrinfo", refuse)
    code, out, err = run(*arguments)
    assert (code, err) == (0, "")
    whole = arguments[0] in ("night", "season")
    assert "\n".join(whole_cautions() if whole else short_cautions()) in out
