"""The whole verdict, from results to ranking."""

import math
from dataclasses import replace

import pytest

from nightglass.bench.codes import BenchNote, BenchNoteCode
from nightglass.bench.records import Combined
from nightglass.gear.benchfile import (
    BenchFile,
    LimitChoice,
    Purpose,
    ScoreChoice,
    SkyChoice,
    TimeChoice,
)
from nightglass.gear.lens import LensSetting
from nightglass.show.ranking.assumption_words import assumption_row
from nightglass.show.ranking.note_words import not_ranked_name, note_words
from nightglass.verdict.codes import AssumptionCode, LossReason, NoteCode
from nightglass.verdict.judge import judge
from nightglass.verdict.purpose import purpose_from
from nightglass.verdict.question import Question


@pytest.fixture
def results(build):
    return (
        build.setting(build.wren, 2.0, (5.0, 5.1, 4.9)),
        build.setting(build.wren, 2.8, (4.0, 4.1, 3.9)),
        build.setting(build.heron, 1.8, (9.0, 9.3, 8.8)),
        build.setting(build.heron, 2.8, (4.4, 4.6, 4.5)),
        build.setting(build.plover, 2.2, (6.0, 6.2, 6.1)),
    )


def stated(ranking):
    """Value and source of each assumption, in words."""
    rows = map(assumption_row, ranking.assumptions)
    return {name: (value, source) for name, value, source in rows}


def names(ranking):
    return [s.worth.setting.lens for s in ranking.standings]


def test_every_lens_stands_once_with_all_its_numbers(results, bench):
    ranking = judge(results, bench)
    assert sorted(names(ranking)) == sorted(lens.name for lens in bench.lenses)
    assert len(ranking.worths) == 5
    for worth in ranking.worths:
        assert worth.factors["stars"] > 0
        assert worth.factors["glow"] > 0
        assert worth.tightness_percent > worth.lens_tightness_percent > 0
        assert worth.places_measured == ("centre", "top left", "bottom right")
        assert worth.tightness_interval.low < worth.lens_tightness_percent
        assert worth.exposure_s == worth.times.centre.dial_true_s
        assert worth.score.low <= worth.score.value <= worth.score.high


def test_reference_has_100_and_is_named(results, bench):
    ranking = judge(results, bench)
    reference = next(w for w in ranking.worths if w.setting == ranking.reference)
    assert reference.score.value == 100
    assert reference.eligible


def test_order_of_results_does_not_matter(results, bench):
    assert judge(results[::-1], bench) == judge(results, bench)


def test_what_the_bench_knows_of_a_setting_stands_with_it(build, bench):
    known = (
        BenchNote(BenchNoteCode.BODY_ASSUMED, body="Loan <body>"),
        BenchNote(BenchNoteCode.LARGE_SOURCE, source_px=0.992),
    )
    result = replace(build.setting(build.wren, 2.0, (5.0, 5.1, 4.9)), notes=known)
    notes = judge([result], bench).worths[0].notes[:2]
    assert [note.code for note in notes] == [NoteCode.BODY_ASSUMED, NoteCode.LARGE_SOURCE]
    assert [note_words(note) for note in notes] == [
        "body not recorded: Loan <body> assumed",
        "the source's own image is 1.0 px wide, over half a pixel: sizes are too large; use a "
        "smaller pinhole or stand farther away",
    ]


def test_limit_decides_what_is_eligible(results, bench):
    # 8.8 to 9.3 px at the centre and 1.2 times in the corners: 10.8 px, 0.42 % of 2592 px.
    ranking = judge(results, replace(bench, limit=LimitChoice(0.25)))
    heron = {w.setting.f_number: w for w in ranking.worths if w.setting.lens.startswith("Heron")}
    assert heron[1.8].lens_tightness_percent == pytest.approx(100 * 1.2 * 9.0333 / 2592, rel=1e-4)
    assert not heron[1.8].eligible
    assert heron[2.8].eligible
    assert heron[1.8].over_limit_percent == pytest.approx(0.4183 - 0.25, abs=1e-3)
    wide = judge(results, replace(bench, limit=LimitChoice(0.5)))
    assert all(w.eligible for w in wide.worths)
    assert all(w.eligible for w in judge(results, bench).worths)


