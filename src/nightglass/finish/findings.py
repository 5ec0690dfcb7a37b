"""What counts as done to a picture: measures past their error and past what an eye could mind."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass

from nightglass.finish.codes import FindingCode, NoteCode
from nightglass.finish.records import Audit, NoiseBand

SURE = 3.0
"""Errors that a measure must stand away from nothing."""
LOST_SHARE, LOST_LEAST, BIN_LEAST = 0.1, 3, 5
SMOOTHED, RAISED, RAISED_RAW = 0.8, 1.25, 1.5
SMOOTHED_RAW_COLOUR = 0.6
"""Of a raw reference: a camera's colour matrix raises or lowers colour noise by its own factor."""
BLOTCHY = 2.0
SEEN_PERCENT = 0.3
"""Of the sky's light: just under the least contrast that an average eye sees, 0.32 to 0.37 % above
100 cd/m^2 (half a step of the display function of DICOM PS3.14, chapter 7)."""
SHARPER, SHARPER_RAW = 0.95, 0.8
SOFTER, SOFTER_RAW = 1.05, 1.25
RING, RING_RAW = 0.02, 0.05
SHIFT_STOPS = 0.05
SATURATION = 0.1
SATURATION_RAW = 0.6
CLIPPED_PERCENT = 0.1
BLOCKY = 1.1
MISFIT_STOPS, MISFIT_LESS = 0.005, 0.3
GRAIN_TO_PX = 4
UNEVEN = 1.5
"""Light of 8 px and coarser over the reference's: smooth patches of one number do so."""

Values = Mapping[str, float | int | str]


@dataclass(frozen=True)
class ProfileFit:
    """How well the colours fit in their own space and in the best other one [stops]."""

    misfit_stops: float
    other_stops: float
    space: str


def findings_of(audit: Audit, raw: bool, fit: ProfileFit | None) -> dict[FindingCode, Values]:
    """Return what was found, with its numbers, worst first by the order of FindingCode."""
    found: dict[FindingCode, Values] = {}
    rules: tuple[Callable[[Audit, bool], dict[FindingCode, Values]], ...] = (
        _stars, _smoothed, _blotches, _patches, _shape, _colours, _shadows, _blocks,
    )  # fmt: skip
    for rule in rules:
        found.update(rule(audit, raw))
    if fit is not None and _misfits(fit):
        found[FindingCode.WRONG_PROFILE] = {
            "space": fit.space, "misfit_stops": fit.misfit_stops, "other_stops": fit.other_stops,
        }  # fmt: skip
    return found


def _misfits(fit: ProfileFit) -> bool:
    return fit.misfit_stops > MISFIT_STOPS and fit.other_stops < MISFIT_LESS * fit.misfit_stops


def _stars(audit: Audit, raw: bool) -> dict[FindingCode, Values]:
    bad = [
        b for b in audit.stars
        if b.stars >= BIN_LEAST and b.stars - b.left >= max(LOST_LEAST, LOST_SHARE * b.stars)
    ]  # fmt: skip
    if not bad:
        return {}
    stars = sum(b.stars for b in audit.stars)
    values = {
        "from_mag": min(b.fainter_mag for b in bad),
        "stars": stars,
        "lost": stars - sum(b.left for b in audit.stars),
    }
    return {FindingCode.STARS_LOST: values}


def _smoothed(audit: Audit, raw: bool) -> dict[FindingCode, Values]:
    found: dict[FindingCode, Values] = {}
    light = [b for b in audit.noise if b.judged and b.scale_px <= 16 and b.light_left is not None]
    _add_least(found, FindingCode.GRAIN_SMOOTHED, light, lambda b: b.light_left, SMOOTHED)
    limit_up = RAISED_RAW if raw else RAISED
    raised = [
        b for b in light
        if b.scale_px <= GRAIN_TO_PX and (b.light_left or 0) * (1 - SURE * b.err) > limit_up
    ]  # fmt: skip
    if raised:
        worst = max(raised, key=lambda b: b.light_left or 0)
        values = {"left": worst.light_left or 0.0, "scale_px": worst.scale_px}
        found[FindingCode.GRAIN_RAISED] = values
    limit = SMOOTHED_RAW_COLOUR if raw else SMOOTHED
    colour = [b for b in audit.noise if b.judged and b.scale_px <= 16 and b.colour_left is not None]
    _add_least(found, FindingCode.COLOUR_SMOOTHED, colour, lambda b: b.colour_left, limit)
    return found


