"""Score, reference, places, ties, gains and the unbeaten list, on worths made up for the case."""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st
from made_worths import make_worth

from nightglass.gear.benchfile import LimitChoice, ScoreChoice
from nightglass.gear.lens import LensSetting
from nightglass.verdict.certainty.order_frequency import order_frequency
from nightglass.verdict.certainty.spread import ZoneSpread, chosen_quantile
from nightglass.verdict.factors import FACTORS, weights_of
from nightglass.verdict.order.frontier import unbeaten
from nightglass.verdict.order.ranking import best_of_each_lens, standings
from nightglass.verdict.question import Question
from nightglass.verdict.records import Interval
from nightglass.verdict.score import (
    Judged,
    LightMoves,
    pick_reference,
    score_of,
    with_scores,
)

PICTURE = FACTORS[Question.PICTURE]
LOG_EYES = [math.log(eye) for eye in (0.128, 0.093, 0.073)]


def make(lens, stars, glow=100.0, blur=0.2, f_number=2.8, err=0.02, freedom=20.0, limit=None,
         focal_mm=20.0, **judged):  # fmt: skip
    """A setting whose stars scatter by `err` in their logarithm."""
    worth = make_worth(LensSetting("Loan body", lens, focal_mm, f_number), stars, glow, blur, limit)
    spread = ZoneSpread("centre", {"stars": -1.0}, err, freedom, blur, err / 2)
    return Judged(worth, (spread,), **judged)


def rank(judged, a=0.5, named=None):
    weights = weights_of(ScoreChoice(a, 1 - a), PICTURE)
    reference = pick_reference(judged, weights, named)
    scored = with_scores(judged, reference, weights)
    return scored, standings(best_of_each_lens(scored), weights)


def frequency(scored, ranked, **more):
    return order_frequency(scored, ranked, PICTURE, LOG_EYES, **more)


def test_score_by_hand():
    # 4 times the stars and 9 times the glow: 100 x sqrt(4) x sqrt(9) = 600; with a = 1 and b = 0
    # 400; with a = 0.25 and b = 0.75: 100 x 4^0.25 x 9^0.75 = 100 x 1.41421 x 5.19615.
    better, reference = make("Wren", 4000, 900).worth, make("Heron", 1000, 100).worth
    assert score_of(better, reference, {"stars": 0.5, "glow": 0.5}) == pytest.approx(600)
    assert score_of(better, reference, {"stars": 1, "glow": 0}) == pytest.approx(400)
    assert score_of(better, reference, {"stars": 0.25, "glow": 0.75}) == pytest.approx(
        734.847, rel=1e-5
    )


def test_reference_is_the_best_eligible_and_scores_100():
    judged = [make("Wren", 1000), make("Heron", 3000, blur=0.4, limit=0.25), make("Plover", 2000)]
    scored, _ = rank(judged)
    by_lens = {item.worth.setting.lens: item.worth.score for item in scored}
    assert by_lens["Plover"] == Interval(100, 100, 100)
    assert by_lens["Heron"].value == pytest.approx(150)


def test_a_named_reference_scores_100_and_leaves_the_order():
    judged = [make("Wren", 1000), make("Heron", 3000), make("Plover", 2000)]
    _, best = rank(judged)
    scored, ranked = rank(judged, named=judged[0].worth.setting)
    assert next(i for i in scored if i.worth.setting.lens == "Wren").worth.score.value == 100
    assert [s.worth.setting for s in ranked] == [s.worth.setting for s in best]
    assert [s.place for s in ranked] == [s.place for s in best]


def test_a_reference_that_was_not_measured_lists_those_that_were():
    named = LensSetting("Loan body", "Dipper", 20.0, 2.8)
    with pytest.raises(
        ValueError, match=r"Dipper at 20 mm f/2.8 was not measured; measured are: Wren at"
    ):
        rank([make("Wren", 1000)], named=named)


def test_interval_of_a_score_by_hand():
    # Two settings of 2 % each: the ratio scatters by 2.83 %, all of it enters with a = 1/2. t of
    # 20 degrees of freedom is 2.086 (table of the NIST e-Handbook, as a public copy prints it).
    scored, _ = rank([make("Wren", 1000), make("Heron", 2000)])
    score = next(i.worth.score for i in scored if i.worth.setting.lens == "Wren")
    half = 2.086 * math.hypot(0.02, 0.02)
    assert score.low == pytest.approx(score.value * math.exp(-half), rel=1e-4)
    assert score.high == pytest.approx(score.value * math.exp(half), rel=1e-4)


