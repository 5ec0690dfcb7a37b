"""Assumptions of a ranking in words: name, value, source."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from typing import Any

from nightglass.light import defaults
from nightglass.light.aperture import TransmissionSource
from nightglass.light.defaults import Default
from nightglass.light.falloff import FalloffSource
from nightglass.verdict.codes import Assumption
from nightglass.verdict.codes import AssumptionCode as Code
from nightglass.verdict.codes import AssumptionSource as Source

GLOSSARY = "definition, glossary"
SOURCE_WORDS: dict[Source, str] = {
    Source.BENCH_FILE: "bench.toml",
    Source.DEFAULT: "default",
    Source.GLOSSARY: GLOSSARY,
    Source.FRAMES: "frames on record",
    Source.MEASURED: "measured",
    Source.COMMON_PRACTICE: "common practice",
    Source.STANDARD: "ISO 516, 517",
}
DEFAULTS: dict[Code, Default] = {
    Code.SKY_BRIGHTNESS: defaults.SKY_BRIGHTNESS,
    Code.MILKY_WAY: defaults.MILKY_WAY_BRIGHTNESS,
    Code.EXTINCTION: defaults.EXTINCTION,
    Code.AIRMASS: defaults.AIRMASS,
    Code.V_MINUS_G: defaults.V_MINUS_G,
    Code.ZERO_POINT: defaults.ZERO_POINT,
    Code.EFFICIENCY: defaults.EFFICIENCY,
    Code.RED_SHARE: defaults.RED_SHARE,
    Code.BLUE_SHARE: defaults.BLUE_SHARE,
    Code.READ_NOISE: defaults.READ_NOISE,
}
"""Assumptions that are one number with a default."""
MEANINGS: dict[Code, str] = {
    Code.LONGEST_TIME: "the rule for the longest time, the release, and where the rule holds",
    Code.AIM: "where the frame looks when settings are compared",
    Code.VIEWING: "how the pictures are looked at: `eye_percent` is the eye's blur",
    Code.LIMIT: "the limit of blur that the person sets",
    Code.SCORE: "the powers of the factors, and whether a reference was named",
    Code.FAINTEST_STAR: "signal-to-noise of the faintest star that counts",
    Code.CROWDING: "noise areas that a seen star takes for itself",
    Code.SKY_BRIGHTNESS: "brightness of the sky beside the Milky Way",
    Code.MILKY_WAY: "even light of the Milky Way",
    Code.EXTINCTION: "what the air takes, per airmass",
    Code.AIRMASS: "how much air the frame looks through",
    Code.STAR_COUNTS: "how many stars there are of each magnitude",
    Code.V_MINUS_G: "colour of the mean star",
    Code.ZERO_POINT: "light of a star of magnitude 0",
    Code.EFFICIENCY: "electrons per photon of a green sample",
    Code.RED_SHARE: "red samples against green ones",
    Code.BLUE_SHARE: "blue samples against green ones",
    Code.READ_NOISE: "read noise per sample, by ISO or a default",
    Code.ISO: "ISO of the judged settings",
    Code.TRANSMISSION: "share of the light that the glass passes, with its error",
    Code.FALLOFF: "how the light falls toward the corners, with its error there",
    Code.MARKS: "f-numbers and dial times are names of exact powers",
    Code.BLUR_BETWEEN_PLACES: "what is taken of the blur between measured places",
    Code.SCATTER: "how far one frame differs from the next",
    Code.SESSIONS: "the fewest sessions in which a setting was measured",
    Code.FOCUS: "how many settings have no best focus from a series through focus",
    Code.VISIBLE_GAIN: "the smallest gain that a viewer notices",
    Code.INTERVALS: "what intervals are and hold",
}
"""Codes of assumptions in the JSON, as the glossary explains them."""


def assumption_row(one: Assumption) -> tuple[str, str, str]:
    """Return name, value and source of an assumption in words."""
    source = SOURCE_WORDS[one.source]
    if one.code in DEFAULTS and "value" in one.values:
        default = DEFAULTS[one.code]
        value = f"{one.values['value']:g} {default.unit}".strip()
        return default.name, value, default.source if one.source is Source.DEFAULT else source
    name, words = _WORDS[one.code]
    made = words if isinstance(words, str) else words(one.values)
    return name, made, _SOURCES.get((one.code, one.source), source)


def assumption_lines(assumed: Sequence[Assumption]) -> Iterator[str]:
    """Yield a line for each assumption."""
    for one in assumed:
        name, value, source = assumption_row(one)
        yield f"{name}: {value} [{source}]"


def viewing_words(values: Mapping[str, Any]) -> str:
    """Return how the pictures are looked at, with the eye's blur."""
    eye = f"the eye blurs {values['eye_percent']:.3f} % of height"
    if values["kind"] == "screen":
        return f"{values['purpose']}, one of {_SCREEN_LINES} lines: {eye}"
    height_cm, distance_m = 100 * values["picture_height_m"], values["distance_m"]
    typed = "" if values["kind"] == "phone" or values["distance_typed"] else ", its diagonal"
    far = f"{100 * distance_m:.0f} cm" if distance_m < 1 else f"{distance_m:.2g} m"
    return (
        f"{values['purpose']}, {height_cm:.2g} cm high seen from {far}{typed}: 1 arcminute, {eye}"
    )