def _add_least(
    found: dict[FindingCode, Values],
    code: FindingCode,
    bands: list[NoiseBand],
    left: Callable[[NoiseBand], float | None],
    limit: float,
) -> None:
    known = [(share, b) for b in bands if (share := left(b)) is not None]
    low = [(share, b) for share, b in known if share + SURE * b.err * share < limit]
    if low:
        share, band = min(low, key=lambda pair: pair[0])
        found[code] = {"left": share, "scale_px": band.scale_px}


def _blotches(audit: Audit, raw: bool) -> dict[FindingCode, Values]:
    bad = [
        b for b in audit.noise
        if b.blotches is not None
        and b.blotches * (1 - SURE * b.err) > BLOTCHY
        and b.colour_percent > SEEN_PERCENT
    ]  # fmt: skip
    if not bad:
        return {}
    worst = max(bad, key=lambda b: b.colour_percent * b.scale_px)
    values = {
        "scale_px": worst.scale_px, "percent": worst.colour_percent, "times": worst.blotches or 0.0,
    }  # fmt: skip
    return {FindingCode.BLOTCHES: values}


def _patches(audit: Audit, raw: bool) -> dict[FindingCode, Values]:
    bad = [
        b for b in audit.noise
        if b.scale_px > GRAIN_TO_PX and b.judged
        and (b.light_left or 0.0) * (1 - SURE * b.err) > UNEVEN
        and b.light_percent > SEEN_PERCENT
    ]  # fmt: skip
    if not bad:
        return {}
    worst = max(bad, key=lambda b: b.light_percent * b.scale_px)
    values = {
        "scale_px": worst.scale_px, "percent": worst.light_percent, "times": worst.light_left or 0.0
    }  # fmt: skip
    return {FindingCode.LIGHT_PATCHES: values}


def _shape(audit: Audit, raw: bool) -> dict[FindingCode, Values]:
    shape = audit.shape
    if shape is None:
        return {}
    # A smaller picture blurs its stars as its maker chose; a raw frame's own colours are blurred.
    raw = raw or NoteCode.RESCALED in audit.notes
    found: dict[FindingCode, Values] = {}
    values = {
        "ratio": shape.ratio, "width_px": shape.width_px,
        "reference_width_px": shape.reference_width_px,
    }  # fmt: skip
    if shape.ratio + SURE * shape.ratio_err < (SHARPER_RAW if raw else SHARPER):
        found[FindingCode.STARS_SHARPENED] = values
    if shape.ratio - SURE * shape.ratio_err > (SOFTER_RAW if raw else SOFTER):
        found[FindingCode.STARS_SOFTENED] = values
    if shape.ring - SURE * shape.ring_err > (RING_RAW if raw else RING):
        found[FindingCode.DARK_RINGS] = {"depth": shape.ring}
    return found


def _colours(audit: Audit, raw: bool) -> dict[FindingCode, Values]:
    found: dict[FindingCode, Values] = {}
    shifts = (
        (FindingCode.STAR_COLOUR, audit.star_shift),
        (FindingCode.BACKGROUND_COLOUR, audit.background_shift),
    )
    for code, shift in shifts:
        # White balance and matrix of a raw frame are chosen when it is developed.
        if raw or shift is None:
            continue
        if shift.largest_stops > SHIFT_STOPS + SURE * shift.err_stops:
            found[code] = {"red_stops": shift.red_stops, "blue_stops": shift.blue_stops}
    if audit.saturation is not None and audit.saturation_err is not None:
        # A camera's colour matrix raises saturation; only a loss tells of the finishing.
        away = 1 - audit.saturation if raw else abs(audit.saturation - 1)
        if away > (SATURATION_RAW if raw else SATURATION) + SURE * audit.saturation_err:
            found[FindingCode.SATURATION] = {"left": audit.saturation}
    return found


def _shadows(audit: Audit, raw: bool) -> dict[FindingCode, Values]:
    clipped = audit.clipped_percent
    if clipped is None or clipped - (audit.reference_clipped_percent or 0.0) < CLIPPED_PERCENT:
        return {}
    return {FindingCode.SHADOWS_CLIPPED: {"percent": clipped}}


def _blocks(audit: Audit, raw: bool) -> dict[FindingCode, Values]:
    blocks = audit.blocks
    if blocks is None:
        return {}
    # The most marked of 64 beginnings of chance stands out by up to 3 errors.
    least = max(BLOCKY, blocks.reference_ratio * BLOCKY, 1 + 2 * SURE * blocks.err)
    return {FindingCode.JPEG_BLOCKS: {"ratio": blocks.ratio}} if blocks.ratio > least else {}