def test_lenses_within_their_scatter_share_a_place():
    _, ranked = rank([make("Wren", 1000), make("Heron", 1010), make("Plover", 500)])
    assert [(s.worth.setting.lens, s.place) for s in ranked] == [
        ("Heron", 1), ("Wren", 1), ("Plover", 3),
    ]  # fmt: skip
    assert ranked[0].tied_with == ("Wren",)
    assert ranked[1].tied_with == ("Heron",)
    assert ranked[2].tied_with == ()


def test_gain_over_the_next_is_named_signed_and_widened_by_choice():
    _, ranked = rank([make("Wren", 1000), make("Heron", 1500), make("Plover", 500)])
    first = ranked[0]
    assert first.next_lower == "Wren"
    # 1500 / 1000 = 1.5: 50 up to 75 is +50 %.
    assert first.gain_over_next_percent.value == pytest.approx(50)
    half = chosen_quantile(3, 20) * math.hypot(0.02, 0.02)
    assert first.gain_over_next_percent.low == pytest.approx(100 * (1.5 * math.exp(-half) - 1))
    assert half > 2.086 * math.hypot(0.02, 0.02)
    assert ranked[-1].gain_over_next_percent is None
    assert ranked[-1].next_lower is None


def test_place_and_gain_agree():
    # Over the whole range of distances: the next is one place lower exactly if the interval of
    # the gain lies above zero.
    for stars in range(1000, 1300, 10):
        _, ranked = rank([make("Wren", 1000), make("Heron", stars), make("Plover", 400)])
        above = ranked[0].gain_over_next_percent.low > 0
        assert (ranked[1].place == 2) == above


def test_over_limit_lenses_stand_below_in_order_of_their_score():
    judged = [
        make("Wren", 9000, blur=0.5, limit=0.25),
        make("Wren", 7000, blur=0.4, f_number=4.0, limit=0.25),
        make("Heron", 100, limit=0.25),
        make("Plover", 8000, blur=0.3, limit=0.25),
    ]
    _, ranked = rank(judged)
    assert [s.worth.setting.lens for s in ranked] == ["Heron", "Wren", "Plover"]
    assert [s.place for s in ranked] == [1, 2, 3]
    assert [s.over_limit for s in ranked] == [False, True, True]
    assert ranked[1].worth.setting.f_number == 2.8
    assert ranked[1].worth.over_limit_percent == pytest.approx(0.25)
    assert ranked[0].gain_over_next_percent is None
    assert ranked[1].gain_over_next_percent.value == pytest.approx(12.5)


def test_best_setting_of_a_lens_is_within_the_limit_before_bright():
    judged = [
        make("Wren", 9000, blur=0.26, f_number=2.0, limit=0.25),
        make("Wren", 1000, blur=0.25, limit=0.25),
    ]
    _, ranked = rank(judged)
    assert ranked[0].worth.setting.f_number == 2.8


def test_no_limit_shuts_nothing_out():
    _, ranked = rank([make("Wren", 900, blur=5.0), make("Heron", 400, blur=0.05)])
    assert [s.worth.setting.lens for s in ranked] == ["Wren", "Heron"]
    assert not any(s.over_limit for s in ranked)


def test_without_a_lens_within_the_limit_the_best_is_the_reference():
    _, ranked = rank(
        [make("Wren", 900, blur=0.5, limit=0.25), make("Heron", 400, blur=0.3, limit=0.25)]
    )
    assert ranked[0].worth.setting.lens == "Wren"
    assert ranked[0].worth.score.value == 100
    assert ranked[0].over_limit


def test_a_gain_under_a_third_of_a_stop_is_hardly_visible_and_other_pictures_are_named():
    # 2^(1/3) - 1 = 26 % (common practice).
    for stars, hardly in ((1250, True), (1270, False)):
        _, ranked = rank([make("Wren", stars, err=1e-4), make("Heron", 1000, err=1e-4)])
        assert ranked[0].hardly_visible == hardly
        assert not ranked[0].different_picture
    for focal_mm, other in ((25.0, False), (25.1, True), (15.9, True)):
        _, ranked = rank([make("Wren", 2000), make("Heron", 1000, focal_mm=focal_mm)])
        assert ranked[0].different_picture == other


def unmeasured(lens, stars, **more):
    """A lens whose glass is unsure by 10 % in stars and in glow."""
    moves = {"stars": LightMoves(0.05), "glow": LightMoves(0.05)}
    return make(lens, stars, err=1e-3, moves=moves, **more)


