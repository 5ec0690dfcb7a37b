"""The whole verdict, from results to ranking."""

import math
from dataclasses import replace

import pytest

from nightglass.bench.records import Combined
from nightglass.gear.benchfile import BenchFile, Purpose, ScoreChoice, SkyChoice, TimeChoice
from nightglass.gear.lens import LensSetting
from nightglass.show.ranking.note_words import not_ranked_name, note_words
from nightglass.verdict.judge import judge
from nightglass.verdict.records import NoteCode


@pytest.fixture
def results(build):
    return (
        build.setting(build.wren, 2.0, (5.0, 5.1, 4.9)),
        build.setting(build.wren, 2.8, (4.0, 4.1, 3.9)),
        build.setting(build.heron, 1.8, (9.0, 9.3, 8.8)),
        build.setting(build.heron, 2.8, (4.4, 4.6, 4.5)),
        build.setting(build.plover, 2.2, (6.0, 6.2, 6.1)),
    )


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
        assert worth.exposure_s == worth.times.dial_true_s
        assert worth.score.low <= worth.score.value <= worth.score.high


def test_reference_has_100_and_is_named(results, bench):
    ranking = judge(results, bench)
    reference = next(w for w in ranking.worths if w.setting == ranking.reference)
    assert reference.score.value == 100
    assert reference.eligible


def test_order_of_results_does_not_matter(results, bench):
    assert judge(results[::-1], bench) == judge(results, bench)


def test_limit_decides_what_is_eligible(results, bench):
    # 8.8 to 9.3 px at the centre and 1.2 times in the corners: 10.8 px, 0.42 % of 2592 px.
    ranking = judge(results, bench)
    heron = {w.setting.f_number: w for w in ranking.worths if w.setting.lens.startswith("Heron")}
    assert heron[1.8].lens_tightness_percent == pytest.approx(100 * 1.2 * 9.0333 / 2592, rel=1e-4)
    assert not heron[1.8].eligible
    assert heron[2.8].eligible
    wide = judge(results, replace(bench, purpose=Purpose("limit", "", 0.5)))
    assert all(w.eligible for w in wide.worths)


def test_wide_open_wins_without_a_limit(build, bench):
    # Equal blur at every f-number and a limit that shuts nothing out: the widest aperture wins for
    # every lens, for light counts in both parts of the score.
    free = replace(bench, purpose=Purpose("limit", "", 10.0))
    results = [
        build.setting(lens, n, (8.0, 8.2, 7.9))
        for lens in build.bag
        for n in (lens.f_number_min_wide, 2.8, 4.0)
    ]
    ranking = judge(results, free)
    for standing in ranking.standings:
        lens = bench.lens(standing.worth.setting.lens)
        assert standing.worth.setting.f_number == lens.f_number_min_wide


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
    assert any("photons alone" in a.value for a in ranking.assumptions)
    assert ranking.standings[0].gain_over_next_percent.low is not None


def test_repeats_at_limit_are_not_called_one_repeat(build, bench):
    zones = (build.zone("centre", (3.0, 3.0, 3.0), at_most_px=3.9),)
    worth = judge([replace(build.setting(build.wren), zones=zones)], bench).worths[0]
    assert not any(note.code == NoteCode.ONE_REPEAT for note in worth.notes)


def test_sessions_are_said(build, bench):
    twice = replace(build.setting(build.wren), sessions=2)
    stated = {a.name: a.value for a in judge([twice], bench).assumptions}
    assert stated["sessions"] == "every setting was measured in 2 sessions or more"
    mixed = judge([twice, build.setting(build.heron)], bench)
    assert "in a single session" in {a.name: a.value for a in mixed.assumptions}["sessions"]


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
    assert ranking.order_holds is None


def test_a_setting_handed_in_twice_is_refused(build, bench):
    result = build.setting(build.wren)
    with pytest.raises(ValueError, match="was handed in twice; give each setting once"):
        judge([result, result], bench)


def test_absurd_weights_are_refused(results, bench):
    with pytest.raises(ValueError, match="a is -1; the weight of the stars is allowed from 0 to 1"):
        judge(results, replace(bench, score=ScoreChoice(-1, 2)))


def test_unknown_reference_is_refused(results, bench):
    named = LensSetting(bench.body.name, "Wren 12 mm f/2", 12, 8.0)
    with pytest.raises(ValueError, match="f/8 was not measured; measured are: Heron 20 mm"):
        judge(results, replace(bench, score=ScoreChoice(reference=named)))


def test_remote_and_dial_are_named_and_used(results, bench):
    remote = judge(results, replace(bench, time=TimeChoice(release="remote")))
    for worth in remote.worths:
        assert worth.exposure_s == worth.times.remote_s
        assert worth.release == "remote"
        assert worth.exposure_s <= worth.times.limit_s * (1 + 1e-9)


def test_trail_at_the_centre_is_the_working_rule(results, bench):
    # 0.16828 % of height at the limit itself; dial and remote times in proportion.
    for worth in judge(results, bench).worths:
        expected = 0.16828 * worth.exposure_s / worth.times.limit_s
        assert worth.trail_percent == pytest.approx(expected, rel=1e-4)


def test_every_default_is_stated_once_and_a_choice_takes_its_place(results, bench):
    plain = {a.name: a for a in judge(results, bench).assumptions}
    assert len(plain) == len(judge(results, bench).assumptions)
    sky = "brightness of the sky beside the Milky Way"
    assert plain[sky].value == "21.6 V magnitudes per square arcsecond"
    assert all(a.source for a in plain.values())
    told = judge(results, replace(bench, sky=SkyChoice(brightness_mag_per_arcsec2=20.4)))
    chosen = {a.name: a for a in told.assumptions}[sky]
    assert (chosen.value, chosen.source) == ("20.4 V magnitudes per square arcsecond", "bench.toml")


def test_body_facts_are_used_and_said(results, bench, build):
    body = replace(build.body, read_noise_e={400: 4.5, 800: 3.1, 1600: 2.2}, efficiency=0.35)
    told = judge(results, BenchFile(body, bench.lenses))
    assert {w.iso for w in told.worths} <= {400, 800, 1600}
    stated = {a.name: a.value for a in told.assumptions}
    assert (
        stated["read noise per sample"] == "4.5 e at ISO 400, 3.1 e at ISO 800, 2.2 e at ISO 1600"
    )
    assert stated["efficiency of a green sample, filter included"].startswith("0.35")


def test_iso_does_not_enter_the_score(results, bench, build):
    # The same read noise at other ISO steps: other ISO, same score.
    low = BenchFile(replace(build.body, read_noise_e={200: 2.0}), bench.lenses)
    high = BenchFile(replace(build.body, read_noise_e={3200: 2.0}), bench.lenses)
    one, two = judge(results, low), judge(results, high)
    assert [w.score for w in one.worths] == [w.score for w in two.worths]
    assert {w.iso for w in one.worths} == {200}


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


def test_purpose_words_set_the_limit(results, bench):
    phone = judge(results, replace(bench, purpose=Purpose("phone", "phone")))
    assert phone.limit_percent == pytest.approx(0.128, abs=1e-3)
    assert phone.limit_purpose == "phone"
    assert all(s.over_limit for s in phone.standings)
