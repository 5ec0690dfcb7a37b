"""A bench of two bodies at the door: which body an answer is of, what was measured elsewhere."""

import json
import shutil

import bench_fakes
import pytest
from two_body_bench import write_two_body_bench

from nightglass.bench.measuring.measure import measure_folder
from nightglass.cli.main import run


@pytest.fixture(scope="module")
def measured(tmp_path_factory):
    folder = write_two_body_bench(tmp_path_factory.mktemp("two") / "bench")
    report = measure_folder(
        folder, workers=1, measurer=bench_fakes.MEASURER, opener=bench_fakes.OPENER
    )
    assert (len(report.measured), report.not_used) == (40, ())
    return folder


@pytest.fixture
def bench(measured, tmp_path):
    return shutil.copytree(measured, tmp_path / "bench")


def answer(capsys, *words) -> dict:
    assert run([*words, "--json"]) == 0
    return json.loads(capsys.readouterr().out)


def ranked(capsys, bench, *more) -> dict:
    return answer(capsys, "rank", str(bench), "--no-charts", *more)


def test_the_ranking_is_of_one_body_and_says_which(bench, capsys):
    main, large = ranked(capsys, bench), ranked(capsys, bench, "--body", "large")
    assert (main["on_body"], main["other_bodies"]) == (
        "Loan body", ["Large body", "Borrowed body"],
    )  # fmt: skip
    assert large["on_body"] == "Large body"
    assert {(s["lens"], s["body"]) for s in main["standings"]} == {
        ("Wren", "Loan body"), ("Dipper", "Loan body"),
    }  # fmt: skip
    assert {(s["lens"], s["body"]) for s in large["standings"]} == {
        ("Wren", "Large body"), ("Heron", "Large body"),
    }  # fmt: skip
    assert main["frames_without_setting"] == large["frames_without_setting"] == []
    (elsewhere,) = main["not_ranked"]
    assert (elsewhere["lens"], elsewhere["reason"]["code"], elsewhere["reason"]["values"]) == (
        "Heron", "on_other_body_only", {"bodies": ["Large body"]},
    )  # fmt: skip


def test_percent_of_height_is_of_the_asked_sensor(bench, capsys):
    for body, worst_um, height_px, pitch_um in (
        ("Loan body", 60.0, 2592, 6.05),
        ("Large body", 61.0, 3008, 8.0),
    ):
        found = ranked(capsys, bench, "--body", body)
        (wren,) = (s for s in found["standings"] if s["lens"] == "Wren")
        percent = 100 * worst_um / pitch_um / height_px
        assert wren["lens_tightness_percent"] == pytest.approx(percent, rel=1e-6)


def test_the_text_names_the_body_and_the_next_step_keeps_it(bench, capsys):
    assert run(["rank", str(bench), "--no-charts", "--body", "Large body"]) == 0
    shown = capsys.readouterr().out
    assert shown.startswith(
        "On Large body, by its own frames alone. For Loan body and Borrowed body: --body NAME.\n"
    )
    assert "Dipper: measured on Loan body only" in shown
    assert f'nightglass card "{bench}" --body "Large body"' in shown


@pytest.mark.parametrize(
    "command", [("rank", "--no-charts"), ("card",), ("compare", "wren", "heron", "--no-charts"),
                ("faults", "--no-charts"), ("plan",), ("look", "wren", "heron")],
)  # fmt: skip
def test_an_unknown_body_is_refused_with_those_that_are_there(bench, capsys, command):
    name, *more = command
    assert run([name, str(bench), *more, "--body", "Curlew"]) == 2
    assert capsys.readouterr().err.strip() == (
        '--body "Curlew" is not in bench.toml; choose one of: Loan body, Large body, Borrowed body'
    )


def test_two_settings_are_compared_on_the_asked_body(bench, capsys):
    words = ("compare", str(bench), "wren", "heron", "--no-charts")
    pair = answer(capsys, *words, "--body", "large")
    assert (pair["on_body"], pair["one"]["body"]) == ("Large body", "Large body")
    assert run([*words]) == 2
    assert capsys.readouterr().err.strip() == (
        "Heron was measured on Large body only; ask with --body"
    )


def test_a_card_is_of_the_asked_body(bench, capsys):
    made = answer(capsys, "card", str(bench), "--body", "large", "--lens", "heron")
    assert made["on_body"] == "Large body"
    pages = [page.read_text("utf-8") for page in (bench / "out/cards").rglob("*.html")]
    assert pages
    assert all("Large body" in page for page in pages)


