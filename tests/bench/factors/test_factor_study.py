"""Factor studies of frames on record: planted effects, rounds, ladders, what can't be told."""

import dataclasses

import numpy as np
import pytest

from nightglass.bench.assign import Belongs
from nightglass.bench.combined.sightings import Sighting
from nightglass.bench.factors.records import Influence, InfluenceFault, LadderVerdict
from nightglass.bench.factors.study import rounds_of, study_of
from nightglass.bench.store.rows import FrameOnRecord
from nightglass.gear.lens import LensSetting
from nightglass.spot.record import Spot

SETTING = LensSetting("Loan body", "Wren", 12, 2.8)
NORMAL = Belongs(SETTING, iso=800, exposure_s=0.5, place=None, session="one", distance_m=10.0)


def sighting(number, size, flags=(), peak=0.5, **belongs):
    path = f"{number:03d}.dng"
    spot = Spot(
        path, "green", length_px=None if "at limit" in flags else size, width_px=0.9 * size,
        length_at_most_px=3.0 if "at limit" in flags else None, peak_share=peak, flags=flags,
    )  # fmt: skip
    frame = FrameOnRecord(path, path, path, 1, 1, "measured")
    return Sighting(frame, spot, dataclasses.replace(NORMAL, **belongs), "corner")


def ladder(exposure_effect=0.0, iso_effect=0.0, seed=1, rounds=3, scatter=0.01, **more):
    """Rounds of four exposures at two ISO steps; effects in ln size per stop."""
    rng = np.random.default_rng(seed)
    found = []
    for turn in range(rounds):
        for stop in range(4):
            for iso_stop in range(2):
                moved = exposure_effect * stop + iso_effect * iso_stop + rng.normal(0, scatter)
                found.append(
                    sighting(
                        len(found), 7.3 * np.exp(moved), exposure_s=0.1 * 2**stop,
                        iso=800 * 2**iso_stop, refocused=stop == iso_stop == 0 and turn >= 0,
                        **more,
                    )
                )  # fmt: skip
    return found


def effect(study, influence):
    return next(e for e in study.effects if e.influence is influence)


def test_planted_effects_come_back_with_intervals_and_shares():
    study = study_of(ladder(exposure_effect=0.03))
    assert (study.frames, study.rounds, study.place) == (24, 3, "corner")
    exposure = effect(study, Influence.EXPOSURE)
    assert exposure.percent.value == pytest.approx(3.05, abs=0.6)
    assert exposure.percent.found
    assert exposure.share_percent.value > 80
    iso = effect(study, Influence.ISO)
    assert not iso.percent.found
    assert iso.percent.most < 2
    assert iso.share_percent.low == 0
    assert effect(study, Influence.DISTANCE).fault is InfluenceFault.NEVER_VARIED
    assert effect(study, Influence.FOCUS).fault is InfluenceFault.NOT_KNOWN
    told = sum(e.share_percent.value for e in study.effects if e.share_percent)
    total = told + study.unexplained_percent + study.between_rounds_percent
    assert total == pytest.approx(100)


def test_an_exposure_ladder_of_equal_sizes_agrees_and_another_differs():
    agree, differ = study_of(ladder()).ladder, study_of(ladder(exposure_effect=0.03)).ladder
    assert (agree.verdict, differ.verdict) == (LadderVerdict.AGREE, LadderVerdict.DIFFER)
    assert [step.exposure_s for step in agree.steps] == pytest.approx([0.1, 0.2, 0.4, 0.8])
    assert differ.probability < 1e-4
    few = study_of(ladder(rounds=1)[:8:4]).ladder
    assert few.verdict is LadderVerdict.NOT_TOLD


def test_false_alarms_of_the_ladder_are_rare():
    alarms = [study_of(ladder(seed=k)).ladder.verdict is LadderVerdict.DIFFER for k in range(60)]
    # 5 % of 60 are 3; ten would be four standard deviations too many.
    assert sum(alarms) < 10


def test_clipped_and_at_limit_frames_are_left_out_and_counted():
    more = [sighting(900, 9.9, ("clipped",)), sighting(901, 2.0, ("at limit",))]
    study = study_of([*ladder(), *more])
    assert (study.frames, study.left_out_clipped, study.left_out_at_limit) == (24, 1, 1)
    with pytest.raises(ValueError, match="no frame gave a size; expose so that the peak lies"):
        study_of(more)


def test_exposure_and_iso_that_only_varied_together_have_no_number():
    several = [
        sighting(k, 7 + 0.1 * (k % 3), exposure_s=0.1 * 2 ** (k % 4), iso=100 * 2 ** (3 - k % 4))
        for k in range(16)
    ]
    study = study_of(several)
    for kind, other in ((Influence.EXPOSURE, Influence.ISO), (Influence.ISO, Influence.EXPOSURE)):
        found = effect(study, kind)
        assert (found.percent, found.fault) == (None, InfluenceFault.ONLY_TOGETHER)
        assert found.together_with == (other,)


def test_few_frames_and_few_rounds_have_no_number():
    few = study_of(ladder()[:5])
    assert effect(few, Influence.EXPOSURE).fault is InfluenceFault.TOO_FEW_FRAMES
    far = [
        dataclasses.replace(
            s, belongs=dataclasses.replace(s.belongs, distance_m=5.0 + 5 * (k > 11))
        )
        for k, s in enumerate(ladder(rounds=3))
    ]
    # The distance changed once, in the middle of round two: it varied within that round.
    assert effect(study_of(far), Influence.DISTANCE).fault is None
    apart = [
        dataclasses.replace(s, belongs=dataclasses.replace(s.belongs, distance_m=5.0 + 5 * (k > 7)))
        for k, s in enumerate(ladder(rounds=2))
    ]
    assert effect(study_of(apart), Influence.DISTANCE).fault is InfluenceFault.TOO_FEW_ROUNDS


def test_focus_is_told_as_the_loss_off_the_best_mark():
    rng = np.random.default_rng(2)
    marks = np.tile(np.arange(7), 3) * 0.5
    sizes = 6.1 * np.exp(0.08 * (marks - 1.3) ** 2 + rng.normal(0, 0.01, 21))
    study = study_of(
        [
            sighting(k, s, focus_mark=float(m))
            for k, (m, s) in enumerate(zip(marks, sizes, strict=True))
        ]
    )
    focus = effect(study, Influence.FOCUS)
    assert focus.off_best
    assert focus.percent.value == pytest.approx(100 * np.expm1(0.08), abs=1.0)
    assert focus.share_percent.value > 90


def test_a_round_begins_with_each_frame_that_was_focused_anew():
    anew = [True, False, False, True, False]
    frames = [sighting(k, 6.0, refocused=r) for k, r in enumerate(anew)]
    assert rounds_of(frames).tolist() == [0, 0, 0, 1, 1]
    every = [sighting(k, 6.0, refocused=True, session=s) for k, s in enumerate("aabb")]
    assert rounds_of(every).tolist() == [0, 0, 1, 1]
