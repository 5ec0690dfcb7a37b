"""From the wavefront in a lens's pupil to the spot of light of a distant point.

Pupil places (x, y) are in pupil radii, +x right and +y down like the raw frame; wavefront errors
are optical paths in micrometres. A ray through a place of the pupil lands 2 N dW/dx to the right
of the ideal image (N the f-number), so a positive tilt moves the light toward +x.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

import numpy as np
import scipy.fft
import scipy.special
from numpy.typing import NDArray

from nightglass.optics.arrays import Floats, Floats32

STEEPEST_COHERENT_WAVES = 200.0
"""Slope [waves per pupil radius] up to which a spot is worked out as interfering light; a disc of
45 px of 7.9 um at f/1.4 has 115. Beyond it the ripple is far finer than any pixel and rays are
counted instead, softened by the perfect lens's transfer function."""
RAYS_ACROSS = 1200
"""Rays across the pupil in the geometric case."""


@dataclass(frozen=True)
class Pupil:
    """The light that leaves a lens toward one point of the frame.

    zernikes_um: rms optical path error [um] by Noll number (1976, J. Opt. Soc. Am. 66, 207).
    cut_shift: centre of a second disc [pupil radii]; light passes where both discs overlap, the
        cat's eye of a vignetted lens.
    cut_radius: radius of that disc [pupil radii].
    """

    f_number: float
    zernikes_um: Mapping[int, float] = field(default_factory=dict)
    cut_shift: tuple[float, float] = (0.0, 0.0)
    cut_radius: float = 1.0

    def __post_init__(self) -> None:
        if not self.f_number > 0:
            raise ValueError(f"f_number is {self.f_number}; it must be above 0")
        if math.hypot(*self.cut_shift) >= 1 + self.cut_radius:
            raise ValueError(
                f"cut_shift {self.cut_shift} leaves no opening; keep its length under "
                f"1 + cut_radius = {1 + self.cut_radius:g}"
            )


