"""Mistakes of hurried people, command by command: every message says what is wrong, what is allowed
and what to do, in one line, and with --json as data."""

import json
from pathlib import Path

import pytest

from nightglass.cli.main import COMMANDS, run

PLACE = ["--at", "52.1 N 4.4 E", "--date", "2027-05-06"]
HERE = PLACE[:2]
SET = ["--focal", "20", "--f", "2"]
NO_FOLDER = '{none}: there is no such folder; make a bench: nightglass new "{none}"'
A_FILE = "{file}: a file, not a folder; name the folder that holds bench.toml"
EMPTY = '{empty}: no bench.toml here; make one: nightglass new "{empty}"'
IN_THE_WAY = "a file stands where a folder should be; name another folder, or move that file away"
NO_FILE = "{none}: no such file; check the name and the folder"
NO_PLACE = (
    'no place given; say where, like --at "52.1 N 4.4 E", or keep it in bench.toml under [site]'
)
LIMIT = "% of picture height; allowed: above 0, at most 10, such as 0.25"
DAYS = '"2027-02-30": February 2027 has 28 days; day 30 does not exist'
NO_DATE = '"06.05.27" is not a date; write year-month-day, like 2027-05-06'

# Command: what was typed behind it, the exit code, how the message begins. {none} is missing,
# {file} a file, {empty} a folder without anything, {bench} a bench without frames.
MISTAKES = {
    "open": [
        (["{none}"], 2, NO_FOLDER),
        (["{file}"], 2, A_FILE),
        (["{empty}"], 2, EMPTY),
        (["{bench}", "--port", "80"], 2, "--port is 80; allowed: 1024 to 65535, such as 8765"),
        (["{bench}", "--port", "many"], 2, '--port: "many" is not a whole number; give: '),
        (["{bench}", "--browse"], 2, "there is no option --browse"),
    ],
    "new": [
        (["{file}"], 1, "{file}/frames: " + IN_THE_WAY),
        (["{bench}"], 1, "{bench}/bench.toml: there already; nothing was changed. Edit it, or name"),
        (["{none}", "--from", "{none}"], 1, NO_FILE),
        (["{none}", "--pitch-um", "-3"], 2, "--pitch-um is -3; allowed: between 0.5 and 30 um: the"),
        (["{none}", "--name", ""], 0, ""),
        (["{none}", "--name", " "], 2, "--name is blank; give a name such as"),
    ],
    "plan": [
        (["{none}"], 2, NO_FOLDER),
        (["{bench}", "--hours", "-1"], 2, "--hours -1: no time left; give the hours that you have"),
        (["{bench}", "--lens", "zzz"], 2, '--lens "zzz" is not in the bag; choose one of: Wren 12 mm'),
        (["{bench}", "--place", "moon"], 2, '--place "moon" is not a place of the bench; choose of'),
        (["{bench}", "--hours", "many"], 2, '--hours: "many" is not a number; give: '),
    ],
    "watch": [
        (["{none}"], 2, NO_FOLDER),
        (["{file}"], 2, A_FILE),
        (["{empty}"], 2, EMPTY),
        (["{bench}", "--watch"], 2, "there is no option --watch"),
        (["{bench}", "{bench}"], 2, "too much was typed: {bench}; put names with spaces in quotes"),
    ],
    "sensor": [
        (["{none}"], 1, "{none}: no such folder; make it and copy raw frames with the cap on and of"),
        (["{bench}"], 1, "{bench}/sensor: no such folder; make it and copy raw frames with the cap"),
        (["{empty}"], 1, "{empty}: no files in it; copy raw frames with the cap on and of an evenly"),
        (["{bench}", "--temperature", "warm"], 2, '--temperature: "warm" is not a number; give: '),
        (["{bench}", "--nig", "3"], 2, "there is no option --nig; allowed: --temperature, --body, --json"),
    ],
    "finish": [
        ([], 2, "REFERENCE is missing; give: the raw frame, or a developed picture that is taken"),
        (["{none}", "{file}"], 1, "{none}: no such file; check the name and the folder"),
        (["{empty}", "{file}"], 1, "{empty}: a folder, not a picture file; name the files in it"),
        (["{file}", "{none}", "--out", "{file}"], 2, "--out {file}: this is a file; name a folder"),
        (["{file}", "{file}", "--zz"], 2, "there is no option --zz; allowed: --out, --json"),
    ],
    "focus": [
        (["{none}"], 2, NO_FOLDER),
        (["{file}"], 2, A_FILE),
        (["{empty}"], 2, EMPTY),
        (["{bench}"], 1, "Focus not separated: no focus series is on record; take 5 to 9 frames of"),
        (["{bench}", "--marks", "3"], 2, "there is no option --marks; did you mean --charts? See:  nightglass"),
        (["{bench}", "{bench}"], 2, "too much was typed: {bench}; put names with spaces in quotes"),
    ],
    "flats": [
        (["{none}"], 2, NO_FOLDER),
        (["{empty}"], 2, EMPTY),
        (["{bench}"], 1, "{bench}/flats: no such folder; make it and copy raw frames of an evenly l"),
        (["{bench}", "--reference", "zzz"], 1, "{bench}/flats: no such folder; make it and copy raw"),
        (["{bench}", "--ref", "a"], 2, "there is no option --ref; did you mean --reference? See:  nightglass flats"),
    ],
    "factors": [
        (["{none}"], 2, NO_FOLDER),
        (["{file}"], 2, A_FILE),
        (["{empty}"], 2, EMPTY),
        (["{bench}", "--lens", "zzz"], 2, '--lens "zzz" is not in the bag; choose one of: Wren 12 mm'),
        (["{bench}", "--zz"], 2, "there is no option --zz; allowed: --lens, --body, --json"),
    ],
    "bodies": [
        (["{none}"], 2, NO_FOLDER),
        (["{file}"], 2, A_FILE),
        (["{empty}"], 2, EMPTY),
        (["{bench}"], 1, "{bench}: bench.toml has one body only, "),
        (["{bench}", "--lens", "wren"], 2, "there is no option --lens; allowed: --json. See:  nig"),
    ],
    "faults": [
        (["{none}"], 2, NO_FOLDER),
        (["{file}"], 2, A_FILE),
        (["{empty}"], 2, EMPTY),
        (["{bench}", "--lens", "zzz"], 2, '--lens "zzz" is not in the bag; choose one of: Wren 12 mm'),
        (["{bench}", "--fault", "coma"], 2, "there is no option --fault"),
        (["{bench}"], 1, "{bench}: no spot of these lenses is on record; next: nightglass measure"),
    ],
    "measure": [
        (["{none}"], 2, NO_FOLDER),
        (["{file}"], 2, A_FILE),
        (["{empty}"], 2, EMPTY),
        (["{bench}"], 1, "{bench}/frames: empty; copy the raw files there, then run measure again"),
        (["{bench}", "--workers", "0"], 2, '--workers: "0" is too small, 1 is the least; give: proc'),
    ],
    "rank": [
        (["{none}"], 2, NO_FOLDER),
        (["{file}"], 2, A_FILE),
        (["{bench}", "--limit", "-1"], 2, "the limit is -1 " + LIMIT),
        (["{bench}", "--limit", "0,25"], 2, '--limit: "0,25" is not a number; give: largest blur'),
        (["{bench}", "--for", "poster"], 2, '"poster" is not understood as a purpose; allowed: "ph'),
        (["{bench}", "--for", "print 0x0 cm"], 2, "a picture 0 m high seen from 0 m: both must be "
         "above 0, as in print 60 cm wide seen from 1 m"),
    ],
    "compare": [
        (["{none}", "a", "b"], 2, NO_FOLDER),
        (["{bench}", "wren"], 2, "OTHER is missing; give: A setting: a lens"),
        (["{bench}", "wren", "dipper"], 2, "nothing was measured that can be judged; run nightglass"),
        (["{bench}", "wren", "dipper", "--view", "moon"], 2, "--view: 'moon' is not one of"),
        (["{bench}", "wren", "dipper", "--for", "poster"], 2, '"poster" is not understood as a purp'),
    ],
    "look": [
        (["{empty}", "a", "b"], 2, EMPTY),
        (["{bench}", "wren", "dipper", "--frames", "0"], 2, '--frames "0" are not two counts of 1 or'),
        (["{bench}", "wren", "dipper", "--minutes", "0"], 2, "--minutes 0 is no time to make a pict"),
        (["{bench}", "wren", "dipper", "--place", "edge"], 2, '--place "edge" is not in bench.toml'),
        (["{bench}", "wren", "dipper", "--toward", "up"], 2, '"up" is no direction in the sky; write'),
        (["{bench}", "wren", "dipper"], 2, "nothing was measured that can be judged; run nightglass"),
    ],
    "card": [
        (["{none}"], 2, NO_FOLDER),
        (["{empty}"], 2, EMPTY),
        (["{bench}"], 1, "No card: no lens could be judged. Wren 12 mm f/2"),
        (["{bench}", "--lens", "zzz"], 2, '--lens "zzz" is not in the bag; choose one of: Wren 12 mm'),
        (["{bench}", "--limit", "0"], 2, "the limit is 0 " + LIMIT),
        (["{bench}", "--night", "2027-05-06"], 2, "--night needs a place: keep it in bench.toml"),
    ],
    "spot": [
        ([], 2, "FILES is missing; give: raw files, or TIFF, PNG, JPEG, FITS"),
        (["{none}"], 1, NO_FILE),
        (["{empty}"], 1, "{empty}: a folder, not a picture file; name the files in it"),
        (["{file}", "--near", "5"], 2, "Option '--near' requires 2 arguments. See:  nightglass spot --help"),
        (["{file}", "--near", "a", "b"], 2, '--near: "a" is not a number; give: where the star'),
    ],
    "demo": [
        (["{file}"], 1, "{file}/frames: " + IN_THE_WAY),
        (["--sky", "{file}"], 1, "{file}/sky: " + IN_THE_WAY),
        (["{empty}", "{empty}"], 2, "too much was typed: {empty}; put names with spaces in quotes"),
        (["--clouds"], 2, "there is no option --clouds; did you mean --focus? See:  nightglass"),
        (["--flats", "{file}"], 1, "{file}/frames: " + IN_THE_WAY),
        (["--finish", "{file}"], 1, "{file}: " + IN_THE_WAY),
        (["--skye"], 2, "there is no option --skye; did you mean --sky?"),
    ],
    "sky": [
        ([], 2, "no frames given: name raw files of the night sky or a folder of them, or dark"),
        (["{empty}"], 1, "{empty}: no files in this folder; name raw files of the sky"),
        (["{none}", "--exposure-s", "0"], 2, "--exposure-s is 0; it must be above 0, such as 15 (s)"),
        (["{none}", "--at", "91 N 4 E"], 2, '"91 N 4 E" is off the globe: latitude 91 is not between'),
        (["{none}", "--bench", "{empty}"], 2, EMPTY),
        (["{none}", "--report", "{file}"], 2, "--report {file}: this is a file; name a folder, a new"),
        (["{none}", "--zone", "Mars"], 2, "--zone belongs to a place: name it with --at, or --bench"),
    ],
    "proof": [
        (["{none}"], 2, NO_FOLDER),
        (["{file}"], 2, A_FILE),
        (["{empty}"], 2, EMPTY),
        (["{bench}"], 1, "{bench}/sky: no such folder; make it and copy raw frames of the night sky"),
        (["{bench}", "--chart"], 2, "there is no option --chart; did you mean --charts?"),
    ],
    "night": [
        ([], 2, NO_PLACE),
        ([*HERE, "--date", "2027-02-30"], 2, DAYS),
        ([*HERE, "--date", "06.05.27"], 2, NO_DATE),
        ([*HERE, "--date", "2027-05-12..2027-05-06"], 2, '"2027-05-12..2027-05-06": the last date '
         "lies before the first; write the earlier one first"),
        ([*HERE, "--sky", "40"], 2, "a sky of 40 mag per square arcsecond is none at night; it goes"),
        ([*HERE, "--horizon", "abc"], 2, 'horizon: there is no file "abc"; give a height like "10"'),
        (["{empty}", *HERE], 2, EMPTY),
    ],
    "season": [
        ([], 2, NO_PLACE),
        ([*HERE, "--nights", "0"], 2, "0 nights; plan 1 to 800 at a time"),
        ([*HERE, "--nights", "many"], 2, '--nights: "many" is not a whole number; give: how many'),
        ([*HERE, "--from", "06.05.27"], 2, NO_DATE),
        ([*HERE, "--nights", "2", "--out", "{file}"], 1, "{file}: " + IN_THE_WAY),
    ],
    "tonight": [
        (PLACE, 2, "no setting to plan for; name a lens of the bench (--lens) or type --focal and"),
        ([*PLACE, "--focal", "0", "--f", "2"], 2, "--focal is 0; it must be above 0, such as 20 (mm)"),
        ([*PLACE, *SET, "--trail", "0"], 2, "--trail is 0; it must be above 0, such as 0.15 (% of"),
        ([*PLACE, *SET, "--time", "25:00"], 2, '"25:00" is no time of day; hours go to 23, minutes'),
        ([*PLACE, *SET, "--aim", "400 20"], 2, "azimuth 400 is not between 0 and 360; write azimuth"),
        ([*PLACE, *SET, "--sensor", "36"], 2, 'sensor "36" is not two sides; write 36x24'),
        (["{bench}", *PLACE, "--lens", "zzz"], 2, '--lens "zzz" is not in the bag; choose'),
    ],
    "panorama": [
        ([*SET], 2, NO_PLACE),
        ([*PLACE, *SET, "--width", "999"], 2, "width 999 is not between 0 and 360 degrees of azimuth"),
        ([*PLACE, *SET, "--heights", "60"], 2, '--heights "60" are not two heights; write the lower'),
        ([*PLACE, *SET, "--heights", "60..10"], 2, "heights 60 to 10: the lower one comes first, from"),
        ([*PLACE, *SET, "--overlap", "95"], 2, "overlap 95 % is above 90 %: hardly anything of each"),
        ([*PLACE, *SET, "--usable", "0"], 2, "--usable is 0; it must be above 0, such as 70 (%)"),
        ([*PLACE, *SET, "--wide", "-5"], 2, "--wide is -5; it must be above 0, such as 14 (mm)"),
    ],
    "stack": [
        (HERE, 2, "no setting to plan for; name a lens of the bench (--lens) or type --focal and"),
        ([*HERE, *SET, "--frames", "0"], 2, "--frames is 0; it must be above 0, such as 16"),
        ([*HERE, *SET, "--noise", "200"], 2, "a noise of 200 % of one frame's is none; give above 0"),
        ([*HERE, *SET, "--depth", "40"], 2, "that takes more than 2000 frames; 1 to 2000 can be"),
        ([*HERE, *SET, "--exposure", "nan"], 2, "--exposure is nan; it must be above 0, such as 15"),
        ([*HERE, *SET, "--aim", "180 -20"], 2, "the aim lies 20° below the horizon; aim at 0 to 90"),
    ],
}  # fmt: skip