@pytest.mark.parametrize(
    ("on", "at"),
    [("lens", "worst"), ("lens", "mean"), ("with trail", "worst"), ("with trail", "mean")],
)
def test_a_limit_on_lens_or_trail_in_the_worst_place_or_the_mean(results, bench, on, at):
    plain = judge(results, bench).worths[0]
    blur = {
        ("lens", "worst"): plain.lens_tightness_percent,
        ("lens", "mean"): plain.mean_tightness_percent,
        ("with trail", "worst"): plain.tightness_percent,
        # Second moments add up: a line of length L counts as a Gaussian of 3.290 L / root 12.
        ("with trail", "mean"): math.hypot(
            plain.mean_tightness_percent, plain.trail_percent * 3.289707 / math.sqrt(12)
        ),
    }[(on, at)]
    for share, over in ((1.001, False), (0.999, True)):
        limited = replace(bench, limit=LimitChoice(share * blur, on, at))
        assert (judge(results, limited).worths[0].over_limit_percent is not None) == over


def test_wide_open_wins_at_equal_blur(build, bench):
    # Equal blur at every f-number: the widest aperture wins for every lens, for light counts in
    # both parts of the score.
    results = [
        build.setting(lens, n, (8.0, 8.2, 7.9))
        for lens in build.bag
        for n in (lens.f_number_min_wide, 2.8, 4.0)
    ]
    ranking = judge(results, bench)
    for standing in ranking.standings:
        lens = bench.lens(standing.worth.setting.lens)
        assert standing.worth.setting.f_number == lens.f_number_min_wide
        assert standing.wide_open is None


def test_at_limit_settings_are_marked_and_count_with_their_bound(build, bench):
    zones = tuple(build.zone(p, at_most_px=3.9) for p in ("centre", "top left"))
    result = replace(build.setting(build.wren), zones=zones)
    worth = judge([result], bench).worths[0]
    assert worth.at_limit
    assert worth.lens_tightness_percent == pytest.approx(100 * 3.9 / 2592)
    assert worth.tightness_interval is None
    assert "at limit: the blur counts with its 95 % upper bound" in map(note_words, worth.notes)


def test_one_repeat_only_is_said(build, bench):
    ranking = judge(
        [build.setting(build.wren, 2.0, (5.0,)), build.setting(build.heron, 2.8, (5.0,))], bench
    )
    assert all(
        "one repeat only: error bar from photons alone" in map(note_words, w.notes)
        for w in ranking.worths
    )
    assert "photons alone" in stated(ranking)["scatter of repeats"][0]
    assert ranking.standings[0].gain_over_next_percent.low is not None


def test_repeats_at_limit_are_not_called_one_repeat(build, bench):
    zones = (build.zone("centre", (3.0, 3.0, 3.0), at_most_px=3.9),)
    worth = judge([replace(build.setting(build.wren), zones=zones)], bench).worths[0]
    assert not any(note.code == NoteCode.ONE_REPEAT for note in worth.notes)


def test_sessions_are_said(build, bench):
    twice = replace(build.setting(build.wren), sessions=2)
    sessions = stated(judge([twice], bench))["sessions"][0]
    assert sessions == "every setting was measured in 2 sessions or more"
    mixed = judge([twice, build.setting(build.heron)], bench)
    assert "in a single session" in stated(mixed)["sessions"][0]


def test_one_repeat_without_any_error_has_no_interval(build, bench):
    def blind(zone):
        return replace(
            zone,
            length_px=replace(zone.length_px, err=None),
            noise_area_px=replace(zone.noise_area_px, err=None),
        )

    results = [build.setting(lens, 2.8, (5.0,)) for lens in (build.wren, build.heron)]
    results = [replace(r, zones=tuple(blind(z) for z in r.zones)) for r in results]
    ranking = judge(results, bench)
    second = ranking.standings[1].worth
    assert (second.score.low, second.tightness_interval) == (None, None)