def noll_indices(j: int) -> tuple[int, int]:
    """Return (n, m) of a Zernike polynomial by its Noll number; m > 0 is the cosine."""
    if j < 1:
        raise ValueError(f"Noll number {j} does not exist; numbers start at 1 (piston)")
    n = int((math.sqrt(8 * j - 7) - 1) / 2)
    rest = j - n * (n + 1) // 2 - 1
    # Within an order the numbers climb in |m|, two at a time, starting at 0 or 1.
    m = 2 * ((rest + 1) // 2) if n % 2 == 0 else 2 * (rest // 2) + 1
    return n, m if j % 2 == 0 else -m


def zernike(j: int, x: Floats, y: Floats) -> Floats:
    """Return the Noll-numbered polynomial at pupil places; its rms over the full disc is 1."""
    n, m = noll_indices(j)
    order = abs(m)
    squared = x * x + y * y
    radial = np.zeros_like(squared)
    for k in range((n - order) // 2 + 1):
        factor = (-1) ** k * math.comb(n - k, k) * math.comb(n - 2 * k, (n - order) // 2 - k)
        radial += factor * squared ** ((n - order) // 2 - k)
    turn = (x + 1j * y) ** order
    if m == 0:
        return math.sqrt(n + 1) * radial
    return math.sqrt(2 * (n + 1)) * radial * (turn.real if m > 0 else turn.imag)


def seidel(
    w020_um: float = 0.0,
    w040_um: float = 0.0,
    w131_um: float = 0.0,
    w222_um: float = 0.0,
    azimuth_degrees: float = 0.0,
) -> dict[int, float]:
    """Return Noll coefficients [um] of defocus, spherical aberration, coma and astigmatism.

    W = w020 r^2 + w040 r^4 + w131 r^3 cos t + w222 r^2 cos^2 t, with t from the direction
    `azimuth_degrees` (from +x toward +y) in which the image point lies. Piston is left out.
    The factors follow from the powers themselves, as tests/optics/test_optics_wavefront.py works
    out.
    """
    a = math.radians(azimuth_degrees)
    return {
        2: w131_um / 3 * math.cos(a),
        3: w131_um / 3 * math.sin(a),
        4: (w020_um + w040_um) / (2 * math.sqrt(3)) + w222_um / (4 * math.sqrt(3)),
        5: w222_um / (2 * math.sqrt(6)) * math.sin(2 * a),
        6: w222_um / (2 * math.sqrt(6)) * math.cos(2 * a),
        7: w131_um / (3 * math.sqrt(8)) * math.sin(a),
        8: w131_um / (3 * math.sqrt(8)) * math.cos(a),
        11: w040_um / (6 * math.sqrt(5)),
    }


def defocus_um(shift_um: float, f_number: float) -> float:
    """Return the Noll-4 coefficient [um] of a focus shift [um] along the axis: W20 = dz/(8 N^2)."""
    return shift_um / (8 * f_number**2) / (2 * math.sqrt(3))


def wavefront_um(zernikes_um: Mapping[int, float], x: Floats, y: Floats) -> Floats:
    """Return the optical path error [um] at pupil places."""
    total = np.zeros(np.broadcast_shapes(x.shape, y.shape))
    for j, coefficient in zernikes_um.items():
        if coefficient:
            total += coefficient * zernike(j, x, y)
    return total


def opening(pupil: Pupil, x: Floats, y: Floats, step: float) -> Floats:
    """Return the share (0 to 1) of each cell of `step` pupil radii that lets light pass."""
    share = np.clip((1 - np.hypot(x, y)) / step + 0.5, 0, 1)
    if pupil.cut_shift != (0.0, 0.0) or pupil.cut_radius < 1:
        away = np.hypot(x - pupil.cut_shift[0], y - pupil.cut_shift[1])
        share = np.minimum(share, np.clip((pupil.cut_radius - away) / step + 0.5, 0, 1))
    return share


def steepest_um(pupil: Pupil) -> float:
    """Return the steepest slope [um per pupil radius] of the wavefront inside the opening."""
    axis = np.linspace(-1, 1, 65)
    x, y = axis[None, :], axis[:, None]
    path = wavefront_um(pupil.zernikes_um, x, y)
    gy, gx = np.gradient(path, axis, axis)
    return float(np.max(np.hypot(gx, gy) * (opening(pupil, x, y, 1e-9) > 0)))


def strehl(pupil: Pupil, wavelength_um: float, across: int = 512) -> float:
    """Return the peak over that of the same opening without wavefront error, by pupil integral.

    The peak is taken at the centre of the reference sphere: tilt counts as error.
    """
    axis = _cells(across)
    x, y = axis[None, :], axis[:, None]
    share = opening(pupil, x, y, 2 / across)
    phase = 2j * np.pi / wavelength_um * wavefront_um(pupil.zernikes_um, x, y)
    return float(abs(np.sum(share * np.exp(phase))) ** 2 / np.sum(share) ** 2)


def spot(
    pupil: Pupil,
    wavelength_um: float,
    step_um: float,
    samples: int,
    shift_um: tuple[float, float] = (0.0, 0.0),
) -> Floats32:
    """Return the intensity of a point's image on a grid, (samples, samples), step_um apart.

    The ideal image lies at sample (samples // 2, samples // 2) plus `shift_um` (x, y), moved by
    a tilt of the wavefront and so exactly. The sum is the share of the full pupil's light that
    passes the opening, less what falls outside the grid (of a perfect lens 0.2 lambda N over the
    distance to the edge). The grid repeats at its edges: give it room, see `samples_needed`.
    Raises ValueError if the step is coarser than half of wavelength x f-number, at which the
    ripple of the light would alias.
    """
    if step_um > 0.5 * wavelength_um * pupil.f_number * (1 + 1e-9):
        raise ValueError(
            f"step_um is {step_um:.4g}; at {wavelength_um:g} um and f/{pupil.f_number:g} it must "
            f"be {0.5 * wavelength_um * pupil.f_number:.4g} or less, or the light aliases"
        )
    if steepest_um(pupil) > STEEPEST_COHERENT_WAVES * wavelength_um:
        return _spot_of_rays(pupil, wavelength_um, step_um, samples, shift_um)
    across = samples * step_um / (wavelength_um * pupil.f_number)
    half = math.ceil(across / 2) + 1
    axis = np.arange(-half, half + 1, dtype=np.float64) * (2 / across)
    x, y = axis[None, :], axis[:, None]
    path = wavefront_um(pupil.zernikes_um, x, y)
    path += (shift_um[0] * x + shift_um[1] * y) / (2 * pupil.f_number)
    phase = (2 * np.pi / wavelength_um) * path
    share = opening(pupil, x, y, 2 / across)
    field_ = (share * np.exp(1j * phase)).astype(np.complex64)
    # Rows outside the opening are zero: only the rows that carry light are transformed first.
    wave = scipy.fft.fft(_around_zero(field_, samples, axis=1), axis=1, overwrite_x=True)
    wave = scipy.fft.fft(_around_zero(wave, samples, axis=0), axis=0, overwrite_x=True)
    intensity = np.fft.fftshift(wave.real**2 + wave.imag**2)
    # Parseval: over an endless grid this scale makes the sum the open share of the full pupil.
    return intensity * np.float32(1 / (math.pi / 4 * across**2 * samples**2))


def samples_needed(pupil: Pupil, step_um: float, margin_um: float) -> int:
    """Return how many samples a side hold the spot and `margin_um` on each side, fast to transform.

    The spot of rays reaches 2 N dW/dr on either side of the ideal image.
    """
    reach = 2 * pupil.f_number * steepest_um(pupil) + margin_um
    return int(scipy.fft.next_fast_len(math.ceil(2 * reach / step_um)))


def mixed_spot(
    pupil: Pupil,
    wavelengths_um: Sequence[float],
    step_um: float,
    samples: int,
    shift_um: tuple[float, float] = (0.0, 0.0),
) -> Floats32:
    """Return the mean of the spots at several wavelengths, as `spot` returns one.

    The light of a broad band does not interfere between wavelengths, so intensities add.
    """
    if not wavelengths_um:
        raise ValueError("wavelengths_um is empty; give at least one wavelength")
    total = spot(pupil, wavelengths_um[0], step_um, samples, shift_um)
    for wavelength in wavelengths_um[1:]:
        total += spot(pupil, wavelength, step_um, samples, shift_um)
    return total / np.float32(len(wavelengths_um))


def blurred(
    intensity: Floats32, step_um: float, pixel_um: float, source_um: float = 0.0
) -> Floats32:
    """Return the spot as seen through square pixels (side pixel_um) and from a disc-shaped source.

    source_um: diameter of the source's image. The sum stays; edges wrap, as those of `spot`.
    """
    rows, columns = intensity.shape
    v = np.abs(np.fft.fftfreq(rows, step_um))
    u = np.fft.rfftfreq(columns, step_um)
    response = np.sinc(pixel_um * v)[:, None] * np.sinc(pixel_um * u)[None, :]
    if source_um > 0:
        # The transform of an even disc of diameter d: 2 J1(a)/a with a = pi d frequency.
        a = np.pi * source_um * np.hypot(v[:, None], u[None, :])
        a[0, 0] = 1.0
        disc = 2 * scipy.special.j1(a) / a
        disc[0, 0] = 1.0
        response *= disc
    spectrum = scipy.fft.rfft2(intensity)
    spectrum *= response.astype(np.float32)
    seen: Floats32 = scipy.fft.irfft2(spectrum, s=intensity.shape, overwrite_x=True)
    return seen


def _cells(across: int) -> Floats:
    """Return the middles of `across` cells over -1 to 1."""
    return (np.arange(across, dtype=np.float64) + 0.5) * 2 / across - 1


def _around_zero(block: NDArray[np.complex64], samples: int, axis: int) -> NDArray[np.complex64]:
    """Return the block padded with zeros along an axis, its middle moved to index 0."""
    half = block.shape[axis] // 2
    shape = list(block.shape)
    shape[axis] = samples
    padded = np.zeros(shape, dtype=np.complex64)
    source, target = np.moveaxis(block, axis, 0), np.moveaxis(padded, axis, 0)
    target[: half + 1] = source[half:]
    target[samples - half :] = source[:half]
    return padded


def _spot_of_rays(
    pupil: Pupil,
    wavelength_um: float,
    step_um: float,
    samples: int,
    shift_um: tuple[float, float],
) -> Floats32:
    """Return the spot by counting rays, softened by the perfect lens's transfer function."""
    axis = _cells(RAYS_ACROSS)
    x, y = axis[None, :], axis[:, None]
    gy, gx = np.gradient(wavefront_um(pupil.zernikes_um, x, y), axis, axis)
    share = opening(pupil, x, y, 2 / RAYS_ACROSS)
    column = np.rint((2 * pupil.f_number * gx + shift_um[0]) / step_um).astype(int) + samples // 2
    row = np.rint((2 * pupil.f_number * gy + shift_um[1]) / step_um).astype(int) + samples // 2
    lit = (share > 0) & (np.minimum(row, column) >= 0) & (np.maximum(row, column) < samples)
    counted = np.bincount(
        row[lit] * samples + column[lit], weights=share[lit], minlength=samples * samples
    ).reshape(samples, samples)
    v, u = np.fft.fftfreq(samples, step_um), np.fft.rfftfreq(samples, step_um)
    q = np.clip(np.hypot(v[:, None], u[None, :]) * wavelength_um * pupil.f_number, 0, 1)
    # Transfer function of a clear circle: see optics.diffraction.perfect_mtf.
    transfer = (2 / np.pi) * (np.arccos(q) - q * np.sqrt(1 - q * q))
    soft = np.fft.irfft2(np.fft.rfft2(counted) * transfer, s=counted.shape)
    return (soft * (4 / math.pi / RAYS_ACROSS**2)).astype(np.float32)
