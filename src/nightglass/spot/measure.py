"""One frame in, one record per colour out: the door of this room."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from nightglass.frame.record import Frame, Metadata
from nightglass.optics.extent import APERTURE_LEAST_PX, MAD_TO_SIGMA, RING_OUTER, NoLightError
from nightglass.spot.dead import without_dead
from nightglass.spot.describe import (
    NUMBER,
    colours_disagree,
    record_of,
    widened,
    without_sizes,
)
from nightglass.spot.find import find_star
from nightglass.spot.noise import ASSUMED_GAIN_E_PER_COUNT
from nightglass.spot.patch import Patch, cut, without_hot_pixels
from nightglass.spot.rebuild import MARGIN
from nightglass.spot.record import Measured, Spot, SpotImage
from nightglass.spot.shape import Shape, distance, grow, measure_shape
from nightglass.spot.ties import KnownTies

FIRST_HALF_PX = 40
"""Half side of the first patch around a star; it grows where the spot is larger."""
LARGEST_APERTURE_PX = 150.0

MOST_DEAD_SHARE = 0.25
"""Of the spot's light, beyond which filling it in is guessing: no sizes."""

Place = tuple[float, float]
Aperture = tuple[float, float, float]
"""x, y and radius [px]."""


@dataclass(frozen=True)
class _View:
    """What is read around a star: the patch as it is measured, and what was found in it."""

    aperture: Aperture
    patch: Patch
    as_read: Patch
    """Without hot pixels, dead ones still in it."""
    clipped: tuple[int, ...]
    hot: int
    dead_share: float


def warm_up() -> None:
    """Measure a small made-up star: compiled loops are loaded before the first real frame."""
    y, x = np.mgrid[0:96, 0:128]
    light = 256 + 2000 * np.exp(-((x - 60.3) ** 2 + (y - 50.7) ** 2) / 8)
    pattern = np.array([[0, 1], [1, 2]], dtype=np.uint8)
    frame = Frame(
        samples=light.astype(np.uint16),
        pattern=pattern,
        black=np.full((2, 2), 256.0),
        clipping=np.full((2, 2), 4095.0),
        kind="mosaic",
        metadata=Metadata(),
        file="",
        content_hash="",
    )
    measure_frame(frame)


def measure_frame(
    frame: Frame,
    near: Place | None = None,
    fov_centre: Place | None = None,
    gain_e_per_count: float | None = None,
) -> Measured:
    """Return a Spot per colour of the frame's star and the rebuilt spots.

    near: (x, y) [px] where the bench file says that the star stands; fov_centre: the optical
    centre, else the frame's. A star that can't be found or measured gives records with None and
    flags. Raises ValueError for a near that lies outside the frame.
    """
    found = find_star(frame, near)
    if found.x_px is None or found.y_px is None:
        return Measured(tuple(_blank(frame, c, found.why) for c in frame.colours), {})
    centre = fov_centre or ((frame.width_px - 1) / 2, (frame.height_px - 1) / 2)
    gain = gain_e_per_count or ASSUMED_GAIN_E_PER_COUNT
    spots: dict[str, Spot] = {}
    images: dict[str, SpotImage] = {}
    aperture: Aperture | None = None
    known: KnownTies | None = None
    view: _View | None = None
    # Green first: it is sampled best, and its aperture is where the others begin.
    for colour in sorted(frame.colours, key=lambda c: c != "green"):
        plane = NUMBER[colour] if frame.samples.ndim == 3 else None
        try:
            aperture = aperture or _grown(frame, (found.x_px, found.y_px), NUMBER[colour], plane)
            if aperture is None:
                spots[colour] = _blank(frame, colour, "crowded")
                continue
            if view is None or plane is not None:
                view = _view(frame, plane, aperture)
            spots[colour], shape = _one_colour(frame, colour, view, centre, gain)
        except NoLightError:
            spots[colour] = _blank(frame, colour, "faint")
            continue
        images[colour] = SpotImage(shape.light.astype(np.float32), shape.left_px, shape.top_px)
        known = shape.known if colour == "green" else known
    if frame.samples.ndim == 2 and known is not None:
        spots = _with_offsets(spots, known, centre)
    return Measured(tuple(spots[c] for c in frame.colours), images)


def _blank(frame: Frame, colour: str, why: str) -> Spot:
    return Spot(frame.file, colour, clipping_from=frame.clipping_from, flags=(why,))


