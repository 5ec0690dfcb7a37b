"""From the shape of a rebuilt spot to its record: errors, limits, flags."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np

from nightglass.frame.record import Frame
from nightglass.optics.extent import ROUND_RATIO
from nightglass.spot.measures import Measures, each
from nightglass.spot.noise import noise_errors
from nightglass.spot.patch import Patch
from nightglass.spot.record import Spot
from nightglass.spot.shape import Shape, distance
from nightglass.spot.ties import mosaic_name, usual_ratios
from nightglass.spot.trust import at_most_px, bias_px, limit_px, method_err
from nightglass.spot.visible import visible

NUMBER = {"red": 0, "green": 1, "blue": 2, "grey": 1}
"""Colour numbers of the mosaic's pattern by name; a grey picture counts as green."""
LEAST_SNR, FAINT_SNR = 10.0, 30.0
ONE_BLOCK_SHARE = 0.65
"""A Gaussian of 3 px length never puts more than 0.53 of its light into 2 x 2 pixels."""
LEAST_AREA_TO_COMPARE_PX = 20.0
DISAGREE_ERRORS, DISAGREE_SHARE = 4.0, 0.1
NEAR_CENTRE = 0.02
"""Field radius under which "outward" has no direction."""
PLACE_FIELDS = frozenset(
    (
        *("file", "colour", "x_px", "y_px", "x_px_err", "y_px_err", "peak_share", "flux_counts"),
        *("snr", "background_counts", "aperture_px", "clipping_from", "flags"),
    )
)
"""What stays on record of a spot whose sizes clipping or the frame's edge made false."""


def colours_disagree(shape: Shape) -> bool:
    """Return whether the spot filled from all colours and the colour alone differ beyond error.

    Only where the colour alone is sampled well enough to tell.
    """
    if shape.alone is None or shape.values.noise_area_px < LEAST_AREA_TO_COMPARE_PX:
        return False
    for name in ("length_px", "width_px"):
        size, own = getattr(shape.values, name), getattr(shape.alone, name)
        scatter = getattr(shape.scatter, name)
        err = method_err(name, size, scatter, mosaic_name(shape.part.pattern))
        if abs(own - size) > max(DISAGREE_ERRORS * err, DISAGREE_SHARE * size):
            return True
    return False


def widened(alone: Shape, filled: Shape) -> Shape:
    """Return the shape of a colour alone, its scatter widened by half of the disagreement."""

    def wider(name: str, scatter: float, own: float, other: float) -> float:
        return scatter if name == "angle_degrees" else math.hypot(scatter, 0.5 * abs(own - other))

    return replace(alone, scatter=each(wider, alone.scatter, alone.values, filled.values))


def record_of(
    frame: Frame,
    colour: str,
    shape: Shape,
    patch: Patch,
    centre: tuple[float, float],
    gain: float,
) -> Spot:
    """Return the record of one colour's shape, without the flags of clipping and hot pixels.

    centre: optical centre (x, y) [px]. gain: electrons per count.
    """
    v = shape.values
    target = NUMBER[colour]
    corner = (v.x_px - shape.left_px, v.y_px - shape.top_px)
    sigma = (float(shape.ground.noise[target]), float(shape.ground.level_err[target]))
    noise = noise_errors(shape.light, corner, v, sigma, gain)
    raw_length, mosaic = v.length_px, mosaic_name(shape.part.pattern)

    def both(name: str, noise: float, scatter: float) -> float:
        return math.hypot(noise, method_err(name, raw_length, scatter, mosaic))

    err = each(both, noise, shape.scatter)
    snr = v.flux / noise.flux if noise.flux > 0 else 0.0
    share = _peak_share(frame, patch, target, v)
    flags = _flags(frame, shape, v, snr)
    spot = Spot(
        frame.file,
        colour,
        clipping_from=frame.clipping_from,
        x_px=v.x_px,
        y_px=v.y_px,
        x_px_err=err.x_px,
        y_px_err=err.y_px,
        flux_counts=v.flux,
        snr=snr,
        peak_share=share,
        background_counts=shape.ground.planes[target][0],
        aperture_px=v.aperture_px,
        flags=flags,
    )
    if snr < LEAST_SNR:
        return spot
    spot = _with_lean(spot, v, err, centre, (frame.width_px, frame.height_px))
    return _with_sizes(frame, spot, shape, (err, noise), centre)