def test_lenses_of_unmeasured_transmission_share_a_place():
    # 15 % apart where each score is unsure by 10 %; the repeats alone would part them.
    _, sure = rank([make("Wren", 1150, err=1e-3), make("Heron", 1000, err=1e-3)])
    _, unsure = rank([unmeasured("Wren", 1150), unmeasured("Heron", 1000)])
    assert [s.place for s in sure] == [1, 2]
    assert [s.place for s in unsure] == [1, 1]
    half = math.log(1 + unsure[0].gain_over_next_percent.high / 100) - math.log(1.15)
    assert half == pytest.approx(1.96 * math.hypot(0.1, 0.1), rel=0.01)


def test_settings_of_one_lens_share_its_glass():
    judged = [unmeasured("Wren", 1150), unmeasured("Wren", 1000, f_number=4.0)]
    scored, _ = rank(judged)
    other = min(scored, key=lambda i: i.worth.score.value).worth.score
    assert other.high - other.low < 0.01 * other.value


def test_darker_corners_widen_one_side_only():
    dark = {"stars": LightMoves(0.0, -0.04), "glow": LightMoves(0.0, -0.04)}
    judged = [make("Wren", 2000, err=1e-4), make("Heron", 1000, err=1e-4, moves=dark)]
    scored, _ = rank(judged)
    score = next(i.worth.score for i in scored if i.worth.setting.lens == "Heron")
    assert math.log(score.value / score.low) == pytest.approx(1.96 * 0.08, rel=0.01)
    assert math.log(score.high / score.value) < 0.001


def test_unknown_scatter_orders_by_value_without_an_interval():
    _, ranked = rank([make("Wren", 1000, err=math.nan), make("Heron", 1010, err=math.nan)])
    assert [s.place for s in ranked] == [1, 2]
    assert ranked[0].gain_over_next_percent.low is None


def test_equal_settings_share_a_place_even_without_scatter():
    _, ranked = rank([make("Wren", 1000, err=math.nan), make("Heron", 1000, err=math.nan)])
    assert [s.place for s in ranked] == [1, 1]


@given(st.permutations(range(6)))
def test_order_of_input_does_not_matter(order):
    judged = [make(f"Lens {k}", 500 + 37 * ((k * 5) % 6), blur=0.2 + 0.02 * k) for k in range(6)]
    _, ranked = rank(judged)
    _, other = rank([judged[k] for k in order])
    assert ranked == other


@given(st.floats(0.01, 100), st.floats(0.01, 100))
def test_scaling_all_stars_or_glow_changes_nothing(stars, glow):
    plain = [make("Wren", 1000, 90), make("Heron", 1400, 100), make("Plover", 800, 150)]
    scaled = [
        make(i.worth.setting.lens, i.worth.factors["stars"] * stars, i.worth.factors["glow"] * glow)
        for i in plain
    ]
    first, second = rank(plain)[1], rank(scaled)[1]
    assert [s.place for s in first] == [s.place for s in second]
    for one, two in zip(first, second, strict=True):
        assert one.worth.score.value == pytest.approx(two.worth.score.value)


def test_nothing_to_compare_with_is_refused():
    with pytest.raises(ValueError, match="no setting was measured"):
        pick_reference([], weights_of(ScoreChoice(), PICTURE))


def test_a_reference_without_stars_is_refused():
    with pytest.raises(ValueError, match="shows no stars or no glow; name another reference"):
        score_of(make("Wren", 10).worth, make("Heron", 0).worth, weights_of(ScoreChoice(), PICTURE))


def test_unbeaten_settings_by_hand():
    # (score, blur): B is beaten by A (more light, tighter); D by C.
    points = {
        "A": (1000, 0.2),
        "B": (900, 0.3),
        "C": (1500, 0.4),
        "D": (1400, 0.4),
        "E": (100, 0.1),
    }
    judged = [make(name, stars, blur=blur) for name, (stars, blur) in points.items()]
    scored, _ = rank(judged)
    front = unbeaten([item.worth for item in scored])
    assert [w.setting.lens for w in front] == ["C", "A", "E"]


def test_equal_settings_leave_each_other_standing():
    scored, _ = rank([make("Wren", 1000), make("Heron", 1000)])
    assert len(unbeaten([item.worth for item in scored])) == 2


