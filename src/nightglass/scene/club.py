"""The invented Harbour Lane Camera Club: an old loan body and five lenses named after birds.

Everything here is made up for the demo. The lenses are described by their wavefronts, which the
measuring code never sees.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, field

import numpy as np

from nightglass.gear.body import Body
from nightglass.gear.dial import exact_f_number
from nightglass.gear.lens import Lens
from nightglass.optics.wavefront import Pupil, defocus_um, seidel

BODY = Body(
    name="Harbour Lane loan body 10 MP",
    pitch_um=6.05,
    width_px=3872,
    height_px=2592,
    mosaic="bayer",
    serial="HL-0417",
    firmware="1.04",
    dial_end_s=30.0,
    iso_steps=(100, 200, 400, 800, 1600),
    read_noise_e={100: 14.0, 200: 11.8, 400: 10.9, 800: 10.5, 1600: 10.4},
    gain_e_per_count={100: 9.6, 200: 4.8, 400: 2.4, 800: 1.2, 1600: 0.6},
    efficiency=0.36,
)
PATTERN = np.array([[0, 1], [1, 2]], dtype=np.uint8)
BLACK, CLIPPING = 256, 4095
"""Twelve bits, the black level well above zero."""
HOT_PIXELS = 200
DISTANCE_M, PINHOLE_MM = 10.0, 0.5


@dataclass(frozen=True)
class Aberrations:
    """Wavefront of a lens at full opening for a star in the corner of the frame.

    Terms are optical paths in um. With the pupil radius r = f-number wide open / f-number and
    the field radius h they go as spherical r^4, coma r^3 h, astigmatism and curvature r^2 h^2 (the
    primary aberrations, as telescope-optics.net, 3.5, lists them), trefoil r^3 h^3 (next order).
    """

    spherical_um: float = 0.0
    """Noll 11: balanced, as after focusing at the working aperture."""
    coma_um: float = 0.0
    astigmatism_um: float = 0.0
    curvature_um: float = 0.0
    trefoil_um: float = 0.0
    """Noll 9 and 10, turned with the field."""
    rim_shift: float = 0.0
    """Cat's eye: shift of the second rim in the corner, in full pupil radii."""
    lateral_red_px: float = 0.0
    """Radial shift of red against green in the corner; it does not change with the f-number."""
    lateral_blue_px: float = 0.0
    decentred_coma_um: float = 0.0
    """Coma over the whole frame from a shifted group, toward +x and +y (45 degrees)."""
    tilt_um: float = 0.0
    """Defocus wavefront of a tilted group: plus in the bottom right corner, minus top left."""


@dataclass(frozen=True)
class ClubLens:
    """A lens of the club with its wavefront at each marked focal length [mm]."""

    lens: Lens
    by_focal: dict[float, Aberrations] = field(default_factory=dict)

    def f_number_wide_open(self, focal_mm: float) -> float:
        """Return the marked f-number wide open at a focal length."""
        return WIDE_OPEN.get((self.lens.name, focal_mm), self.lens.f_number_min_wide)


SCREEN_TEST = {"transmission": 0.82, "transmission_err": 0.02}
"""The zooms: the club held them against the 24 mm before an evenly lit screen."""


def club_lens(
    name: str,
    serial: str,
    focal: tuple[float, float],
    f: tuple[float, float],
    **glass: float,
) -> Lens:
    """Return the gear record of one of the club's lenses.

    glass: t_stop, or transmission and its error, as the club knows them. The demo's night passes
    that share of the light.
    """
    return Lens(name, focal[0], focal[1], f[0], f[1], serial=serial, recorded_as=(name,), **glass)  # type: ignore[arg-type]


