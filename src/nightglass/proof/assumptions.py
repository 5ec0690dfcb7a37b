"""Every default and choice that entered a proof, as it is printed beside it."""

from __future__ import annotations

from nightglass.gear.benchfile import BenchFile
from nightglass.light.defaults import (
    AIRMASS,
    DETECTION_SNR,
    EFFICIENCY,
    EXTINCTION,
    MILKY_WAY_BRIGHTNESS,
    READ_NOISE,
    V_MINUS_G,
)
from nightglass.proof.records import Proof
from nightglass.verdict.assumptions import GLOSSARY, PERSON, default_or, glass_assumptions
from nightglass.verdict.records import Assumption


def proof_assumptions(
    bench_file: BenchFile, proof: Proof, place_known: bool
) -> tuple[Assumption, ...]:
    """Return what a proof rests on: air, light, sensor, lenses, intervals.

    place_known: whether moon, twilight and the height of the aim could be worked out.
    """
    sky, body = bench_file.sky, bench_file.body
    lenses = {one.setting.lens for one in proof.settings}
    height = "of the aim's height by place and clock" if place_known else None
    airmass = default_or(AIRMASS, sky.airmass)
    return (
        Assumption("place of the night", "as given", PERSON)
        if place_known
        else Assumption("place of the night", "not known: moon and twilight not checked", PERSON),
        default_or(EXTINCTION, sky.extinction_mag),
        Assumption(airmass.name, height, "sky frame") if height else airmass,
        default_or(V_MINUS_G, None),
        default_or(MILKY_WAY_BRIGHTNESS, None),
        Assumption("faintest star", f"signal-to-noise {DETECTION_SNR.value:g}", GLOSSARY),
        Assumption(
            "star counts",
            "the field's own catalogue stars to G 9.5, continued by totals per magnitude",
            "Gaia DR3; Tycho-2 and UCAC4",
        ),
        Assumption(EFFICIENCY.name, "not known: light and glow not compared", PERSON)
        if body.efficiency is None
        else default_or(EFFICIENCY, body.efficiency),
        Assumption("electrons per count", "as given, by ISO", PERSON)
        if body.gain_e_per_count
        else Assumption("electrons per count", "from the frame's own noise", "sky frame"),
        Assumption("read noise per sample", "as given, by ISO", PERSON)
        if body.read_noise_e
        else default_or(READ_NOISE, None),
        *glass_assumptions(bench_file, lenses),
        Assumption(
            "blur between measured places",
            "noise area interpolated over field radius, the spot turned about the centre",
            "assumed; farther than 0.3 in field radius from a measured place: not tested",
        ),
        Assumption(
            "intervals",
            "95 %, on the log of the ratio, Student's t; pairs of settings decided all together "
            "(Tukey, Kramer)",
            GLOSSARY,
        ),
        Assumption(
            "left out of the intervals",
            "focus that was set only once on the night; the colour of an LED beside a star's; "
            "the bench's distance beside the sky's",
            "not measured",
        ),
    )