_SCREEN_LINES = 1080


def _time(values: Mapping[str, Any]) -> str:
    rule = str(values["rule"])
    if values["share"] is not None:
        rule = f"a trail of {values['share']:g} of the lens's own blur"
    release = "on the dial" if values["release"] == "dial" else "with a remote release"
    place = "at the frame centre" if values["holds_at"] == "centre" else "even in the corners"
    return f"{rule}, {place}, {release}"


def _limit(values: Mapping[str, Any]) -> str:
    blur = "the lens's blur" if values["on"] == "lens" else "the blur with its trail"
    place = "in the worst place" if values["at"] == "worst" else "in the mean over the frame"
    return f"{blur} {place} at most {values['percent']:.3g} % of height"


def _score(values: Mapping[str, Any]) -> str:
    powers = {code: power for code, power in values.items() if code != "reference_named"}
    product = " x ".join(
        code.removesuffix("_on_sky") + ("" if power == 1 else f"^{power:g}")
        for code, power in powers.items()
    )
    named = "the setting you named" if values["reference_named"] else "the best setting"
    return f"100 x {product} over those of {named}"


def _read_noise(values: Mapping[str, Any]) -> str:
    steps = (f"{e:.3g} e at ISO {key.removeprefix('iso_')}" for key, e in values.items())
    return ", ".join(steps)


def _transmission(values: Mapping[str, Any]) -> str:
    err = f" +- {values['err']:.2g}" if values["err"] else ", taken as exact: no error stated"
    if values["known_from"] == TransmissionSource.FLATS.value:
        err = f" +- {values['err']:.2g} against the others, all together +- "
        err += f"{values['common_err']:.2g}; from flats, if their light never changed"
    return f"{values['share']:.3g}{err} ({_names(values['lenses'])})"


def _falloff(values: Mapping[str, Any]) -> str:
    who = f" ({_names(values['lenses'])})" if values["lenses"] else ""
    if values["known_from"] != FalloffSource.MODEL.value:
        return f"measured on {FALLOFF_KNOWN_FROM[FalloffSource(values['known_from'])]}{who}"
    return (
        "cos(angle off axis) of the pupil times the projection's solid angle; the corner may be "
        f"{100 * values['corner_err']:.0f} % darker (1 sigma){who}"
    )


def _names(names: Sequence[str]) -> str:
    return ", ".join(names)


def _scatter(values: Mapping[str, Any]) -> str:
    if values["percent"] is None:
        return "photons alone: no setting has two repeats"
    return (
        f"{values['percent']:.1f} % in noise area from frame to frame, pooled per lens "
        f"({values['dof']:g} degrees of freedom)"
    )