def _with_sizes(
    frame: Frame,
    spot: Spot,
    shape: Shape,
    errors: tuple[Measures, Measures],
    centre: tuple[float, float],
) -> Spot:
    v, (err, noise) = shape.values, errors
    mosaic = mosaic_name(shape.part.pattern)
    length = v.length_px - bias_px(v.length_px, mosaic)
    width = v.width_px - bias_px(v.length_px, mosaic)
    spot = replace(
        spot,
        ee50_px=v.ee50_px,
        ee50_px_err=err.ee50_px,
        ee80_px=v.ee80_px,
        ee80_px_err=err.ee80_px,
        noise_area_px=v.noise_area_px,
        noise_area_px_err=err.noise_area_px,
    )
    spot = _with_visible(spot, shape, v)
    one_block = _in_one_block(shape, v)
    if one_block or length < limit_px(mosaic, spot.colour):
        return replace(
            spot,
            length_at_most_px=at_most_px(length, err.length_px, one_block),
            width_at_most_px=at_most_px(width, err.width_px, one_block),
            flags=(*spot.flags, "at limit"),
        )
    spot = replace(
        spot,
        length_px=length,
        length_px_err=err.length_px,
        length_px_err_noise=noise.length_px,
        width_px=width,
        width_px_err=err.width_px,
        width_px_err_noise=noise.width_px,
    )
    ratio = length / width
    ratio_err = ratio * math.hypot(err.length_px / length, err.width_px / width)
    if ratio < ROUND_RATIO or ratio - 1 < 2 * ratio_err:
        return replace(spot, flags=(*spot.flags, "round"))
    outward = math.degrees(math.atan2(v.y_px - centre[1], v.x_px - centre[0]))
    apart = abs((v.angle_degrees - outward + 90) % 180 - 90)
    return replace(
        spot,
        angle_degrees=v.angle_degrees,
        angle_degrees_err=err.angle_degrees,
        radial_angle_degrees=apart,
    )


def _with_visible(spot: Spot, shape: Shape, v: Measures) -> Spot:
    noise = float(shape.ground.noise[NUMBER[spot.colour]])
    middle = (v.x_px - shape.left_px, v.y_px - shape.top_px)
    seen = visible(shape.light, middle, v.aperture_px, v.angle_degrees, noise)
    flags = spot.flags
    if seen.skirt_length_px is None and "faint" not in flags:
        flags = (*flags, "faint")
    return replace(
        spot,
        flags=flags,
        core_length_px=seen.core_length_px,
        core_width_px=seen.core_width_px,
        core_parts=seen.core_parts,
        skirt_length_px=seen.skirt_length_px,
        skirt_width_px=seen.skirt_width_px,
        skirt_floor_px=seen.skirt_floor_px,
    )


def _with_lean(
    spot: Spot,
    v: Measures,
    err: Measures,
    centre: tuple[float, float],
    size: tuple[int, int],
) -> Spot:
    radius = math.hypot(v.x_px - centre[0], v.y_px - centre[1])
    if radius < NEAR_CENTRE * math.hypot(*size) / 2:
        return spot
    return replace(spot, lean=v.lean, lean_err=err.lean)


def _in_one_block(shape: Shape, v: Measures) -> bool:
    """Return whether the light lies in one block of 2 x 2 pixels, colours scaled as usual.

    The usual ratios, not the fitted ones: a point's own ratios can't be told from where it falls.
    """
    inside = distance(shape.part, v.x_px, v.y_px) <= v.aperture_px
    light = np.where(inside, shape.net / usual_ratios(1)[shape.part.colour], 0.0)
    block = light[:-1, :-1] + light[1:, :-1] + light[:-1, 1:] + light[1:, 1:]
    return float(block.max()) > ONE_BLOCK_SHARE * float(light.sum())


def _peak_share(frame: Frame, patch: Patch, target: int, v: Measures) -> float | None:
    inside = distance(patch, v.x_px, v.y_px) <= v.aperture_px
    use = inside & (patch.colour == target) & np.isfinite(patch.light)
    span = (frame.clipping - frame.black).ravel()
    if not np.isfinite(span).all():
        return None
    if frame.samples.ndim == 3:
        return float(np.max(patch.light[use]) / span[target])
    return float(np.max(patch.light[use] / span[patch.places[use]]))


def _flags(frame: Frame, shape: Shape, v: Measures, snr: float) -> tuple[str, ...]:
    flags = []
    if snr < FAINT_SNR:
        flags.append("faint")
    reach = v.aperture_px
    if not (
        reach <= v.x_px <= frame.width_px - 1 - reach
        and reach <= v.y_px <= frame.height_px - 1 - reach
    ):
        flags.append("touches edge")
    if shape.ground.crowded:
        flags.append("crowded")
    return tuple(flags)


def without_sizes(spot: Spot) -> Spot:
    """Return the record without the sizes that clipping or the frame's edge made false."""
    return Spot(**{name: getattr(spot, name) for name in PLACE_FIELDS})
