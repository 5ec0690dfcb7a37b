"""The one thing that a photographer does next."""

from __future__ import annotations

from collections.abc import Sequence

from nightglass.gear.lens import LensSetting
from nightglass.proof.codes import NextStepCode, VerdictCode
from nightglass.proof.records import NextStep, SettingProof, Verdict

WITHOUT_ORDER = VerdictCode.TOO_FEW_SETTINGS, VerdictCode.NO_SHARED_PLACE


def next_step(proofs: Sequence[SettingProof], verdict: Verdict) -> NextStep:
    """Return the step that the comparison needs most: frames before settings, settings before
    places, places before focus."""
    if not any(place.compared for one in proofs for place in one.places):
        return NextStep(NextStepCode.SHOOT_THE_SKY)
    if verdict.code in WITHOUT_ORDER:
        return NextStep(NextStepCode.SHOOT_MORE_SETTINGS)
    unseen = next((one for one in proofs if one.unseen), None)
    if unseen is not None:
        return NextStep(NextStepCode.SHOOT_UNSEEN_PLACE, unseen.setting, unseen.unseen)
    odd: LensSetting | None = next((one.setting for one in proofs if one.causes), None)
    if odd is not None:
        return NextStep(NextStepCode.REFOCUS, odd)
    if verdict.undecided:
        return NextStep(NextStepCode.REPEAT_EVERY_SETTING)
    return NextStep(NextStepCode.TRUST_THE_RANKING)
