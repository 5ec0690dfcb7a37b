"""What the finishing did, as lines for the terminal and as plain data."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import PurePath
from typing import Any

from nightglass.finish.codes import FindingCode, NoteCode, ProfileSource
from nightglass.finish.picture import FileFacts
from nightglass.finish.records import Audit, ColourShift, ExportPair, Finish, NoiseBand
from nightglass.show.columns import Part, Table, lines_of
from nightglass.show.finish.words import (
    DIFFERENCES,
    FINDINGS,
    NOTES,
    PROFILES,
    UNCOMPARED,
    worded,
)

NOTHING = "Nothing was done to the stars, the noise or the colours that shows."
NOISE_HEAD = "noise at", "in light: % of sky", "left", "in colour: % of sky", "colour left"
VALUED_NOTES = (NoteCode.TURNED, NoteCode.BENT)


def finish_lines(found: Finish, width: int | None = None) -> Iterator[str]:
    """Yield the report as lines; width: of the terminal, None for a file."""
    yield from lines_of(finish_parts(found), width)


def finish_parts(found: Finish) -> Iterator[Part]:
    """Yield everything: each picture with its answer first, then the tables, then the pairs."""
    for one in found.audits:
        yield from _audit_parts(one)
        yield ""
    for pair in found.pairs:
        yield from pair_lines(pair)
        yield ""
    yield f"Reference: {_file_words(found.reference)}; {found.reference_stars} stars."
    for note in found.reference_notes:
        yield f"  note: {NOTES[note]}"


def _audit_parts(one: Audit) -> Iterator[Part]:
    name = PurePath(one.facts.file).name
    if one.reason is not None:
        yield f"{name}: not compared: {UNCOMPARED[one.reason]}"
        yield f"  {_file_words(one.facts)}"
        return
    if not one.findings:
        yield f"{name}: {NOTHING}"
    else:
        number = len(one.findings)
        yield f"{name}: {number} finding{'s' if number > 1 else ''}, with the worst places in px"
    for finding in one.findings:
        text = worded(FINDINGS[finding.code], finding.values)
        yield f"  - {text} (at {finding.x_px}, {finding.y_px})"
    yield from _tables(one)
    yield f"  {_file_words(one.facts)}"
    for note in one.notes:
        yield f"  note: {NOTES[note]}{_note_value(one, note)}"


def _note_value(one: Audit, note: NoteCode) -> str:
    place = one.placement
    if place is None:
        return ""
    if note is NoteCode.TURNED:
        return f" by {place.similarity.angle_degrees:.1f} degrees"
    if note is NoteCode.RESCALED:
        return f" (to {100 / place.similarity.scale:.1f} %)"
    if note is NoteCode.BEYOND_REFERENCE:
        return f", {100 * place.covered_share:.0f} % of it"
    return f", by up to {place.bend_px:.1f} px" if note is NoteCode.BENT else ""


def _tables(one: Audit) -> Iterator[Part]:
    if one.stars:
        rows = (
            (
                f"{row.fainter_mag} to {row.fainter_mag + 1}",
                str(row.stars),
                str(row.left),
                f"{100 * row.light_share:.0f} %",
            )
            for row in one.stars
        )
        titles = "magnitudes under the brightest", "stars", "left", "light kept"
        yield Table(titles, tuple(rows), titles[1:])
    if one.shape is not None:
        shape = one.shape
        yield (
            f"  width of stars: {shape.width_px:.2f} px at half height, reference in the same tone "
            f"{shape.reference_width_px:.2f} px (ratio {shape.ratio:.2f} ± {shape.ratio_err:.2f})"
        )
    if one.noise:
        yield Table(NOISE_HEAD, tuple(map(_noise_row, one.noise)), NOISE_HEAD)
        if not all(band.judged for band in one.noise):
            yield "  * not judged: see the notes"
    shifts = (("stars", one.star_shift), ("background", one.background_shift))
    words = [f"{name} {_shift(shift)}" for name, shift in shifts if shift is not None]
    if words:
        yield f"  colour against the reference: {'; '.join(words)}"


def _noise_row(band: NoiseBand) -> tuple[str, ...]:
    star = "" if band.judged else "*"
    return (
        f"{band.scale_px} px",
        f"{band.light_percent:.2f}",
        _share(band.light_left) + star,
        f"{band.colour_percent:.2f}",
        _share(band.colour_left) + star,
    )


def _share(value: float | None) -> str:
    return "-" if value is None else f"{100 * value:.0f} %"


def _shift(shift: ColourShift) -> str:
    return f"red {shift.red_stops:+.2f}, blue {shift.blue_stops:+.2f} ± {shift.err_stops:.2f} stops"


def _file_words(facts: FileFacts) -> str:
    """One line on a file: kind, size, bits, colour space."""
    words = [f"{facts.kind}, {facts.width_px} x {facts.height_px} px"]
    if facts.bits is not None:
        words.append(f"{facts.bits} bits")
    if facts.subsampling is not None:
        words.append(f"colour {facts.subsampling}")
    if facts.profile is None:
        words.append(PROFILES[ProfileSource.RAW])
    else:
        words.append(f"{facts.profile} ({PROFILES[facts.profile_from]})")
    return f"{PurePath(facts.file).name}: {', '.join(words)}"


def pair_lines(pair: ExportPair) -> Iterator[str]:
    """Yield what two exports differ in."""
    one, other = PurePath(pair.one).name, PurePath(pair.other).name
    yield f"{one} and {other}:"
    for difference in pair.differences:
        yield f"  - {worded(DIFFERENCES[difference.code], difference.values)}"


def finish_data(found: Finish) -> dict[str, Any]:
    """Return the same as plain data: codes, numbers, units in the names."""
    return {
        "reference": {
            **_facts_data(found.reference),
            "stars": found.reference_stars,
            "notes": [note.value for note in found.reference_notes],
        },
        "pictures": [_audit_data(one) for one in found.audits],
        "pairs": [
            {
                "one": pair.one,
                "other": pair.other,
                "differences": [{"code": d.code.value, **dict(d.values)} for d in pair.differences],
            }
            for pair in found.pairs
        ],
    }


def _audit_data(one: Audit) -> dict[str, Any]:
    return {
        **_facts_data(one.facts),
        "notes": [note.value for note in one.notes],
        "reason": None if one.reason is None else one.reason.value,
        "placement": _placement_data(one),
        "findings": [
            {"code": f.code.value, "x_px": f.x_px, "y_px": f.y_px, **dict(f.values)}
            for f in one.findings
        ],
        "stars": [dict(vars(row)) for row in one.stars],
        "star_shape": None if one.shape is None else dict(vars(one.shape)),
        "noise": [dict(vars(band)) for band in one.noise],
        "star_shift": None if one.star_shift is None else dict(vars(one.star_shift)),
        "background_shift": (
            None if one.background_shift is None else dict(vars(one.background_shift))
        ),
        "saturation": one.saturation,
        "saturation_err": one.saturation_err,
        "clipped_percent": one.clipped_percent,
        "reference_clipped_percent": one.reference_clipped_percent,
        "block_edges": None if one.blocks is None else dict(vars(one.blocks)),
        "slopes": None if one.tones is None else [tone.slope for tone in one.tones],
    }


def _facts_data(facts: FileFacts) -> dict[str, Any]:
    return {**vars(facts), "profile_from": facts.profile_from.value}


def _placement_data(one: Audit) -> dict[str, Any] | None:
    place = one.placement
    if place is None:
        return None
    return {
        "scale": 1 / place.similarity.scale,
        "angle_degrees": place.similarity.angle_degrees,
        "mirrored": place.similarity.mirrored,
        "bend_px": place.bend_px,
        "matches": place.matches,
        "scatter_px": place.scatter_px,
        "err_px": place.err_px,
        "covered_share": place.covered_share,
    }


def worst_title(code: FindingCode) -> str:
    """Return the title of a finding's picture."""
    return TITLES[code]