def _view(frame: Frame, plane: int | None, aperture: Aperture) -> _View:
    x, y, radius = aperture
    as_read = cut(frame, x, y, math.ceil(RING_OUTER * radius) + MARGIN + 3, plane)
    as_read, hot = _cleaned(as_read, aperture)
    inside = distance(as_read, x, y) <= radius
    clipped = [c for c in range(3) if np.any(as_read.clipped & inside & (as_read.colour == c))]
    mended = without_dead(as_read, inside)
    return _View(aperture, mended.patch, as_read, tuple(clipped), hot, mended.dead_share)


def _one_colour(
    frame: Frame, colour: str, view: _View, centre: Place, gain: float
) -> tuple[Spot, Shape]:
    target = NUMBER[colour]
    unused = tuple(c for c in view.clipped if c != target)
    shape = measure_shape(view.patch, view.aperture, target, centre, unused)
    disagree = colours_disagree(shape)
    if disagree:
        alone = tuple({0, 1, 2} - {target})
        shape = widened(measure_shape(view.patch, view.aperture, target, centre, alone), shape)
    if view.dead_share > 0:
        shape = widened(shape, measure_shape(view.as_read, view.aperture, target, centre, unused))
    spot = record_of(frame, colour, shape, view.patch, centre, gain)
    flags = [*spot.flags]
    flags += ["colours disagree"] if disagree else []
    flags += ["clipped"] if target in view.clipped else []
    flags += ["hot pixel inside"] if view.hot else []
    flags += ["dead pixels inside"] if view.dead_share > 0 else []
    flags += ["already demosaiced"] if frame.kind != "mosaic" else []
    spot = replace(spot, flags=tuple(flags))
    if "clipped" in flags or "touches edge" in flags or view.dead_share > MOST_DEAD_SHARE:
        spot = without_sizes(spot)
    return spot, shape


def _grown(frame: Frame, place: Place, target: int, plane: int | None) -> Aperture | None:
    """Return the aperture, from patches that grow until it fits; None beyond the largest."""
    half = FIRST_HALF_PX
    while half <= RING_OUTER * LARGEST_APERTURE_PX * 1.6:
        patch, _ = _cleaned(cut(frame, *place, half, plane), (*place, APERTURE_LEAST_PX))
        grown = grow(patch, *place, target, (half - MARGIN - 2) / RING_OUTER)
        if grown is not None:
            return grown
        half = int(half * 1.7)
    return None


def _cleaned(patch: Patch, aperture: Aperture) -> tuple[Patch, int]:
    """Return the patch with lone hot pixels replaced, and how many lay inside the aperture."""
    ground = np.nanmedian(patch.light)
    net = np.nan_to_num(patch.light - ground, nan=0.0)
    sigma = max(MAD_TO_SIGMA * float(np.nanmedian(np.abs(patch.light - ground))), 0.5)
    fixed, _ = without_hot_pixels(net, np.full(3, sigma), patch, np.ones(3))
    moved = fixed != net
    inside = distance(patch, aperture[0], aperture[1]) <= aperture[2]
    light = np.where(moved, fixed + ground, patch.light)
    return replace(patch, light=light), int(np.count_nonzero(moved & inside))


def _with_offsets(spots: dict[str, Spot], known: KnownTies, centre: Place) -> dict[str, Spot]:
    """Return the records with red's and blue's centre less green's, written to every colour.

    The offsets come from each colour's own samples: a rebuilt spot, filled from the others,
    would show them too small.
    """
    green = spots["green"]
    if green.x_px is None or green.y_px is None:
        return spots
    outward = math.atan2(green.y_px - centre[1], green.x_px - centre[0])
    found: dict[str, Any] = {}
    for colour in ("red", "blue"):
        if colour not in spots or spots[colour].x_px is None:
            continue
        dx, dy = (float(v) for v in known.seen_offset_px[NUMBER[colour]])
        name, err = f"colour_offset_{colour}", known.seen_offset_err_px
        found[f"{name}_px"] = math.hypot(dx, dy)
        found[f"{name}_px_err"] = err
        found[f"{name}_radial_px"] = dx * math.cos(outward) + dy * math.sin(outward)
        found[f"{name}_tangential_px"] = -dx * math.sin(outward) + dy * math.cos(outward)
    return {c: replace(s, **found) for c, s in spots.items()}
