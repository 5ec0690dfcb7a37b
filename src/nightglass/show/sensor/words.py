"""What the sensor room says in codes, in words: one sentence for each."""

from __future__ import annotations

from collections.abc import Mapping

from nightglass.sensor.codes import DarkMethod, Finding, LeftOut, NotMet, Role
from nightglass.sensor.records import Said

ROLES: dict[Role, str] = {
    Role.BIAS: "cap on, shortest time: black and read noise",
    Role.DARK: "cap on, long time: dark current and hot pixels",
    Role.FLAT: "evenly lit, one of a pair: electrons per count",
    Role.OVEREXPOSED: "overexposed: where the counts end",
    Role.LEFT_OUT: "left out, with its reason",
}
LEFT_OUT: dict[LeftOut, str] = {
    LeftOut.UNREADABLE: "{error}",
    LeftOut.NO_MOSAIC: "holds no raw mosaic: noise is measured on the raw file only",
    LeftOut.OTHER_BODY: "taken with another body ({body}; the others: {other}): measure each body "
    "by itself",
    LeftOut.OTHER_MODE: "another raw mode ({mode}; the others: {other}): use one mode, the night's",
    LeftOut.TOO_SMALL: "too small to tell noise: full-size raw files are needed",
    LeftOut.ISO_UNKNOWN: "no ISO in the file and none in its name; write it into the name, such "
    "as iso800",
    LeftOut.TIME_UNKNOWN: "cap on, but no exposure time in the file: bias and dark can't be told "
    "apart",
    LeftOut.BETWEEN_TIMES: "cap on for {seconds:.2g} s: too long for read noise, too short for "
    "dark current; take 1/1000 s or shorter, and the night's time",
    LeftOut.NOT_EVEN: "not evenly lit: a scene, or the lens cap half on; photograph a white screen "
    "or sky, out of focus",
    LeftOut.LIGHT_LEAK: "taken in the dark, but light fell in ({counts:.1f} counts, unlike in the "
    "colours): cap on, eyepiece covered, in a dark room",
    LeftOut.ALONE: "no second frame of the same setting and light: take every level twice",
    LeftOut.SAME_FILE: "the same content as {other}",
}
FINDINGS: dict[Finding, str] = {
    Finding.NO_BIAS: "no pair of frames with the cap on at the shortest time: read noise not "
    "measured",
    Finding.NO_FLATS: "no pair of evenly lit frames: electrons per count not measured, so the "
    "noise is known in counts only",
    Finding.FEW_LEVELS: "levels that count: {levels:.0f}; from four on, over two stops, a bend "
    "can be told; now it is a doubt in the error",
    Finding.NOT_A_LINE: "noise does not grow with light as photons' noise does: no electrons per "
    "count",
    Finding.COARSE_COUNTS: "the counts are too coarse to show the read noise: a bound is given",
    Finding.BLACK_CLIPPED: "the raw file is cut at black ({percent:.0f} % of the dark samples at "
    "its lowest value): the dark frames show too little noise, and faint sky is lifted",
    Finding.NOISE_FROM_FLATS: "read noise taken from the evenly lit frames, whose noise is whole",
    Finding.BLACK_MOVED: "black lies {counts:+.1f} counts off the {file:.0f} that the file states; "
    "the measured level is used here, other programs may be off by that",
    Finding.SMOOTHED: "the raw noise is smoothed (neighbours go together by {percent:.0f} %): it "
    "looks smaller than it is, electrons per count come out too large, and small stars suffer",
    Finding.COUNTS_SKIPPED: "the file uses only one count in {step:.2g}: numbers were multiplied, "
    "or bits are missing; rounding is taken off the noise",
    Finding.COARSE_HIGHLIGHTS: "in bright parts the file uses only one count in {step:.2g}: lossy "
    "compression; its rounding is taken off the noise, small stars keep their light",
    Finding.LIGHT_FLICKERS: "the light changed by {percent:.1f} % from frame to frame: taken out "
    "of noise and gain, not out of linearity; steady light (daylight, direct current) is better",
    Finding.BENT: "the response bends: at clipping the counts stand {percent:.1f} % under a "
    "straight line; electrons per count are those of low light",
    Finding.ROWS_SHOW: "rows jump by {percent:.0f} % of a pixel's noise: bands show when shadows "
    "are lifted",
    Finding.COLUMNS_SHOW: "columns differ by {percent:.0f} % of a pixel's noise: stripes show "
    "when shadows are lifted",
    Finding.NO_DARKS: "no dark frames of 1 s or more: dark current and hot pixels not tested",
    Finding.ONE_DARK: "only one dark frame of {seconds:.3g} s: particles count as hot pixels",
    Finding.DARK_LEVEL_HIDDEN: "the body takes the dark level off each frame: dark current is "
    "told by its noise",
    Finding.TEMPERATURE_UNKNOWN: "dark current and hot pixels hold for the temperature of the "
    "dark frames, which is not noted (--temperature)",
    Finding.LINEARITY_NOT_TESTED: "linearity over time not tested: it takes four times or more, "
    "over two stops, in the same light at one f-number",
    Finding.CLIPPING_FROM_FILE: "no overexposed frame: where the counts end is taken from the file",
    Finding.ISO_NAME_DIFFERS: "{file}: the name says ISO {named:.0f}, the camera wrote "
    "{iso:.0f}; the camera's counts",
    Finding.ISO_FROM_NAME: "{file}: ISO {iso:.0f} taken from its name",
    Finding.BODY_UNKNOWN: "body not recorded in {frames:.0f} of the frames: taken for the same",
    Finding.MULTIPLIED: "ISO {iso:.0f} only multiplies the numbers of a lower step (one count "
    "in {step:.2g} is used): it gains nothing and costs headroom",
    Finding.ONLY_A_TAG: "ISO {iso:.0f} records the same numbers as ISO {as_iso:.0f}: the step is "
    "only a tag",
    Finding.SAME_NOISE: "from ISO {iso:.0f} on the read noise stays as it is",
}
DARK_METHODS: dict[DarkMethod, str] = {
    DarkMethod.LEVEL: "from the level of the dark frames over that of the bias frames",
    DarkMethod.NOISE: "from their noise",
}
NOT_MET: dict[NotMet, str] = {
    NotMet.LIGHT_NOT_CALIBRATED: "light of known photons (6.4): no quantum efficiency, no "
    "sensitivity threshold",
    NotMet.LIGHT_NOT_ONE_COLOUR: "light of one narrow colour (6.2): the colours are those of "
    "the sensor",
    NotMet.LENS_IN_FRONT: "a light source without a lens, at f/8 (6.1): a lens shades the frame, "
    "so noise is measured tile by tile",
    NotMet.FEW_STEPS: "50 levels (6.5)",
    NotMet.FEW_DARK_TIMES: "six dark times (7.1)",
    NotMet.FEW_FRAMES_FOR_PATTERN: "16 frames or more for patterns (8.1): two tell them by what "
    "both share",
    NotMet.ONE_TEMPERATURE: "several temperatures (7.2)",
}
CODES: tuple[tuple[str, Mapping[str, str]], ...] = (
    ("role", {code.value: words for code, words in ROLES.items()}),
    ("reason of a frame", {code.value: words for code, words in LEFT_OUT.items()}),
    ("finding", {code.value: words for code, words in FINDINGS.items()}),
    ("method of the dark current", {code.value: words for code, words in DARK_METHODS.items()}),
    ("not_met", {code.value: words for code, words in NOT_MET.items()}),
)
"""Where codes stand in the JSON, and what each means."""


def finding_words(said: Said) -> str:
    """Return a finding as a sentence without a full stop."""
    return FINDINGS[said.code].format(**said.values)


def left_out_words(reason: LeftOut, values: Mapping[str, float | str]) -> str:
    """Return why a frame was left out."""
    return LEFT_OUT[reason].format(**values)
