"""How much of a star's peak the viewed picture keeps: spot, trail and eye drawn together.

All three are products of spectra: the rebuilt spot's (the pixel's own blur is in it), an even
line's sinc and the eye's Gaussian. The Gaussian ends the spectrum, so that a few samples per
standard deviation of the eye hold the whole picture. Peaks between samples are exact for Gaussian
stars; for comets, rings and halos half of them are within 0.1 % and all within 2.5 %
(design/viewed_peaks.py; tests/verdict/view).
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass
from typing import TypeVar

import numpy as np
from scipy.fft import next_fast_len

from nightglass.bench.records import ZoneResult
from nightglass.optics.arrays import Floats
from nightglass.optics.compiled import compiled_waves
from nightglass.verdict.blur import inside_aperture, spot_image
from nightglass.verdict.view.drawn import Waves, log_peaks, tops_and_squares, waves_in_view

Key = TypeVar("Key")
Made = TypeVar("Made")

STEP_SIGMAS, LEAST_STEP_PX = 0.8, 0.9
"""Step of the viewed picture: in standard deviations of the eye (beyond the frequencies left lies
0.05 % of its light), and where the eye is sharper than the stamp, nearly the stamp's own."""
SPOT_SHARE, ROOM_SIGMAS = 0.66, 4.0
"""The period of the drawn picture: this share of the stamp, which is three lengths wide, the
longest trail, and dark in standard deviations of the eye. What lies further out is folded onto the
other side. It moves peak and area by less than 0.1 % (design/viewed_peaks.py)."""
LENGTHS, ANGLES = 4, 8
"""Trails drawn per spot; those of the frame's places lie between them, at most 1 % off (6 angles:
4 %; tests/verdict/view)."""


@dataclass(frozen=True)
class Kept:
    """What the view keeps of a spot under several trails: arrays of the trails' shape."""

    log_peak: Floats
    """ln of peak_kept."""
    log_area: Floats
    """ln of the noise area [px^2] of the viewed star: (sum)^2 / sum of squares."""


_FOUND: dict[tuple[int, float, bytes, bytes], tuple[ZoneResult, Kept]] = {}
MOST_FOUND = 20_000
"""Zones under an eye and its trails that are held: some 2 kB each."""
_SPOTS: dict[int, tuple[ZoneResult, Floats]] = {}
MOST_SPOTS = 2_000
"""Zones whose spots are held, cut to their apertures: some 10 kB each."""


def peak_kept(spot: Floats, sigma_px: float, trail_px: float = 0, angle_degrees: float = 0) -> Kept:
    """Return what the view keeps of one spot under one trail; arrays of shape (1,).

    spot: (rows, columns), 1 px steps, the light in it counted as the star's whole light.
    sigma_px: of the eye. Raises ValueError for a spot without light, a trail under 0 or an eye
    that is not above 0.
    """
    trails, angles = np.array([float(trail_px)]), np.array([float(angle_degrees)])
    _check(spot, sigma_px, trails)
    return _drawn(spot, sigma_px, float(trail_px), trails, angles)


def peaks_kept(spot: Floats, sigma_px: float, trail_px: Floats, angle_degrees: Floats) -> Kept:
    """Return what the view keeps of one spot under the trails of many places.

    trail_px, angle_degrees (against the stamp's x axis): (n,). 4 lengths by 8 angles are drawn;
    between them a polynomial over the length and a trigonometric one over twice the angle, which
    a trail and its reverse share. Errors as for peak_kept.
    """
    _check(spot, sigma_px, trail_px)
    shortest, longest = float(np.min(trail_px)), float(np.max(trail_px))
    # A length apart even where all trails are equal: the polynomial needs different nodes.
    spread = max(longest - shortest, 1e-3)
    turns = np.cos(math.pi * (np.arange(LENGTHS) + 0.5) / LENGTHS)
    nodes = shortest + spread * (1 - turns) / 2
    angles = np.arange(ANGLES) * 180.0 / ANGLES
    grid_length, grid_angle = (v.ravel() for v in np.meshgrid(nodes, angles, indexing="ij"))
    drawn = _drawn(spot, sigma_px, longest, grid_length, grid_angle)
    both = np.stack([drawn.log_peak, drawn.log_area]).reshape(2, LENGTHS, ANGLES)
    return Kept(*_between(both, nodes, trail_px, np.radians(angle_degrees)))


def zone_kept(zone: ZoneResult, sigma_px: float, trail_px: Floats, angle_degrees: Floats) -> Kept:
    """Return peaks_kept of a measured zone; at limit, of a Gaussian as long as its upper bound.

    What was asked before of the same record is found again: most of a ranking's time goes here,
    and another purpose or weight asks much of it anew.
    """
    asked = (id(zone), sigma_px, trail_px.tobytes(), angle_degrees.tobytes())
    return _once(
        _FOUND,
        MOST_FOUND,
        asked,
        zone,
        lambda: peaks_kept(_spot_inside(zone), sigma_px, trail_px, angle_degrees),
    )