def test_a_centre_alone_is_said_and_does_not_win_silently(build, bench):
    whole = build.setting(build.wren, 2.0, (5.0, 5.1, 4.9))
    only = build.setting(build.heron, 1.8, (4.0, 4.1, 3.9))
    only = replace(only, zones=only.zones[:1])
    ranking = judge([whole, only], bench)
    assert names(ranking)[0].startswith("Wren")
    note = next(
        n for n in map(note_words, ranking.standings[1].worth.notes) if n.startswith("not tested")
    )
    assert "its stars are not counted, and its blur may be larger" in note


def test_a_place_without_a_size_is_not_tested(build, bench):
    result = build.setting(build.wren)
    none = Combined(None, None)
    lost = replace(result.zones[2], length_px=none, width_px=none)
    result = replace(result, zones=(*result.zones[:2], lost))
    worth = judge([result], bench).worths[0]
    assert "not tested: bottom right (frames there gave no size)" in map(note_words, worth.notes)
    assert worth.places_measured == ("centre", "top left")


def test_what_cannot_be_judged_is_listed_with_the_reason(build, bench):
    none = Combined(None, None)
    clipped = build.setting(build.plover)
    zones = tuple(
        replace(z, length_px=none, width_px=none, flags=("clipped",)) for z in clipped.zones
    )
    stranger = replace(
        build.setting(build.wren), setting=LensSetting("Loan body", "Dipper", 11, 3.2)
    )
    other = replace(
        build.setting(build.wren), setting=LensSetting("Other body", build.wren.name, 12, 2.0)
    )
    ranking = judge([replace(clipped, zones=zones), stranger, other], bench)
    reasons = {not_ranked_name(one): note_words(one.reason) for one in ranking.not_ranked}
    assert reasons["Plover 24 mm f/2.2 at 24 mm f/2.2"] == (
        "no place of the frame gave a size (its frames are marked: clipped)"
    )
    assert (
        "is not in bench.toml (there are: Wren 12 mm f/2, Heron" in reasons["Dipper at 11 mm f/3.2"]
    )
    assert "bench.toml describes Loan body only" in reasons["Wren 12 mm f/2 at 12 mm f/2"]
    assert reasons["Heron 20 mm f/1.8"] == "not tested: no frame gave a measurement"
    assert ranking.standings == ()


def test_an_empty_bench_gives_an_empty_ranking(bench):
    ranking = judge((), bench)
    assert (ranking.standings, ranking.worths, ranking.unbeaten, ranking.reference) == (
        (),
        (),
        (),
        None,
    )
    assert len(ranking.not_ranked) == len(bench.lenses)
    assert ranking.order_frequency is None


def test_a_setting_handed_in_twice_is_refused(build, bench):
    result = build.setting(build.wren)
    with pytest.raises(ValueError, match="was handed in twice; give each setting once"):
        judge([result, result], bench)


def test_absurd_weights_are_refused(results, bench):
    with pytest.raises(ValueError, match="a is -1 and b is 2; the weights of stars"):
        judge(results, replace(bench, score=ScoreChoice(-1, 2)))


def test_unknown_reference_is_refused(results, bench):
    named = LensSetting(bench.body.name, "Wren 12 mm f/2", 12, 8.0)
    with pytest.raises(ValueError, match="f/8 was not measured; measured are: Heron 20 mm"):
        judge(results, replace(bench, score=ScoreChoice(reference=named)))


def test_remote_and_dial_are_named_and_used(results, bench):
    remote = judge(results, replace(bench, time=TimeChoice(release="remote")))
    for worth in remote.worths:
        assert worth.exposure_s == worth.times.centre.remote_s
        assert worth.release == "remote"
        assert worth.exposure_s <= 1.07 * worth.times.centre.limit_s * (1 + 1e-9)


def test_one_choice_says_where_the_time_holds(results, bench):
    centre = judge(results, bench)
    corners = judge(results, replace(bench, time=TimeChoice(holds_at="corners")))
    for one, other in zip(centre.worths, corners.worths, strict=True):
        assert one.times.centre == other.times.centre
        assert one.exposure_s == one.times.centre.dial_true_s
        assert other.exposure_s == other.times.corners.dial_true_s < one.exposure_s


def test_trail_at_the_centre_is_the_working_rule(results, bench):
    # 0.16828 % of height at the limit itself; dial and remote times in proportion.
    for worth in judge(results, bench).worths:
        expected = 0.16828 * worth.exposure_s / worth.times.centre.limit_s
        assert worth.trail_percent == pytest.approx(expected, rel=1e-4)


