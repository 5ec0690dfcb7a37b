"""An invented bag on an invented body, judged: what charts and cards are drawn from.

The figures are made up to look like a bench's; nothing here is measured.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import numpy as np
import pytest
from made_worths import make_looks

from nightglass.bench.records import Combined, SettingResult, ZoneResult
from nightglass.gear.benchfile import LimitChoice, TimeChoice
from nightglass.gear.body import Body
from nightglass.gear.lens import Lens, LensSetting
from nightglass.light.falloff import FalloffSource
from nightglass.light.iso import IsoReason, WorkingIso
from nightglass.verdict.codes import (
    Assumption,
    AssumptionCode,
    AssumptionSource,
    Note,
    NoteCode,
    NotRanked,
)
from nightglass.verdict.purpose import eye_of
from nightglass.verdict.question import Question
from nightglass.verdict.records import (
    FrameTimes,
    Interval,
    OrderFrequency,
    Ranking,
    Standing,
    Worth,
    ZoomJump,
)
from nightglass.verdict.times import longest_times

BODY = Body(
    name="Club loan body",
    pitch_um=6.05,
    width_px=3872,
    height_px=2592,
    serial="CL-0417",
    firmware="1.03",
    iso_steps=(200, 400, 800, 1600),
)

LENSES = (
    Lens("Wren 12 mm f/2", 12, 12, 2.0, 2.0, serial="W-118"),
    Lens("Heron 20 mm f/1.8", 20, 20, 1.8, 1.8, serial="H-2031"),
    Lens("Plover 24 mm f/2.2", 24, 24, 2.2, 2.2),
    Lens("Dipper 11-18 mm f/3.2", 11, 18, 3.2, 3.2, serial="D-77"),
    Lens("Curlew 17-45 mm f/2.5-4.5", 17, 45, 2.5, 4.5, serial="C-9"),
)

APERTURES = {
    "Wren": (2.0, 2.2, 2.5, 2.8, 4.0),
    "Heron": (1.8, 2.0, 2.2, 2.8, 4.0),
    "Plover": (2.2, 2.8, 4.0),
    "Dipper": (3.2, 4.0, 5.6),
    "Curlew": (2.5, 2.8, 3.2, 4.0, 4.5, 5.6),
}
ZOOMS = {"Dipper": (11.0, 13.0, 15.0, 18.0), "Curlew": (17.0, 20.0, 24.0, 28.0, 35.0, 45.0)}
WIDE_OPEN_PERCENT = {"Wren": 0.21, "Heron": 0.44, "Plover": 0.17, "Dipper": 0.2, "Curlew": 0.3}
PLACES = (
    ("centre", 0.5, 0.5, 0.35),
    ("top left", 0.06, 0.08, 0.9),
    ("top right", 0.94, 0.08, 1.0),
    ("bottom left", 0.06, 0.92, 0.8),
    ("bottom right", 0.94, 0.92, 0.86),
)
LIMIT_PERCENT = 0.25


def tightness(lens: Lens, focal_mm: float, f_number: float) -> float:
    """Blur [% of height] of the worst place: coma-like fall with f-number, a bad spot at 28 mm."""
    bird = lens.name.split()[0]
    wide_open = lens.f_number_min_wide
    value = WIDE_OPEN_PERCENT.get(bird, 0.2) * (wide_open / f_number) ** 1.6
    if bird == "Curlew":
        value *= 1 + 0.004 * (focal_mm - 17)
        if focal_mm == 28.0:
            value *= 1.75
    return max(value, 0.055)


def times_for(focal_mm: float) -> FrameTimes:
    return longest_times(TimeChoice(), BODY, focal_mm, 2.8)


def worth(lens: Lens, focal_mm: float, f_number: float) -> Worth:
    times = times_for(focal_mm)
    tight = tightness(lens, focal_mm, f_number)
    dial_s = times.centre.dial_true_s
    trail = 0.16828 * dial_s / times.centre.limit_s
    light = (focal_mm / f_number) ** 2 * dial_s / (1 + focal_mm / 30)
    return Worth(
        setting=LensSetting(BODY.name, lens.name, focal_mm, f_number),
        times=times,
        exposure_s=dial_s,
        release="dial",
        iso=WorkingIso(1600, IsoReason.LOW_NOISE, 2.0, 3200, 1.0),
        gathered_mm2_s=light,
        falloff=FalloffSource.MODEL,
        corner_stops=0.4,
        factors={
            "stars": round(9.1 * light),
            "glow": light**0.5 / 4,
            "stars_on_sky": round(2.0 * light),
            "glow_on_sky": light**0.5,
        },
        other_score=light,
        peak_kept=0.4,
        crowded_share=0.1,
        looks=make_looks("top right"),
        mean_tightness_percent=0.7 * tight,
        lens_tightness_percent=tight,
        lens_tightness_percent_err=0.006 if tight > 0.06 else None,
        worst_place="top right",
        tightness_percent=tight + trail / 2,
        trail_percent=trail,
        at_limit=tight <= 0.055,
        over_limit_percent=tight - LIMIT_PERCENT if tight > LIMIT_PERCENT else None,
        score=Interval(light, light * 0.94, light * 1.06),
        places_measured=tuple(p[0] for p in PLACES),
        tightness_interval=Interval(tight, tight / 1.06, tight * 1.06) if tight > 0.06 else None,
    )


def _relative(item: Worth, reference: float) -> Worth:
    s = item.score
    scale = 100 / reference
    return replace(
        item,
        score=Interval(
            s.value * scale,
            None if s.low is None else s.low * scale,
            None if s.high is None else s.high * scale,
        ),
    )


def make_ranking(lenses: tuple[Lens, ...] = LENSES) -> Ranking:
    """Rank a bag by its made-up worths, over-limit lenses last."""
    worths = []
    for lens in lenses:
        bird = lens.name.split()[0]
        for focal in ZOOMS.get(bird, (float(lens.focal_mm_min),)):
            span = max(lens.focal_mm_max - lens.focal_mm_min, 1)
            share = (focal - lens.focal_mm_min) / span
            widest = lens.f_number_min_wide + share * (
                lens.f_number_min_long - lens.f_number_min_wide
            )
            stops = APERTURES.get(bird, (lens.f_number_min_wide, 4.0))
            worths += [worth(lens, focal, n) for n in stops if n >= widest - 0.05]
    eligible = [w for w in worths if w.eligible]
    reference = max(w.score.value for w in eligible)
    worths = [_relative(w, reference) for w in worths]
    best = []
    for lens in lenses:
        mine = [w for w in worths if w.setting.lens == lens.name]
        good = [w for w in mine if w.eligible]
        best.append(max(good or mine, key=lambda w: w.score.value))
    best.sort(key=lambda w: (not w.eligible, -w.score.value))
    standings = []
    for k, item in enumerate(best):
        nxt = best[k + 1] if k + 1 < len(best) else None
        gain = None if nxt is None else (item.score.value / nxt.score.value - 1) * 100
        standings.append(
            Standing(
                place=k + 1,
                worth=item,
                over_limit=not item.eligible,
                gain_over_next_percent=None if gain is None else Interval(gain, gain - 7, gain + 8),
                next_lower=None if nxt is None else nxt.setting.lens,
                tied_with=(),
            )
        )
    unbeaten = tuple(
        w
        for w in worths
        if not any(
            o.score.value > w.score.value and o.lens_tightness_percent < w.lens_tightness_percent
            for o in worths
        )
    )
    return Ranking(
        standings=tuple(standings),
        worths=tuple(worths),
        unbeaten=unbeaten,
        reference=best[0].setting,
        question=Question.PICTURE,
        eye=eye_of("print 45 cm wide seen from 1 m"),
        limit=LimitChoice(LIMIT_PERCENT),
        order_frequency=OrderFrequency(
            (("Wren 12 mm f/2", 0.93), ("Heron 20 mm f/1.8", 0.07)),
            0.71,
            2000,
            {"stars": (0.5, 1.5), "glow": (1.5, 0.5)},
        ),
        assumptions=(
            Assumption(
                AssumptionCode.SKY_BRIGHTNESS, AssumptionSource.DEFAULT, {"value": 21.6}, True
            ),
            Assumption(AssumptionCode.AIM, AssumptionSource.GLOSSARY),
        ),
        jumps=tuple(
            ZoomJump(lens.name, 28.0, "top right", 3.2, 1.69, 0.05)
            for lens in lenses
            if lens.name.startswith("Curlew")
        ),
        not_ranked=(NotRanked("Sandpiper 35 mm f/1.6", Note(NoteCode.NOT_TESTED)),),
    )


def stamp(length_px: float, width_px: float, angle_degrees: float) -> np.ndarray:
    """A made-up spot: a core with a wing to one side, sum 1."""
    y, x = np.mgrid[-20:21, -20:21].astype(float)
    t = math.radians(angle_degrees)
    u = x * math.cos(t) + y * math.sin(t)
    v = -x * math.sin(t) + y * math.cos(t)
    a, b = length_px / 3.29, width_px / 3.29
    wing = np.exp(
        -((u - 0.6 * length_px) ** 2) / (2 * (a * 1.4) ** 2) - v**2 / (2 * (b * 1.6) ** 2)
    )
    spot = np.exp(-(u**2) / (2 * a**2) - v**2 / (2 * b**2)) + 0.15 * wing
    return (spot / spot.sum()).astype(np.float32)


def _none() -> Combined:
    return Combined(None, None)


def zone_result(item: Worth, place: tuple[str, float, float, float], seed: int) -> ZoneResult:
    name, x_share, y_share, share = place
    length = item.lens_tightness_percent * share / 100 * BODY.picture_height_px
    at_limit = length < 3.0
    rng = np.random.default_rng(seed)
    repeats = tuple(float(length * (1 + 0.03 * e)) for e in rng.standard_normal(4))
    angle = math.degrees(math.atan2(y_share - 0.5, x_share - 0.5)) % 180
    return ZoneResult(
        place=name,
        x_px=x_share * BODY.width_px,
        y_px=y_share * BODY.height_px,
        field_radius=0.0 if name == "centre" else 0.88,
        frames=4,
        refused=0,
        at_limit_frames=4 if at_limit else 0,
        length_px=Combined(None, None, at_most=3.4)
        if at_limit
        else Combined(length, 0.1, None, repeats),
        width_px=Combined(None, None, at_most=3.2) if at_limit else Combined(length * 0.7, 0.1),
        ee50_px=Combined(length * 0.4, 0.05),
        ee80_px=Combined(length * 0.8, 0.08),
        skirt_length_px=_none(),
        noise_area_px=Combined(length**2, 1.0),
        lean=Combined(0.1, 0.02),
        angle_degrees=Combined(angle, 2.0),
        radial_angle_degrees=Combined(4.0, 2.0),
        colour_offset_red_px=Combined(0.2, 0.05),
        colour_offset_blue_px=Combined(-0.3, 0.05),
        error_source="repeats",
        stamp=stamp(max(length, 2.5), max(length * 0.6, 2.3), angle),
        flags=("at limit",) if at_limit else (),
    )


def make_results(ranking: Ranking) -> tuple[SettingResult, ...]:
    return tuple(
        SettingResult(w.setting, tuple(zone_result(w, p, 17 * k + j) for j, p in enumerate(PLACES)))
        for k, w in enumerate(ranking.worths)
    )


@dataclass(frozen=True)
class Bag:
    """Everything that a card is made from."""

    body: Body
    lenses: tuple[Lens, ...]
    ranking: Ranking
    results: tuple[SettingResult, ...]


def make_bag(lenses: tuple[Lens, ...] = LENSES) -> Bag:
    ranking = make_ranking(lenses)
    return Bag(BODY, lenses, ranking, make_results(ranking))


def many_lenses(count: int) -> tuple[Lens, ...]:
    """Invented fixed lenses, one with a name too long for any card."""
    birds = (
        "Avocet", "Bittern", "Crake", "Dotterel", "Egret", "Fulmar", "Grebe", "Hobby", "Ibis",
        "Jacana", "Knot", "Lapwing with a very long collector's nameplate engraved", "Merlin",
        "Noddy", "Osprey", "Petrel", "Quail", "Ruff", "Skua", "Tern",
    )  # fmt: skip
    return tuple(
        Lens(f"{bird} {14 + 2 * k} mm f/2", 14 + 2 * k, 14 + 2 * k, 2.0, 2.0)
        for k, bird in enumerate(birds[:count])
    )


@pytest.fixture(scope="session")
def bag() -> Bag:
    return make_bag()


@pytest.fixture(scope="session")
def big_bag() -> Bag:
    return make_bag(many_lenses(12))


@pytest.fixture(scope="session")
def bag_of():
    return make_bag


@pytest.fixture(scope="session")
def lenses_of():
    return many_lenses