def _sessions(values: Mapping[str, Any]) -> str:
    if values["sessions"] < 2:
        return (
            "at least one setting was measured in a single session: how it repeats on another day "
            "is not in its interval"
        )
    return f"every setting was measured in {values['sessions']:g} sessions or more"


def _focus(values: Mapping[str, Any]) -> str:
    alone, settings = values["not_separated"], values["settings"]
    if not alone:
        return "separated: every setting has a best focus from a series"
    return (
        f"not separated for {alone:g} of {settings:g} settings: no series through focus, so their "
        "blur holds the error of focusing"
    )


_WORDS: dict[Code, tuple[str, str | Callable[[Mapping[str, Any]], str]]] = {
    Code.LONGEST_TIME: ("longest time", _time),
    Code.AIM: ("aim for the ranking", "declination 0, long side east to west"),
    Code.VIEWING: ("how the picture is looked at", viewing_words),
    Code.LIMIT: ("your limit", _limit),
    Code.SCORE: ("score", _score),
    Code.FAINTEST_STAR: (
        "faintest star", lambda v: f"signal-to-noise {v['snr']:g} in the picture as viewed",
    ),
    Code.CROWDING: (
        "crowding", lambda v: f"a seen star takes {v['noise_areas']:g} of its noise areas",
    ),
    Code.STAR_COUNTS: (
        "star counts", "the mean sky: catalogue to G 9.5, continued by totals per magnitude",
    ),
    Code.READ_NOISE: ("read noise per sample", _read_noise),
    Code.ISO: (
        "ISO (not part of the score)",
        lambda v: _names(v["isos"]) or "not known: no read noise in bench.toml",
    ),
    Code.TRANSMISSION: ("transmission", _transmission),
    Code.FALLOFF: ("falloff toward the corners", _falloff),
    Code.MARKS: ("f-numbers and dial times", "exact powers behind the marks"),
    Code.BLUR_BETWEEN_PLACES: (
        "blur between measured places",
        "interpolated over field radius, the spot turned about the centre; farther than 0.3 in "
        "field radius from a measured place: not tested",
    ),
    Code.SCATTER: ("scatter of repeats", _scatter),
    Code.SESSIONS: ("sessions", _sessions),
    Code.FOCUS: ("focus", _focus),
    Code.VISIBLE_GAIN: (
        "smallest gain that shows", "a third of a stop, 26 % in score; less is hardly visible",
    ),
    Code.INTERVALS: (
        "intervals",
        "95 %, on the log of the ratio: repeats (Student's t), transmission and falloff; between "
        "ranked lenses widened for having compared them all (Tukey, Kramer)",
    ),
}  # fmt: skip
FALLOFF_KNOWN_FROM = {
    FalloffSource.FLAT: "flats",
    FalloffSource.SKY: "frames of the sky",
    FalloffSource.MODEL: "nothing: the model cos(angle off axis)",
}
"""How a lens's falloff is known, as the glossary explains it."""
_SOURCES = {
    (Code.STAR_COUNTS, Source.GLOSSARY): "Gaia DR3; Tycho-2 and UCAC4",
    (
        Code.FALLOFF,
        Source.DEFAULT,
    ): "default: no flat was measured; real lenses lose more wide open",
    (Code.TRANSMISSION, Source.DEFAULT): defaults.TRANSMISSION.source,
    (Code.ISO, Source.GLOSSARY): "within 5 % of the least noise under this sky",
    (Code.BLUR_BETWEEN_PLACES, Source.GLOSSARY): "assumed",
}
KNOWN_FROM = {
    TransmissionSource.MEASURED: "measured",
    TransmissionSource.T_STOP: "from its T-stop",
    TransmissionSource.FLATS: "from flats of several lenses at one light",
    TransmissionSource.DEFAULT: "not measured",
}
"""How a lens's transmission is known."""