def test_every_default_is_stated_once_and_a_choice_takes_its_place(results, bench):
    plain = stated(judge(results, bench))
    assert len(plain) == len(judge(results, bench).assumptions)
    sky = "brightness of the sky beside the Milky Way"
    assert plain[sky][0] == "21.6 V magnitudes per square arcsecond"
    assert all(source for _, source in plain.values())
    chosen = stated(judge(results, replace(bench, sky=SkyChoice(brightness_mag_per_arcsec2=20.4))))
    assert chosen[sky] == ("20.4 V magnitudes per square arcsecond", "bench.toml")


def test_an_untouched_purpose_is_called_a_default(results, bench):
    name = "how the picture is looked at"
    assert stated(judge(results, bench))[name] == (
        "screen, one of 1080 lines: the eye blurs 0.093 % of height", "default",
    )  # fmt: skip
    phone = judge(results, replace(bench, purpose=Purpose("phone", "phone")))
    assert stated(phone)[name][1] == "bench.toml"


def test_body_facts_are_used_and_said(results, bench, build):
    body = replace(build.body, read_noise_e={400: 4.5, 800: 3.1, 1600: 2.2}, efficiency=0.35)
    found = judge(results, BenchFile(body, bench.lenses))
    assert {w.iso.iso for w in found.worths} <= {400, 800, 1600}
    assert (
        stated(found)["read noise per sample"][0]
        == "4.5 e at ISO 400, 3.1 e at ISO 800, 2.2 e at ISO 1600"
    )
    assert stated(found)["efficiency of a green sample, filter included"][0].startswith("0.35")


def test_iso_does_not_enter_the_score(results, bench, build):
    # The same read noise at other ISO steps: other ISO, same score.
    low = BenchFile(replace(build.body, read_noise_e={200: 2.0}), bench.lenses)
    high = BenchFile(replace(build.body, read_noise_e={3200: 2.0}), bench.lenses)
    one, two = judge(results, low), judge(results, high)
    assert [w.score for w in one.worths] == [w.score for w in two.worths]
    assert {w.iso.iso for w in one.worths} == {200}


def test_scatter_is_pooled_over_the_lens(build, bench):
    # Noise areas scatter by 2 x 2 % about each mean; the single frame of f/2.8 takes the pool.
    results = [
        build.setting(build.wren, 2.0, (5.0, 5.1, 4.9)),
        build.setting(build.wren, 2.8, (5.0,)),
        build.setting(build.heron, 2.8, (5.0, 5.1, 4.9)),
    ]
    ranking = judge(results, bench)
    by_stop = {(w.setting.lens, w.setting.f_number): w for w in ranking.worths}
    single = by_stop[(build.wren.name, 2.8)]
    assert not any("photons alone" in note_words(n) for n in single.notes)
    three, one = by_stop[(build.wren.name, 2.0)].tightness_interval, single.tightness_interval
    # One frame scatters by root 3 more than the mean of three.
    wide, narrow = (math.log(i.high / i.low) for i in (one, three))
    assert wide / narrow == pytest.approx(math.sqrt(3), rel=1e-6)


def test_a_decentred_copy_counts_with_its_worst_corner(build, bench):
    good = build.setting(build.wren, 2.0, (5.0, 5.1, 4.9), corner=1.0)
    worse = replace(good.zones[2], length_px=replace(good.zones[2].length_px, value=9.0))
    result = replace(good, zones=(*good.zones[:2], worse))
    worth = judge([result], bench).worths[0]
    assert worth.worst_place == "bottom right"
    assert worth.lens_tightness_percent == pytest.approx(100 * 9 / 2592)


def test_purpose_words_set_the_eye(results, bench):
    phone, printed = (
        judge(results, replace(bench, purpose=purpose_from(words)))
        for words in ("phone", "print 60 cm wide seen from 1 m")
    )
    assert phone.eye.eye_percent == pytest.approx(0.128, abs=1e-3)
    assert not any(s.over_limit for s in phone.standings)
    # A sharper eye keeps less of a blurred star's peak.
    for one, other in zip(phone.worths, printed.worths, strict=True):
        assert one.peak_kept > other.peak_kept


