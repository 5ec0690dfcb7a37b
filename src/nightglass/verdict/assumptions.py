"""Every default and choice that entered a ranking, as it is printed beside it."""

from __future__ import annotations

from collections.abc import Collection, Sequence
from dataclasses import replace

from nightglass.gear.benchfile import BenchFile, ScoreChoice
from nightglass.light.aperture import lens_transmission
from nightglass.light.defaults import (
    AIRMASS,
    BLUE_SHARE,
    DETECTION_SNR,
    EFFICIENCY,
    EXTINCTION,
    MILKY_WAY_BRIGHTNESS,
    READ_NOISE,
    RED_SHARE,
    SKY_BRIGHTNESS,
    STAR_CROWDING,
    TRAIL_LIMIT,
    V_MINUS_G,
    ZERO_POINT,
    Default,
)
from nightglass.verdict.factors import Weights
from nightglass.verdict.purpose import PurposeLimit, purpose_table
from nightglass.verdict.records import Assumption, Worth
from nightglass.verdict.repeats import PooledRepeats
from nightglass.verdict.times import chosen_rule, situation

PERSON = "bench.toml"
GLOSSARY = "definition, glossary"


def assumptions(
    bench_file: BenchFile,
    limit: PurposeLimit,
    worths: Sequence[Worth],
    pool: PooledRepeats,
    weights: Weights,
    sessions: int = 1,
) -> tuple[Assumption, ...]:
    """Return what a ranking rests on: time, limit, score, sky, sensor, lenses, blur, intervals.

    sessions: the fewest sessions in which a judged setting was measured.
    """
    return (
        *_time(bench_file),
        *_limit(limit, bench_file),
        *_score(bench_file, weights),
        *_sky(bench_file),
        *_sensor(bench_file, worths),
        *glass_assumptions(bench_file, {worth.setting.lens for worth in worths}),
        *_blur_and_intervals(pool, sessions),
    )


def _time(bench_file: BenchFile) -> tuple[Assumption, ...]:
    choice = bench_file.time
    release = "on the dial" if choice.release == "dial" else "with a remote release, whole seconds"
    if choice.rule == "share of blur":
        rule, source = f"a trail of {choice.share or 1:g} of the lens's own blur", PERSON
    else:
        at = situation(choice, bench_file.body, bench_file.lenses[0].focal_mm_min, 2.8)
        answer = chosen_rule(choice, at)
        rule, source = answer.name, answer.source
    if choice.rule == "360 rule":
        rule = f"a trail of {TRAIL_LIMIT.value:g} % of height on the equator (360 rule)"
    return (
        Assumption("longest time", f"{rule}; {release}", source),
        Assumption("aim for the ranking", "declination 0, long side east to west", GLOSSARY),
    )


def _limit(limit: PurposeLimit, bench_file: BenchFile) -> tuple[Assumption, ...]:
    body = bench_file.body
    shape = max(body.width_px, body.height_px) / body.picture_height_px
    others = "; ".join(f"{row.words} {row.limit_percent:.3f} %" for row in purpose_table(shape))
    return (
        Assumption(
            "largest blur that counts as eligible",
            f"{limit.limit_percent:.3g} % of height ({limit.words})",
            limit.how,
        ),
        Assumption(
            "what purposes ask for",
            others,
            "1 arcminute at the viewing distance (ISO 8596), a screen one line",
        ),
    )


def _score(bench_file: BenchFile, weights: Weights) -> tuple[Assumption, ...]:
    typed = replace(bench_file.score, reference=None) != ScoreChoice()
    source = PERSON if typed else "default"
    product = " x ".join(f"({code})^{weight:g}" for code, weight in weights.items())
    named = "the best eligible setting" if bench_file.score.reference is None else "as named"
    return (
        Assumption("score", f"100 x {product}, against {named}", source),
        Assumption("faintest star", f"signal-to-noise {DETECTION_SNR.value:g}", GLOSSARY),
        Assumption("crowding", f"one star per {STAR_CROWDING.value:g} noise areas", GLOSSARY),
    )