def zone_at_limit(zone: ZoneResult) -> bool:
    """Return whether a zone's spot counts with its upper bound: what it keeps is then a least."""
    return zone.length_px.value is None


def peak_power(log_peak: Floats, trail_px: Floats, sigma_px: float) -> Floats:
    """Return d ln(peak_kept) / d ln(noise area of the untrailed spot), for error bars.

    Of the round Gaussian that keeps the same peak under the same trail: with v its variance,
    s^2 the eye's and L^2 / 12 the trail's, peak_kept is s^2 / sqrt((s^2 + v) (s^2 + v + L^2 / 12)).
    Exact for it but for the trail's shape, and near enough for the size of an error bar.
    """
    eye, line = sigma_px**2, trail_px**2 / 12
    # (s^2 + v) (s^2 + v + line) = s^4 / peak^2, solved for s^2 + v.
    product = eye**2 * np.exp(-2 * log_peak)
    wide = np.maximum(np.sqrt(line**2 / 4 + product) - line / 2, eye)
    variance = wide - eye
    return -(variance / wide + variance / (wide + line)) / 2


def _check(spot: Floats, sigma_px: float, trail_px: Floats) -> None:
    if not sigma_px > 0:
        raise ValueError(f"sigma_px is {sigma_px:g}; the eye's blur is above 0 px")
    if np.any(trail_px < 0):
        raise ValueError(f"trail_px is {np.min(trail_px):g}; a trail is 0 or longer")
    if not float(np.sum(spot)) > 0:
        raise ValueError("the spot holds no light: its samples sum to 0 or less")


def _spot_inside(zone: ZoneResult) -> Floats:
    length = zone.length_px.bound or 0.0
    return _once(
        _SPOTS, MOST_SPOTS, id(zone), zone, lambda: inside_aperture(spot_image(zone), length)
    )


def _once(
    held: dict[Key, tuple[ZoneResult, Made]],
    most: int,
    key: Key,
    zone: ZoneResult,
    make: Callable[[], Made],
) -> Made:
    """What was made of a zone before under a key, or is made now and held."""
    found = held.get(key)
    if found is not None and found[0] is zone:
        return found[1]
    made = make()
    while len(held) >= most:
        # The oldest goes; another thread may have taken it.
        held.pop(next(iter(held), key), None)
    # The record is kept too: as long as it lives, nothing else has its identity.
    held[key] = zone, made
    return made


def _drawn(
    spot: Floats, sigma_px: float, longest_px: float, trail_px: Floats, angle_degrees: Floats
) -> Kept:
    """Of a spot under some trails; longest_px: for which the picture has room."""
    room = SPOT_SHARE * max(spot.shape) + longest_px + ROOM_SIGMAS * sigma_px
    period = next_fast_len(math.ceil(room), real=True)
    step = max(STEP_SIGMAS * sigma_px, LEAST_STEP_PX)
    samples = 2 * next_fast_len(math.ceil(period / step / 2), real=True)
    # Beyond half a cycle per pixel the stamp says nothing.
    reach = min(samples // 2 - 1, (period - 1) // 2)
    waves: Waves = waves_in_view(spot, sigma_px, period, reach)
    tops, squares = tops_and_squares(waves, samples, trail_px, angle_degrees)
    peak = log_peaks(tops) + math.log(2 * math.pi * sigma_px**2)
    return Kept(np.minimum(peak, 0.0), -np.log(squares * (period / samples) ** 2))


@compiled_waves
def _between(drawn, nodes, trail_px, angle):  # type: ignore[no-untyped-def]
    """What lies between the drawn trails (quantities, lengths, angles), at others: (quantities, n).

    Over the lengths, the nodes, Lagrange's polynomial; over even angles [rad] through half a turn
    the trigonometric one.
    """
    quantities, lengths, angles = drawn.shape
    found, share = np.zeros((quantities, trail_px.size)), np.empty(lengths)
    turns = 2 * math.pi * np.arange(angles) / angles
    node_cosine, node_sine = np.cos(turns), np.sin(turns)
    for n in range(trail_px.size):
        for i in range(lengths):
            share[i] = 1.0 / angles
            for other in range(lengths):
                if other != i:
                    share[i] *= (trail_px[n] - nodes[other]) / (nodes[i] - nodes[other])
        cosine, sine = math.cos(2 * angle[n]), math.sin(2 * angle[n])
        for j in range(angles):
            # Of the angle between: 1 + 2 cos + 2 cos of twice it ... + cos of the last multiple.
            first = cosine * node_cosine[j] + sine * node_sine[j]
            before, now, weight = 1.0, first, 1.0
            for _ in range(angles // 2 - 1):
                weight += 2 * now
                before, now = now, 2 * first * now - before
            weight += now
            for k in range(quantities):
                for i in range(lengths):
                    found[k, n] += weight * share[i] * drawn[k, i, j]
    return found
