"""What a proof assumes, in words: name, value, source."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from nightglass.light.defaults import AIRMASS, EFFICIENCY
from nightglass.proof.assumptions import ProofAssumption
from nightglass.proof.codes import AssumptionCode
from nightglass.show.ranking.assumption_words import assumption_row
from nightglass.verdict.codes import Assumption

PERSON, GLOSSARY, FRAME = "bench.toml", "definition, glossary", "sky frame"
SENSOR = "measured, sensor.json"
ASSUMPTIONS = {
    AssumptionCode.PLACE_GIVEN: ("place of the night", "as given", PERSON),
    AssumptionCode.PLACE_UNKNOWN: (
        "place of the night", "not known: moon and twilight not checked", PERSON,
    ),
    AssumptionCode.AIRMASS_OF_AIM: (
        AIRMASS.name, "of the aim's height by place and clock", FRAME,
    ),
    AssumptionCode.FAINTEST_STAR: ("faintest star", "signal-to-noise {value:g}", GLOSSARY),
    AssumptionCode.STAR_COUNTS: (
        "star counts",
        "the field's own catalogue stars to G 9.5, continued by totals per magnitude",
        "Gaia DR3; Tycho-2 and UCAC4",
    ),
    AssumptionCode.EFFICIENCY_UNKNOWN: (
        EFFICIENCY.name, "not known: light and glow not compared", PERSON,
    ),
    AssumptionCode.GAIN_GIVEN: ("electrons per count", "as given, by ISO", PERSON),
    AssumptionCode.GAIN_FROM_NOISE: ("electrons per count", "from the frame's own noise", FRAME),
    AssumptionCode.READ_NOISE_GIVEN: ("read noise per sample", "as given, by ISO", PERSON),
    AssumptionCode.GAIN_MEASURED: ("electrons per count", "as measured, by ISO", SENSOR),
    AssumptionCode.READ_NOISE_MEASURED: ("read noise per sample", "as measured, by ISO", SENSOR),
    AssumptionCode.BLUR_BETWEEN_PLACES: (
        "blur between measured places",
        "noise area interpolated over field radius, the spot turned about the centre",
        "assumed; farther than 0.3 in field radius from a measured place: not tested",
    ),
    AssumptionCode.INTERVALS: (
        "intervals",
        "95 %, on the log of the ratio, Student's t; pairs of settings decided all together "
        "(Tukey, Kramer)",
        GLOSSARY,
    ),
    AssumptionCode.LEFT_OUT: (
        "left out of the intervals",
        "focus that was set only once on the night; the colour of an LED beside a star's; the "
        "bench's distance beside the sky's",
        "not measured",
    ),
}  # fmt: skip


def assumption_rows(
    assumed: Sequence[Assumption | ProofAssumption],
) -> Iterator[tuple[str, str, str]]:
    """Yield name, value and source of each."""
    for one in assumed:
        if isinstance(one, ProofAssumption):
            name, value, source = ASSUMPTIONS[one.code]
            yield name, value.format(value=one.value), source
        else:
            yield assumption_row(one)