def test_both_questions_stand_side_by_side(results, bench):
    picture, sky = judge(results, bench), judge(results, bench, Question.SKY)
    for one, other in zip(picture.worths, sky.worths, strict=True):
        assert one.factors == other.factors
        assert one.other_score == pytest.approx(other.score.value)
        assert other.other_score == pytest.approx(one.score.value)


def test_the_patch_of_sky_is_seen_at_one_scale(results, bench):
    """The reference's own patch: as many stars per area as its picture shows."""
    ranking = judge(results, bench)
    best = next(w for w in ranking.worths if w.setting == ranking.reference)
    body = bench.body
    degrees = math.degrees(1) ** 2 * 4 * math.asin(
        body.width_mm * body.height_mm
        / math.sqrt(
            (body.width_mm**2 + 4 * best.setting.focal_mm**2)
            * (body.height_mm**2 + 4 * best.setting.focal_mm**2)
        )
    )  # fmt: skip
    expected = 1000 * best.factors["stars"] / degrees
    assert best.factors["stars_on_sky"] == pytest.approx(expected, rel=0.01)


def test_what_stands_beside_the_best_setting(build, bench):
    results = [
        build.setting(build.heron, 1.8, (30.0, 30.5, 29.5), corner=2.0),
        build.setting(build.heron, 2.8, (8.0, 8.1, 7.9)),
        build.setting(build.heron, 3.2, (4.0, 4.1, 3.9)),
        build.setting(build.wren, 2.8, (4.0, 4.1, 3.9)),
    ]
    heron = next(s for s in judge(results, bench).standings if "Heron" in s.worth.setting.lens)
    assert heron.worth.setting.f_number in (2.8, 3.2)
    wide = heron.wide_open
    # f/1.8 is 2^(5/6), f/2.8 2^(3/2), f/3.2 2^(5/3): light by the square.
    thirds = {2.8: 4 / 3, 3.2: 5 / 3}[heron.worth.setting.f_number]
    assert wide.light_stops == pytest.approx(thirds, abs=1e-6)
    assert wide.reason is LossReason.STREAKS
    assert wide.worth.score.value < heron.worth.score.value
    if heron.worth.setting.f_number == 2.8:
        assert heron.tighter.setting.f_number == 3.2
    assert heron.shorter_score < heron.worth.score.value < heron.longer_score


def test_corners_that_differ_beyond_their_errors_are_named(build, bench):
    good = build.setting(build.wren, 2.0, (5.0, 5.1, 4.9, 5.0), corner=1.2)
    place = {"top right": (0.94, 0.06), "bottom left": (0.06, 0.94)}
    build.places.update(place)
    corner = tuple(1.2 * v for v in (5.0, 5.1, 4.9, 5.0))
    more = tuple(build.zone(name, corner) for name in place)
    bad = build.zone("bottom right", tuple(2.2 * v for v in (5.0, 5.1, 4.9, 5.0)))
    sound = replace(good, zones=(*good.zones, *more))
    tilted = replace(good, zones=(*good.zones[:2], bad, *more))
    assert judge([sound], bench).standings[0].uneven is None
    found = judge([tilted], bench).standings[0]
    assert (found.uneven.worst_place, found.uneven.ratio) == (
        "bottom right", pytest.approx(2.2 / 1.2, rel=1e-3),
    )  # fmt: skip
    assert found.uneven.score_without > found.worth.score.value


def test_an_assumption_that_could_change_the_order_says_so(build, bench):
    """Two lenses level in glow and stars at a = 1/2, but one sharper: another eye parts them."""
    results = [
        build.setting(build.wren, 2.0, (5.0, 5.1, 4.9)),
        build.setting(build.heron, 4.0, (4.4, 4.6, 4.5)),
    ]
    far = {a.code: a.could_change_order for a in judge(results, bench).assumptions}
    assert far[AssumptionCode.SKY_BRIGHTNESS] is False
    assert far[AssumptionCode.MARKS] is None
    typed = judge(results, replace(bench, sky=SkyChoice(brightness_mag_per_arcsec2=20.4)))
    assert {a.code: a.could_change_order for a in typed.assumptions}[
        AssumptionCode.SKY_BRIGHTNESS
    ] is None
