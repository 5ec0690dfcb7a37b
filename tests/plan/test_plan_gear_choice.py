"""Body and lens of a plan where the bench has several bodies."""

import pytest
from two_body_bench import BENCH

from nightglass.plan.codes import GearNoteCode
from nightglass.plan.gear_choice import gear_choice
from nightglass.plan.wishes import GearWish
from nightglass.show.plan.frame_words import gear_note_words


@pytest.fixture
def folder(tmp_path):
    (tmp_path / "bench.toml").write_text(BENCH, encoding="utf-8")
    return tmp_path


@pytest.mark.parametrize(("body", "name"), [(None, "Loan body"), ("large", "Large body")])
def test_a_lens_is_planned_for_the_asked_body_and_the_plan_says_which(folder, body, name):
    found = gear_choice(GearWish(lens="wren", body=body), folder)
    assert found.shot.body.name == name
    note = next(note for note in found.notes if note.code is GearNoteCode.ON_BODY)
    assert gear_note_words(note) == f"On {name} (another body of the bench: --body)."


def test_a_typed_setting_takes_the_asked_body(folder):
    found = gear_choice(GearWish(focal_mm=20.0, f_number=2.0, body="large"), folder)
    assert found.shot.body.pitch_um == 8.0


def test_a_body_of_the_bench_and_a_typed_sensor_exclude_each_other(folder):
    wish = GearWish(focal_mm=20.0, f_number=2.0, body="large", sensor="36x24", pixels="6000x4000")
    with pytest.raises(ValueError, match=r'^--body "large" names a body of a bench; leave out'):
        gear_choice(wish, folder)
