"""Every default and choice that entered a ranking, by code."""

from __future__ import annotations

from collections.abc import Collection, Sequence
from dataclasses import replace

from nightglass.gear.benchfile import BenchFile, Purpose, ScoreChoice
from nightglass.gear.body import Body
from nightglass.light.aperture import Transmission, TransmissionSource, lens_transmission
from nightglass.light.defaults import (
    AIRMASS,
    BLUE_SHARE,
    DETECTION_SNR,
    EFFICIENCY,
    EXTINCTION,
    FALLOFF_ERR,
    MILKY_WAY_BRIGHTNESS,
    READ_NOISE,
    RED_SHARE,
    SKY_BRIGHTNESS,
    V_MINUS_G,
    ZERO_POINT,
    Default,
)
from nightglass.light.falloff import FalloffSource
from nightglass.verdict.certainty.repeats import PooledRepeats
from nightglass.verdict.codes import Assumption
from nightglass.verdict.codes import AssumptionCode as Code
from nightglass.verdict.codes import AssumptionSource as Source
from nightglass.verdict.factors import Weights
from nightglass.verdict.records import Worth
from nightglass.verdict.times import chosen_rule, situation
from nightglass.verdict.view.crowd import SEEN_STAR_AREAS
from nightglass.verdict.view.eye import Eye


def assumptions(
    bench: BenchFile,
    eye: Eye,
    worths: Sequence[Worth],
    pool: PooledRepeats,
    weights: Weights,
    sessions: int = 1,
) -> tuple[Assumption, ...]:
    """Return what a ranking rests on: time, viewer, score, sky, sensor, lenses, blur, intervals.

    sessions: the fewest sessions in which a judged setting was measured.
    """
    return (
        *_time(bench),
        *_viewer(bench, eye),
        *_score(bench, weights),
        *_sky(bench),
        *_sensor(bench, worths),
        *glass_assumptions(bench, {worth.setting.lens for worth in worths}),
        *falloff_assumptions(worths),
        *_blur_and_intervals(pool, sessions),
    )


def _time(bench: BenchFile) -> tuple[Assumption, ...]:
    choice = bench.time
    said: dict[str, float | str | bool | tuple[str, ...] | None] = {
        "rule": choice.rule,
        "release": choice.release,
        "holds_at": choice.holds_at,
        "share": choice.share,
    }
    if choice.rule != "share of blur":
        at = situation(choice, bench.body, bench.lenses[0].focal_mm_min, 2.8)
        said["rule"] = chosen_rule(choice, at).name
    return (
        Assumption(Code.LONGEST_TIME, Source.BENCH_FILE, said),
        Assumption(Code.AIM, Source.GLOSSARY),
    )


def _viewer(bench: BenchFile, eye: Eye) -> tuple[Assumption, ...]:
    source = Source.DEFAULT if bench.purpose == Purpose() else Source.BENCH_FILE
    seen = Assumption(
        Code.VIEWING,
        source,
        {
            "purpose": eye.words,
            "kind": eye.kind,
            "eye_percent": eye.eye_percent,
            "picture_height_m": eye.picture_height_m,
            "distance_m": eye.distance_m,
            "distance_typed": bench.purpose.viewing_distance_m is not None,
        },
    )
    if bench.limit is None:
        return (seen,)
    limit = {"percent": bench.limit.percent, "on": bench.limit.on, "at": bench.limit.at}
    return seen, Assumption(Code.LIMIT, Source.BENCH_FILE, limit)


def _score(bench: BenchFile, weights: Weights) -> tuple[Assumption, ...]:
    typed = replace(bench.score, reference=None) != ScoreChoice()
    source = Source.BENCH_FILE if typed else Source.DEFAULT
    named = bench.score.reference is not None
    return (
        Assumption(Code.SCORE, source, {**weights, "reference_named": named}),
        Assumption(Code.FAINTEST_STAR, Source.GLOSSARY, {"snr": DETECTION_SNR.value}),
        Assumption(Code.CROWDING, Source.GLOSSARY, {"noise_areas": SEEN_STAR_AREAS}),
    )


def _sky(bench: BenchFile) -> tuple[Assumption, ...]:
    sky = bench.sky
    return (
        default_or(Code.SKY_BRIGHTNESS, SKY_BRIGHTNESS, sky.brightness_mag_per_arcsec2),
        default_or(Code.MILKY_WAY, MILKY_WAY_BRIGHTNESS, None),
        default_or(Code.EXTINCTION, EXTINCTION, sky.extinction_mag),
        default_or(Code.AIRMASS, AIRMASS, sky.airmass),
        Assumption(Code.STAR_COUNTS, Source.GLOSSARY),
        default_or(Code.V_MINUS_G, V_MINUS_G, None),
        default_or(Code.ZERO_POINT, ZERO_POINT, None),
    )


