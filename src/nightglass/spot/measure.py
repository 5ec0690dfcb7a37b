"""One frame in, one record per colour out: the door of this room."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np

from nightglass.frame.record import Frame
from nightglass.optics.extent import APERTURE_LEAST_PX, RING_OUTER
from nightglass.spot.find import find_star
from nightglass.spot.noise import ASSUMED_GAIN_E_PER_COUNT, noise_errors
from nightglass.spot.patch import Patch, cut, without_hot_pixels
from nightglass.spot.rebuild import MARGIN
from nightglass.spot.record import Measured, Spot, SpotImage
from nightglass.spot.shape import Shape, distance, grow, measure_shape
from nightglass.spot.ties import mosaic_name
from nightglass.spot.trust import (
    AT_MOST_FACTOR,
    LARGEST_BOUND_PX,
    bias_px,
    limit_px,
    method_err,
)
from nightglass.spot.visible import visible

NUMBER = {"red": 0, "green": 1, "blue": 2, "grey": 1}
FIRST_HALF_PX = 40
LARGEST_APERTURE_PX = 150.0
LEAST_SNR, FAINT_SNR = 10.0, 30.0
ROUND_RATIO = 1.15
NEAR_CENTRE = 0.02
"""Field radius under which "outward" has no direction."""


def measure_frame(
    frame: Frame,
    near: tuple[float, float] | None = None,
    fov_centre: tuple[float, float] | None = None,
    gain_e_per_count: float | None = None,
) -> Measured:
    """Return a Spot per colour of the frame's star and the rebuilt spots.

    near: (x, y) [px] where the bench file says that the star stands; fov_centre: the optical
    centre, else the frame's. A star that can't be found or measured gives records with None and
    flags. Raises ValueError for a near that lies outside the frame.
    """
    found = find_star(frame, near)
    if found.x_px is None or found.y_px is None:
        blank = Spot(frame.file, "", clipping_from=frame.clipping_from, flags=(found.why,))
        return Measured(tuple(replace(blank, colour=c) for c in frame.colours), {})
    centre = fov_centre or ((frame.width_px - 1) / 2, (frame.height_px - 1) / 2)
    gain = gain_e_per_count or ASSUMED_GAIN_E_PER_COUNT
    spots: dict[str, Spot] = {}
    images: dict[str, SpotImage] = {}
    order = sorted(frame.colours, key=lambda c: c != "green")
    start: tuple[float, float, float] | None = None
    for colour in order:
        spot, image, start_here = _one_colour(
            frame, colour, (found.x_px, found.y_px), start, centre, gain
        )
        start = start or start_here
        spots[colour] = spot
        if image is not None:
            images[colour] = image
    with_offsets = _offsets(spots, centre)
    return Measured(tuple(with_offsets[c] for c in frame.colours), images)


def _one_colour(
    frame: Frame,
    colour: str,
    place: tuple[float, float],
    start: tuple[float, float, float] | None,
    centre: tuple[float, float],
    gain: float,
) -> tuple[Spot, SpotImage | None, tuple[float, float, float] | None]:
    target = NUMBER[colour]
    plane = target if frame.samples.ndim == 3 else None
    blank = Spot(frame.file, colour, clipping_from=frame.clipping_from)
    try:
        grown = start or _grown(frame, place, target, plane)
        if grown is None:
            return replace(blank, flags=("crowded",)), None, None
        patch = cut(frame, grown[0], grown[1], math.ceil(RING_OUTER * grown[2]) + MARGIN + 3, plane)
        patch, hot = _cleaned(patch, grown)
        inside = distance(patch, grown[0], grown[1]) <= grown[2]
        clipped = tuple(c for c in range(3) if np.any(patch.clipped & inside & (patch.colour == c)))
        shape = measure_shape(
            patch, grown, target, centre, tuple(c for c in clipped if c != target)
        )
    except ValueError as problem:
        if "no light" not in str(problem):
            raise
        return replace(blank, flags=("faint",)), None, None
    spot = _record(frame, blank, shape, patch, centre, gain)
    flags = list(spot.flags)
    flags += ["clipped"] if target in clipped else []
    flags += ["hot pixel inside"] if hot else []
    flags += ["already demosaiced"] if frame.kind != "mosaic" else []
    spot = replace(spot, flags=tuple(flags))
    if "clipped" in flags or "touches edge" in flags:
        spot = _sizes_withdrawn(spot)
    image = SpotImage(shape.light.astype(np.float32), shape.left_px, shape.top_px)
    return spot, image, grown


def _grown(
    frame: Frame, place: tuple[float, float], target: int, plane: int | None
) -> tuple[float, float, float] | None:
    half = FIRST_HALF_PX
    while half <= RING_OUTER * LARGEST_APERTURE_PX * 1.6:
        patch = cut(frame, place[0], place[1], half, plane)
        patch, _ = _cleaned(patch, (place[0], place[1], APERTURE_LEAST_PX))
        grown = grow(patch, place[0], place[1], target, (half - MARGIN - 2) / RING_OUTER)
        if grown is not None:
            return grown
        half = int(half * 1.7)
    return None


def _cleaned(patch: Patch, grown: tuple[float, float, float]) -> tuple[Patch, int]:
    ground = np.nanmedian(patch.light)
    net = np.nan_to_num(patch.light - ground, nan=0.0)
    sigma = 1.482602 * float(np.nanmedian(np.abs(patch.light - ground)))
    fixed, _ = without_hot_pixels(net, np.full(3, max(sigma, 0.5)), patch, np.ones(3))
    moved = fixed != net
    inside = distance(patch, grown[0], grown[1]) <= grown[2]
    light = np.where(moved, fixed + ground, patch.light)
    return replace(patch, light=light), int(np.count_nonzero(moved & inside))


def _record(
    frame: Frame,
    blank: Spot,
    shape: Shape,
    patch: Patch,
    centre: tuple[float, float],
    gain: float,
) -> Spot:
    v = shape.values
    target = NUMBER[blank.colour]
    rows, columns = np.indices(shape.light.shape)
    place = (columns + shape.left_px - v["x_px"], rows + shape.top_px - v["y_px"])
    sigma = (float(shape.ground.noise[target]), float(shape.ground.level_err[target]))
    noise = noise_errors(shape.light, place, v, sigma, gain)
    raw_length = v["length_px"]
    err = {
        name: math.hypot(noise[name], method_err(name, raw_length, shape.scatter[name]))
        for name in noise
    }
    # The sum over whole pixels, not the extent's fine sum, is what the noise refers to.
    snr = v["flux"] / noise["flux"] if noise["flux"] > 0 else 0.0
    share = _peak_share(frame, patch, target, v)
    flags = _flags(frame, shape, v, snr)
    spot = replace(
        blank,
        x_px=v["x_px"],
        y_px=v["y_px"],
        x_px_err=err["x_px"],
        y_px_err=err["y_px"],
        flux_counts=v["flux"],
        snr=snr,
        peak_share=share,
        background_counts=shape.ground.planes[target][0],
        aperture_px=v["aperture_px"],
        flags=flags,
    )
    if snr < LEAST_SNR:
        return spot
    return _with_sizes(frame, spot, shape, v, err, noise, centre)


def _with_sizes(
    frame: Frame,
    spot: Spot,
    shape: Shape,
    v: dict[str, float],
    err: dict[str, float],
    noise: dict[str, float],
    centre: tuple[float, float],
) -> Spot:
    length = v["length_px"] - bias_px(v["length_px"])
    width = v["width_px"] - bias_px(v["length_px"])
    spot = replace(
        spot,
        ee50_px=v["ee50_px"],
        ee50_px_err=err["ee50_px"],
        ee80_px=v["ee80_px"],
        ee80_px_err=err["ee80_px"],
        noise_area_px=v["noise_area_px"],
        noise_area_px_err=err["noise_area_px"],
    )
    spot = _with_visible(spot, shape, v)
    spot = _with_lean(spot, v, err, centre, (frame.width_px, frame.height_px))
    mosaic = mosaic_name(shape_pattern(frame))
    if length < limit_px(mosaic, spot.colour) or _in_one_block(shape, v):
        return replace(
            spot,
            length_at_most_px=_bound(length, err["length_px"]),
            width_at_most_px=_bound(width, err["width_px"]),
            flags=(*spot.flags, "at limit"),
        )
    spot = replace(
        spot,
        length_px=length,
        length_px_err=err["length_px"],
        length_px_err_noise=noise["length_px"],
        width_px=width,
        width_px_err=err["width_px"],
        width_px_err_noise=noise["width_px"],
    )
    ratio = length / width
    ratio_err = ratio * math.hypot(err["length_px"] / length, err["width_px"] / width)
    if ratio < ROUND_RATIO or ratio - 1 < 2 * ratio_err:
        return replace(spot, flags=(*spot.flags, "round"))
    outward = math.degrees(math.atan2(v["y_px"] - centre[1], v["x_px"] - centre[0]))
    apart = abs((v["angle_degrees"] - outward + 90) % 180 - 90)
    return replace(
        spot,
        angle_degrees=v["angle_degrees"],
        angle_degrees_err=err["angle_degrees"],
        radial_angle_degrees=apart,
    )


def shape_pattern(frame: Frame) -> np.ndarray:
    """Return the pattern that tells how the frame samples a colour; one place for full planes."""
    return frame.pattern if frame.samples.ndim == 2 else np.ones((1, 1), dtype=np.uint8)


def _with_visible(spot: Spot, shape: Shape, v: dict[str, float]) -> Spot:
    noise = float(shape.ground.noise[NUMBER[spot.colour]])
    middle = (v["x_px"] - shape.left_px, v["y_px"] - shape.top_px)
    seen = visible(shape.light, middle, v["aperture_px"], v["angle_degrees"], noise)
    flags = spot.flags
    if seen.skirt_length_px is None and "faint" not in flags:
        flags = (*flags, "faint")
    return replace(spot, flags=flags, **seen.__dict__)


def _with_lean(
    spot: Spot,
    v: dict[str, float],
    err: dict[str, float],
    centre: tuple[float, float],
    size: tuple[int, int],
) -> Spot:
    radius = math.hypot(v["x_px"] - centre[0], v["y_px"] - centre[1])
    if radius < NEAR_CENTRE * math.hypot(*size) / 2:
        return spot
    return replace(spot, lean=v["lean"], lean_err=err["lean"])


def _bound(value: float, err: float) -> float:
    return min(max(value, 1.0) + AT_MOST_FACTOR * 1.645 * err, LARGEST_BOUND_PX)


def _in_one_block(shape: Shape, v: dict[str, float]) -> bool:
    """Return whether the whole light lies in one block of 2 x 2 pixels."""
    light = shape.light
    block = light[:-1, :-1] + light[1:, :-1] + light[:-1, 1:] + light[1:, 1:]
    return float(block.max()) > 0.95 * v["flux"]


def _peak_share(frame: Frame, patch: Patch, target: int, v: dict[str, float]) -> float:
    inside = distance(patch, v["x_px"], v["y_px"]) <= v["aperture_px"]
    use = inside & (patch.colour == target) & np.isfinite(patch.light)
    span = (frame.clipping - frame.black).ravel()
    if frame.samples.ndim == 3:
        return float(np.max(patch.light[use]) / span[target])
    return float(np.max(patch.light[use] / span[patch.places[use]]))


def _flags(frame: Frame, shape: Shape, v: dict[str, float], snr: float) -> tuple[str, ...]:
    flags = []
    if snr < FAINT_SNR:
        flags.append("faint")
    reach = v["aperture_px"]
    if not (
        reach <= v["x_px"] <= frame.width_px - 1 - reach
        and reach <= v["y_px"] <= frame.height_px - 1 - reach
    ):
        flags.append("touches edge")
    if shape.ground.crowded:
        flags.append("crowded")
    return tuple(flags)


def _sizes_withdrawn(spot: Spot) -> Spot:
    """Return the record without the sizes that clipping or the frame's edge made false."""
    keep = {"file", "colour", "x_px", "y_px", "x_px_err", "y_px_err", "peak_share", "flux_counts"}
    keep |= {"snr", "background_counts", "aperture_px", "clipping_from", "flags"}
    return Spot(**{name: value for name, value in spot.__dict__.items() if name in keep})


def _offsets(spots: dict[str, Spot], centre: tuple[float, float]) -> dict[str, Spot]:
    """Return the records with red's and blue's centre less green's, written to every colour."""
    green = spots.get("green")
    found: dict[str, float | None] = {}
    for colour in ("red", "blue"):
        other = spots.get(colour)
        if other is None or green is None or other.x_px is None or green.x_px is None:
            continue
        assert_place = (other.y_px, green.y_px, other.x_px_err, green.x_px_err)
        if None in assert_place:
            continue
        dx, dy = other.x_px - green.x_px, other.y_px - green.y_px  # type: ignore[operator]
        outward = math.atan2(green.y_px - centre[1], green.x_px - centre[0])  # type: ignore[operator]
        name = f"colour_offset_{colour}"
        found[f"{name}_px"] = math.hypot(dx, dy)
        found[f"{name}_px_err"] = math.hypot(other.x_px_err, green.x_px_err)  # type: ignore[arg-type]
        found[f"{name}_radial_px"] = dx * math.cos(outward) + dy * math.sin(outward)
        found[f"{name}_tangential_px"] = -dx * math.sin(outward) + dy * math.cos(outward)
    return {c: replace(s, **found) for c, s in spots.items()}