WREN = ClubLens(
    club_lens("Wren 12 mm f/2", "W12-0093", (12, 12), (2, 2), t_stop=2.2),
    {12: Aberrations(0.30, 4.6, 3.0, 3.4, 0.2, 0.35, 0.3, -0.35)},
)
HERON = ClubLens(
    club_lens("Heron 20 mm f/1.8", "H20-1127", (20, 20), (1.8, 1.8), t_stop=1.9),
    {20: Aberrations(0.26, 2.6, 2.0, 1.4, 0.2, 0.3, 0.2, -0.2, 1.6, 3.2)},
)
PLOVER = ClubLens(
    club_lens("Plover 24 mm f/2.2", "P24-0310", (24, 24), (2.2, 2.2), t_stop=2.4),
    {24: Aberrations(0.05, 0.8, 1.2, 1.5, 0.1, 0.2, 0.15, -0.2)},
)
DIPPER = ClubLens(
    club_lens("Dipper 11-18 mm f/3.2", "D11-0058", (11, 18), (3.2, 3.2), **SCREEN_TEST),
    {
        11: Aberrations(0.04, 0.2, 0.5, 1.2, 0.25, 0.45, 0.5, -0.55),
        14: Aberrations(0.04, 0.15, 0.5, 1.05, 0.22, 0.4, 0.4, -0.45),
        18: Aberrations(0.04, 0.2, 0.5, 1.15, 0.24, 0.4, 0.3, -0.35),
    },
)
CURLEW = ClubLens(
    club_lens("Curlew 17-45 mm f/2.5-4.5", "C17-2204", (17, 45), (2.5, 4.5), **SCREEN_TEST),
    {
        17: Aberrations(0.04, 0.6, 1.0, 1.3, 0.1, 0.4, 0.4, -0.4),
        24: Aberrations(0.04, 0.55, 0.9, 1.15, 0.1, 0.4, 0.2, -0.3),
        28: Aberrations(0.15, 1.4, 2.4, 2.6, 0.25, 0.3, 0.2, -0.2),
        35: Aberrations(0.03, 0.3, 0.65, 0.8, 0.06, 0.3, 0.2, -0.2),
        45: Aberrations(0.03, 0.25, 0.6, 0.75, 0.06, 0.3, 0.3, -0.3),
    },
)
CLUB: tuple[ClubLens, ...] = (WREN, HERON, PLOVER, DIPPER, CURLEW)
WIDE_OPEN: dict[tuple[str, float], float] = {
    (CURLEW.lens.name, 24): 2.8,
    (CURLEW.lens.name, 28): 3.2,
    (CURLEW.lens.name, 35): 4.0,
    (CURLEW.lens.name, 45): 4.5,
}


@dataclass(frozen=True)
class FieldPoint:
    """A place in the frame as the lens sees it: field radius and azimuth (0 right, 90 down)."""

    radius: float
    azimuth_degrees: float


def field_point(x_px: float, y_px: float) -> FieldPoint:
    """Return the field place of a raw pixel place of the club's body."""
    dx, dy = x_px - (BODY.width_px - 1) / 2, y_px - (BODY.height_px - 1) / 2
    corner = math.hypot(BODY.width_px, BODY.height_px) / 2
    return FieldPoint(math.hypot(dx, dy) / corner, math.degrees(math.atan2(dy, dx)))


def pupil(
    club: ClubLens, focal_mm: float, f_number: float, where: FieldPoint, focus_error_um: float
) -> Pupil:
    """Return what leaves a lens at a marked setting toward one place of the frame.

    focus_error_um: where the person stopped turning the ring, along the axis on the sensor side.
    """
    a, h = club.by_focal[focal_mm], where.radius
    n = exact_f_number(f_number)
    r = exact_f_number(club.f_number_wide_open(focal_mm)) / n
    turn = math.radians(where.azimuth_degrees)
    terms = seidel(
        w020_um=a.curvature_um * (r * h) ** 2,
        w131_um=a.coma_um * r**3 * h,
        w222_um=a.astigmatism_um * (r * h) ** 2,
        azimuth_degrees=where.azimuth_degrees,
    )
    shifted = seidel(w131_um=a.decentred_coma_um * r**3, azimuth_degrees=45.0)
    for j in (7, 8):
        terms[j] += shifted[j]
    # The tilts 2 and 3 of coma only move the spot: its place is set by the plan.
    terms[2] = terms[3] = 0.0
    tilted = a.tilt_um * r**2 * h * math.cos(turn - math.radians(45.0))
    terms[4] += seidel(w020_um=tilted)[4] + defocus_um(focus_error_um, n)
    terms[9] = a.trefoil_um * r**3 * h**3 * math.sin(3 * turn)
    terms[10] = a.trefoil_um * r**3 * h**3 * math.cos(3 * turn)
    terms[11] = a.spherical_um * r**4
    shift = a.rim_shift * h / r
    return Pupil(n, terms, (shift * math.cos(turn), shift * math.sin(turn)), 1.05 / r)