def _sky(bench_file: BenchFile) -> tuple[Assumption, ...]:
    sky = bench_file.sky
    return (
        default_or(SKY_BRIGHTNESS, sky.brightness_mag_per_arcsec2),
        default_or(MILKY_WAY_BRIGHTNESS, None),
        default_or(EXTINCTION, sky.extinction_mag),
        default_or(AIRMASS, sky.airmass),
        Assumption(
            "star counts",
            "the mean sky: catalogue to G 9.5, continued by totals per magnitude",
            "Gaia DR3; Tycho-2 and UCAC4",
        ),
        default_or(V_MINUS_G, None),
        default_or(ZERO_POINT, None),
    )


def _sensor(bench_file: BenchFile, worths: Sequence[Worth]) -> tuple[Assumption, ...]:
    body = bench_file.body
    rows = [default_or(EFFICIENCY, body.efficiency)]
    if body.mosaic != "none":
        rows += [default_or(RED_SHARE, None), default_or(BLUE_SHARE, None)]
    if body.read_noise_e:
        steps = ", ".join(f"{e:g} e at ISO {iso}" for iso, e in sorted(body.read_noise_e.items()))
        rows.append(Assumption("read noise per sample", steps, PERSON))
    else:
        rows.append(default_or(READ_NOISE, None))
    isos = sorted({worth.iso for worth in worths if worth.iso is not None})
    shown = ", ".join(str(iso) for iso in isos) or "not known: no read noise in bench.toml"
    rows.append(Assumption("ISO (not part of the score)", shown, "lowest that read noise allows"))
    return tuple(rows)


def glass_assumptions(bench_file: BenchFile, used: Collection[str]) -> tuple[Assumption, ...]:
    """Return what is taken of the lenses' light; used: their names."""
    alike: dict[tuple[float, str], list[str]] = {}
    for lens in bench_file.lenses:
        if lens.name in used:
            known = lens_transmission(lens)
            alike.setdefault((known.share, known.source), []).append(lens.name)
    rows = [
        Assumption(f"transmission of {', '.join(names)}", f"{share:.3g}", source)
        for (share, source), names in alike.items()
    ]
    rows.append(
        Assumption(
            "falloff toward the corners",
            "cos(angle off axis) of the pupil, times the projection's solid angle",
            "default: no flat was measured; real lenses lose more wide open",
        )
    )
    rows.append(
        Assumption("f-numbers and dial times", "exact powers behind the marks", "ISO 516, 517")
    )
    return tuple(rows)


def _blur_and_intervals(pool: PooledRepeats, sessions: int) -> tuple[Assumption, ...]:
    if pool.bench_area is None:
        scatter, source = "photons alone: no setting has two repeats", "one frame per setting"
    else:
        percent = 100 * pool.bench_area.deviation
        scatter = f"{percent:.1f} % in noise area from frame to frame, pooled per lens"
        source = f"repeats, {pool.bench_area.dof} degrees of freedom"
    return (
        Assumption(
            "blur between measured places",
            "noise area interpolated over field radius, the spot turned about the centre",
            "assumed; farther than 0.3 in field radius from a measured place: not tested",
        ),
        Assumption("scatter of repeats", scatter, source),
        Assumption(
            "sessions",
            "at least one setting was measured in a single session: how it repeats on another day "
            "is not in its interval"
            if sessions < 2
            else f"every setting was measured in {sessions} sessions or more",
            "frames on record",
        ),
        Assumption(
            "smallest gain that shows",
            "about 10 % in signal-to-noise; a third of a stop is 26 % of light",
            "common practice",
        ),
        Assumption(
            "intervals",
            "95 %, on the log of the ratio, Student's t; between ranked lenses widened for having "
            "compared them all (Tukey, Kramer); resampled where all places have 8 repeats",
            GLOSSARY,
        ),
    )


def default_or(default: Default, given: float | None) -> Assumption:
    """Return a default with its source, or the person's own value."""
    if given is None:
        return Assumption(default.name, default.text, default.source)
    return Assumption(default.name, f"{given:g} {default.unit}".strip(), PERSON)