TITLES: dict[FindingCode, str] = {
    FindingCode.STARS_LOST: "The brightest lost star",
    FindingCode.GRAIN_SMOOTHED: "Noise smoothed most",
    FindingCode.GRAIN_RAISED: "Noise raised most",
    FindingCode.COLOUR_SMOOTHED: "Noise in colour smoothed most",
    FindingCode.BLOTCHES: "Largest colour blotches",
    FindingCode.LIGHT_PATCHES: "Largest patches of light",
    FindingCode.STARS_SHARPENED: "A narrowed star",
    FindingCode.STARS_SOFTENED: "A widened star",
    FindingCode.DARK_RINGS: "A star with a dark ring",
    FindingCode.STAR_COLOUR: "A star that changed colour",
    FindingCode.SATURATION: "Stars and how much colour they keep",
    FindingCode.BACKGROUND_COLOUR: "The background's colour",
    FindingCode.SHADOWS_CLIPPED: "Most shadows clipped",
    FindingCode.JPEG_BLOCKS: "Plainest edges of JPEG's squares",
    FindingCode.WRONG_PROFILE: "Colours as the file's profile says",
}


def next_step(found: Finish, drawn: bool) -> str:
    """Return the one next step after the lines."""
    if any(one.findings for one in found.audits):
        if not drawn:
            return "Next: add --out FOLDER and look at the worst place of each finding."
        return "Next: look at the sheets, then develop again with less and run this once more."
    if all(one.reason is not None for one in found.audits):
        return "Next: name the frame that these pictures were developed from as the first file."
    return "Next: nothing to do; these pictures keep what the frame recorded."