def _sensor(bench: BenchFile, worths: Sequence[Worth]) -> tuple[Assumption, ...]:
    body = bench.body
    rows = [default_or(Code.EFFICIENCY, EFFICIENCY, body.efficiency)]
    if body.mosaic != "none":
        rows.append(default_or(Code.RED_SHARE, RED_SHARE, None))
        rows.append(default_or(Code.BLUE_SHARE, BLUE_SHARE, None))
    rows += read_noise_assumptions(body)
    isos = sorted({worth.iso.iso for worth in worths if worth.iso.iso is not None})
    rows.append(Assumption(Code.ISO, Source.GLOSSARY, {"isos": tuple(str(iso) for iso in isos)}))
    return tuple(rows)


def read_noise_assumptions(body: Body) -> tuple[Assumption, ...]:
    """Return what is taken of the read noise: as typed, as measured, or the default."""
    if not body.read_noise_e:
        return (default_or(Code.READ_NOISE, READ_NOISE, None),)
    by_source: dict[Source, dict[str, float | str | bool | tuple[str, ...] | None]] = {}
    for iso, noise_e in sorted(body.read_noise_e.items()):
        source = Source.MEASURED if iso in body.read_noise_err_e else Source.BENCH_FILE
        by_source.setdefault(source, {})[f"iso_{iso}"] = noise_e
    return tuple(Assumption(Code.READ_NOISE, source, steps) for source, steps in by_source.items())


_KNOWN_FROM = {
    TransmissionSource.MEASURED: Source.BENCH_FILE,
    TransmissionSource.T_STOP: Source.BENCH_FILE,
    TransmissionSource.FLATS: Source.MEASURED,
    TransmissionSource.DEFAULT: Source.DEFAULT,
}


MODEL_FALLOFF = Assumption(
    Code.FALLOFF,
    Source.DEFAULT,
    {"corner_err": FALLOFF_ERR, "known_from": FalloffSource.MODEL.value, "lenses": ()},
)
"""The falloff of lenses of which nobody measured it."""


def glass_assumptions(bench: BenchFile, used: Collection[str]) -> tuple[Assumption, ...]:
    """Return what is taken of the lenses' light; used: their names."""
    alike: dict[Transmission, list[str]] = {}
    for lens in bench.lenses:
        if lens.name in used:
            known = lens_transmission(lens)
            alike.setdefault(known, []).append(lens.name)
    rows = [
        Assumption(
            Code.TRANSMISSION,
            _KNOWN_FROM[known.source],
            {
                "lenses": tuple(names),
                "share": known.share,
                "err": known.err,
                "common_err": known.common_err,
                "known_from": known.source.value,
            },
        )
        for known, names in alike.items()
    ]
    rows.append(Assumption(Code.MARKS, Source.STANDARD))
    return tuple(rows)


def falloff_assumptions(worths: Sequence[Worth]) -> tuple[Assumption, ...]:
    """Return what is taken of the light toward the corners: the model, and what was measured."""
    lenses: dict[FalloffSource, set[str]] = {}
    for worth in worths:
        lenses.setdefault(worth.falloff, set()).add(worth.setting.lens)
    if not lenses:
        return (MODEL_FALLOFF,)
    rows = []
    for kind in FalloffSource:
        if kind not in lenses:
            continue
        names = {"known_from": kind.value, "lenses": tuple(sorted(lenses[kind]))}
        if kind is FalloffSource.MODEL:
            rows.append(replace(MODEL_FALLOFF, values={**MODEL_FALLOFF.values, **names}))
        else:
            rows.append(Assumption(Code.FALLOFF, Source.MEASURED, names))
    return tuple(rows)


def _blur_and_intervals(pool: PooledRepeats, sessions: int) -> tuple[Assumption, ...]:
    scatter = Assumption(Code.SCATTER, Source.FRAMES, {"percent": None, "dof": None})
    if pool.bench_area is not None:
        found = {"percent": 100 * pool.bench_area.deviation, "dof": float(pool.bench_area.dof)}
        scatter = replace(scatter, values=found)
    return (
        Assumption(Code.BLUR_BETWEEN_PLACES, Source.GLOSSARY),
        scatter,
        Assumption(Code.SESSIONS, Source.FRAMES, {"sessions": float(sessions)}),
        Assumption(Code.VISIBLE_GAIN, Source.COMMON_PRACTICE),
        Assumption(Code.INTERVALS, Source.GLOSSARY),
    )


def default_or(code: Code, default: Default, given: float | None) -> Assumption:
    """Return a default, or the person's own value in its place."""
    if given is None:
        return Assumption(code, Source.DEFAULT, {"value": default.value})
    return Assumption(code, Source.BENCH_FILE, {"value": given})