@given(st.lists(st.tuples(st.integers(1, 20), st.integers(1, 20)), min_size=1, max_size=20))
def test_unbeaten_by_comparing_all_pairs(points):
    judged = [make(f"Lens {k}", s, blur=b / 50) for k, (s, b) in enumerate(points)]
    worths = [i.worth for i in with_scores(judged, judged[0], {"stars": 0.5, "glow": 0.5})]
    front = {w.setting for w in unbeaten(worths)}
    for (stars, blur), worth in zip(points, worths, strict=True):
        beaten = any(s >= stars and b <= blur and (s > stars or b < blur) for s, b in points)
        assert (worth.setting in front) == (not beaten)


def test_order_always_holds_for_lenses_far_apart_at_any_weight():
    judged = [make("Wren", 9000, 900, blur=0.1), make("Heron", 900, 90, blur=0.1)]
    scored, ranked = rank(judged)
    held = frequency(scored, ranked)
    assert held.first_shares == (("Wren", 1.0), ("Heron", 0.0))
    assert (held.whole_order_share, held.trials) == (1.0, 2000)


def test_weights_that_swap_two_lenses_hold_as_often_as_they_are_drawn():
    # Wren has e times the stars, Heron e^(1/2) times the glow: Wren leads where a > (1 - a) / 2,
    # a > 1/3; drawn evenly from 0.25 to 0.75 that is 5/6 of trials. No scatter, no limit.
    judged = [
        make("Wren", 1000 * math.e, 100, err=0.0),
        make("Heron", 1000, 100 * math.exp(0.5), err=0.0),
    ]
    scored, ranked = rank(judged)
    held = frequency(scored, ranked, trials=20_000)
    # Three standard errors of a share of 5/6 in 20,000 draws.
    assert held.whole_order_share == pytest.approx(5 / 6, abs=3 * math.sqrt(5 / 36 / 20_000))


def test_viewers_that_swap_two_lenses_hold_as_often_as_they_are_drawn():
    # Of Wren's stars a share is lost the sharper the eye: level with Heron for the screen, in the
    # logarithm of the eye's blur 56.9 % of the way from print to phone.
    at = [(log - LOG_EYES[1]) for log in LOG_EYES]
    judged = [
        make("Wren", 1000.001, err=0.0, eyes={"stars": tuple(at), "glow": (0.0,) * 3}),
        make("Heron", 1000, err=0.0),
    ]
    scored, ranked = rank(judged)
    held = frequency(scored, ranked, trials=20_000)
    share = (LOG_EYES[0] - LOG_EYES[1]) / (LOG_EYES[0] - LOG_EYES[2])
    assert held.whole_order_share == pytest.approx(share, abs=0.011)


def test_a_limit_is_held_against_the_redrawn_blur():
    # Wren leads by light; its blur stands at the limit itself, so every second redraw is over it.
    judged = [
        make("Wren", 2000, 200, blur=0.25, err=0.02, freedom=math.inf, limit=0.25),
        make("Heron", 1000, 100, blur=0.1, err=0.0, limit=0.25),
    ]
    scored, ranked = rank(judged)
    held = frequency(scored, ranked, trials=20_000, limit=LimitChoice(0.25))
    assert dict(held.first_shares)["Wren"] == pytest.approx(0.5, abs=3 * math.sqrt(0.25 / 20_000))


def test_equal_lenses_come_first_equally_often():
    judged = [make("Wren", 1000, blur=0.1), make("Heron", 1000, blur=0.1)]
    scored, ranked = rank(judged)
    held = frequency(scored, ranked, trials=20_000)
    assert sum(share for _, share in held.first_shares) == pytest.approx(1.0)
    # Three standard errors of a half in 20,000 draws.
    assert held.whole_order_share == pytest.approx(0.5, abs=3 * math.sqrt(0.25 / 20_000))


def test_trials_are_seeded_and_do_not_depend_on_input_order():
    judged = [make("Wren", 1000), make("Heron", 1100), make("Plover", 1050)]
    scored, ranked = rank(judged)
    assert frequency(scored, ranked) == frequency(scored[::-1], ranked)


def test_one_lens_has_no_order_to_hold():
    scored, ranked = rank([make("Wren", 1000)])
    assert frequency(scored, ranked) is None


def test_no_trials_are_refused():
    scored, ranked = rank([make("Wren", 1000), make("Heron", 900)])
    with pytest.raises(ValueError, match="trials is 0; at least 1, 2000 by default"):
        frequency(scored, ranked, trials=0)