@pytest.fixture(scope="module")
def places(tmp_path_factory):
    root: Path = tmp_path_factory.mktemp("mistakes")
    (root / "empty").mkdir()
    (root / "file").write_text("a list of things to bring", encoding="utf-8")
    assert run(["new", str(root / "bench")]) == 0
    return {name: str(root / name) for name in ("none", "file", "empty", "bench")}


def filled(text: str, places: dict[str, str]) -> str:
    for name, path in places.items():
        text = text.replace(f"{{{name}}}", path)
    return text


def test_every_command_has_five_mistakes():
    assert set(MISTAKES) == set(COMMANDS)
    assert all(len(cases) >= 5 for cases in MISTAKES.values())


@pytest.mark.parametrize(
    ("command", "typed", "code", "words"),
    [(name, *case) for name, cases in MISTAKES.items() for case in cases if case[1]],
    ids=lambda value: " ".join(value) if isinstance(value, list) else str(value)[:12],
)
def test_a_mistake_is_told_in_words_and_as_data(command, typed, code, words, places, capsys):
    arguments = [command, *(filled(word, places) for word in typed)]
    there = filled(words, places)
    assert run(arguments) == code
    told = capsys.readouterr()
    assert told.err.startswith(there), told.err
    assert len(told.err.strip().splitlines()) == 1
    if command == "demo":
        return
    assert run([command, "--json", *arguments[1:]]) == code
    told = capsys.readouterr()
    data = json.loads(told.out)
    assert data["code"] == code
    # A document with results of its own names its files in `refused`.
    assert "refused" in data or data["error"].startswith(there)