def test_a_plan_is_of_the_asked_body_and_the_watch_goes_by_it(bench, capsys):
    plan = answer(capsys, "plan", str(bench), "--body", "large", "--lens", "wren")
    assert (plan["body"], plan["on_body"]) == ("Large body", "Large body")
    from nightglass.gear.bag import read_bench_file
    from nightglass.shoot.watching import said_of_all

    said = {frame.path: frame for frame in said_of_all(read_bench_file(bench))}
    # Frames of both are judged, each among those of its own body.
    for body in ("Loan body", "Large body"):
        assert said[f"{body}/Wren-a0.dng"].setting.body == body
    assert said["Loan body/Wren-a0.dng"].line is None


def test_a_bench_of_one_body_says_what_it_always_said(bench, capsys):
    """A further body without frames changes nothing but the two keys that name the bodies."""
    toml = (bench / "bench.toml").read_text("utf-8")
    borrowed = toml[toml.rindex("[[other_body]]") :]
    shutil.rmtree(bench / "frames/Large body")
    (bench / "bench.sqlite").unlink()
    answers = []
    for text in (toml[: toml.index("[[other_body]]")], toml.split("[[other_body]]")[0] + borrowed):
        (bench / "bench.toml").write_text(text, encoding="utf-8")
        measure_folder(bench, workers=1, measurer=bench_fakes.MEASURER, opener=bench_fakes.OPENER)
        answers.append(ranked(capsys, bench))
    alone, two = answers
    assert not {"on_body", "other_bodies"} & set(alone)
    assert (two.pop("on_body"), two.pop("other_bodies")) == ("Loan body", ["Borrowed body"])
    assert two == alone
    # Its own name may be given.
    (bench / "bench.toml").write_text(toml[: toml.index("[[other_body]]")], encoding="utf-8")
    assert ranked(capsys, bench, "--body", "Loan body") == alone


def test_a_lens_is_held_against_itself_at_equal_millimetres(bench, capsys):
    found = answer(capsys, "bodies", str(bench))
    assert found["bodies"] == ["Loan body", "Large body", "Borrowed body"]
    centre, corner = found["pairs"]
    assert {p["lens"] for p in found["pairs"]} == {"Wren"}
    assert corner["one"]["height_mm"] == pytest.approx(6.82, abs=0.05)
    assert corner["other"]["height_mm"] == pytest.approx(6.82, abs=0.05)
    # In % of height the small sensor looks worse, in micrometres both draw the same spot.
    for pair, lengths in ((centre, (36.0, 36.5)), (corner, (60.0, 61.0))):
        assert [pair[k]["length_um"] for k in ("one", "other")] == pytest.approx(lengths)
        assert pair["one"]["length_percent"] > 1.4 * pair["other"]["length_percent"]
        assert pair["verdict"] == "same"
        assert pair["left"]["low"] < 1 < pair["left"]["high"]
        assert pair["ratio"]["value"] == pytest.approx(lengths[1] / lengths[0])
    assert found["unpaired"] == []
    assert found["on_one_only"] == [
        {"lens": "Dipper", "body": "Loan body"}, {"lens": "Heron", "body": "Large body"},
    ]  # fmt: skip
    assert run(["bodies", str(bench)]) == 0
    shown = capsys.readouterr().out
    assert shown.startswith("Once the pixels are taken out, no difference between the bodies shows")
    assert "Wren, 12 mm at f/2.8, at the centre, is 36.0 um on Loan body and 36.5 um on" in shown


def test_bodies_of_one_body_says_what_to_add(bench, capsys):
    toml = (bench / "bench.toml").read_text("utf-8")
    (bench / "bench.toml").write_text(toml[: toml.index("[[other_body]]")], encoding="utf-8")
    assert run(["bodies", str(bench)]) == 1
    assert (
        capsys.readouterr()
        .err.strip()
        .endswith(
            "bench.toml has one body only, Loan body; describe the other one as an [[other_body]] "
            "with the keys of [body]"
        )
    )


def test_nothing_at_the_same_height_is_data_with_its_fault(bench, capsys):
    toml = (bench / "bench.toml").read_text("utf-8")
    out = '[[frames]]\nmatch = "Large body/Wren*"\nleave_out = "door opened"\n'
    (bench / "bench.toml").write_text(toml + out, encoding="utf-8")
    assert run(["bodies", str(bench), "--json"]) == 1
    found = json.loads(capsys.readouterr().out)
    assert found["pairs"] == []
    assert found["error"].startswith("No lens was measured at the same image height on two of")
