"""The club's evening before a white screen: two lenses at two f-numbers, and the LED behind both.

One flat clips, one setting got a single flat, and the screen is brighter on one side, as it
happens to people in a hurry.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass, replace
from datetime import UTC, datetime, timedelta

import numpy as np

from nightglass.frame.record import Metadata
from nightglass.gear.body import Body
from nightglass.gear.dial import exact_f_number, true_time_s
from nightglass.optics.arrays import Counts, Floats, Floats32
from nightglass.optics.defocus import source_image_um
from nightglass.scene.club import (
    DISTANCE_M,
    PATTERN,
    PINHOLE_MM,
    Aberrations,
    ClubLens,
    FieldPoint,
    club_lens,
    pupil,
)
from nightglass.scene.sensor import Background, Sensor, expose, in_mosaic
from nightglass.scene.shoot import drawn_star
from nightglass.scene.star import Star

FIELD_BODY = Body(
    name="Harbour Lane field body",
    pitch_um=9.8,
    width_px=1920,
    height_px=1280,
    serial="HL-2240",
    firmware="1.12",
    iso_steps=(100, 200, 400, 800, 1600),
    read_noise_e={100: 9.0, 200: 7.4, 400: 5.1, 800: 4.2, 1600: 4.0},
    gain_e_per_count={100: 5.2, 200: 2.6, 400: 1.3, 800: 0.65, 1600: 0.325},
    efficiency=0.44,
)
BLACK, CLIPPING = 512, 16383
ISO = 100
FOCAL_MM = 14.0
SISKIN = ClubLens(
    club_lens("Siskin 14 mm f/2", "S14-0419", (14, 14), (2, 2)),
    {14: Aberrations(0.25, 2.4, 2.6, 2.2, 0.2, 0.80)},
)
LINNET = ClubLens(
    club_lens("Linnet 14 mm f/2", "L14-1206", (14, 14), (2, 2)),
    {14: Aberrations(0.20, 2.0, 2.4, 2.0, 0.2, 0.30)},
)
PASSED = {SISKIN.lens.name: 0.90, LINNET.lens.name: 0.70}
"""Share of the light that the glass passes. Nobody in the club knows it: bench.toml is silent."""
F_NUMBERS = (2.0, 2.8)
SCREEN_E_PER_S = 3.6e6
"""Green electrons a second in a pixel at the centre, through glass that passes all at f/1."""
SLOPE, BEND = 0.22, 0.02
"""Of the screen's light over half a diagonal of the frame, as a logarithm: to the right and to
the upper and lower edge. A turned camera sees the slope the other way round."""
FLICKER = 0.004
SCREEN_COLOUR = (0.55, 1.0, 0.7)
FLAT_S = {2.0: 1 / 15, 2.8: 1 / 8}
CLIPPED_S = 1 / 4
PLACES_PERCENT: dict[str, tuple[float, float]] = {
    "centre": (50.4, 49.7),
    "bottom right": (93.0, 92.0),
}
REPEATS = 2
AIM_SPREAD_PX = 6.0
FOCUS_SPREAD_UM = 3.0
PEAK_SHARE = 0.5
STARTED_AT = datetime(2026, 3, 21, 18, 40, tzinfo=UTC)
SECONDS_A_FRAME = 45
SEED = 2240


@dataclass(frozen=True)
class FlatShot:
    """One frame of the evening: of the LED at a place, or of the white screen."""

    number: int
    club: ClubLens
    f_number: float
    place: str | None
    """None: the white screen."""
    exposure_s: float = 0.0
    """Of the white screen; the LED's time follows from its peak."""
    turned: bool = False
    """Camera upside down: the light's slope falls the other way."""

    @property
    def file_name(self) -> str:
        """Where the file lies in the bench folder."""
        below = "flats" if self.place is None else "frames"
        return f"{below}/HLF_{self.number:04d}.DNG"

    def random(self, purpose: int) -> np.random.Generator:
        """Return this frame's generator; purposes are independent of each other."""
        return np.random.default_rng([SEED, self.number, purpose])


def flats_plan() -> tuple[FlatShot, ...]:
    """Return the frames of the evening in their order."""
    shots = [*_of_the_led(), *_of_the_screen()]
    return tuple(replace(shot, number=number) for number, shot in enumerate(shots, start=1))


def _of_the_led() -> Iterator[FlatShot]:
    for club in (SISKIN, LINNET):
        for f_number in F_NUMBERS:
            for place in PLACES_PERCENT:
                for _ in range(REPEATS):
                    yield FlatShot(0, club, f_number, place)


def _of_the_screen() -> Iterator[FlatShot]:
    """Each setting upright and turned; but one frame still has a longer time, one pair is half a
    pair, and the first lens is taken again at the end."""
    wide, stopped = F_NUMBERS
    yield FlatShot(0, SISKIN, wide, None, CLIPPED_S, False)
    for turned in (False, True):
        yield FlatShot(0, SISKIN, wide, None, FLAT_S[wide], turned)
    for turned in (False, True):
        yield FlatShot(0, SISKIN, stopped, None, FLAT_S[stopped], turned)
    for turned in (False, True):
        yield FlatShot(0, LINNET, wide, None, FLAT_S[wide], turned)
    yield FlatShot(0, LINNET, stopped, None, FLAT_S[stopped], False)
    yield FlatShot(0, SISKIN, wide, None, FLAT_S[wide], False)


def pupil_share(club: ClubLens, f_number: float, radius: float) -> float:
    """Return the light of a star at a field radius over that at the centre: the truth of falloff.

    The part of the opening that both rims leave free, and its slant to the light.
    """
    mm = radius * math.hypot(FIELD_BODY.width_mm, FIELD_BODY.height_mm) / 2
    free = _both_discs(club, f_number, radius) / _both_discs(club, f_number, 0.0)
    return free * math.cos(math.atan(mm / FOCAL_MM))


def _both_discs(club: ClubLens, f_number: float, radius: float) -> float:
    """Area that two overlapping discs share: the opening, of radius 1, and the rear rim.

    The two segments of circles on both sides of the chord (plane geometry).
    """
    seen = pupil(club, FOCAL_MM, f_number, FieldPoint(radius, 0.0), 0.0)
    apart, rim = math.hypot(*seen.cut_shift), seen.cut_radius
    if apart <= abs(1 - rim):
        return math.pi * min(1.0, rim) ** 2
    near = (apart**2 + 1 - rim**2) / (2 * apart)
    chord = math.sqrt(1 - near**2)
    far = apart - near
    return math.acos(near) + rim**2 * math.acos(far / rim) - chord * apart


def _sensor() -> Sensor:
    return Sensor(
        width_px=FIELD_BODY.width_px,
        height_px=FIELD_BODY.height_px,
        pitch_um=FIELD_BODY.pitch_um,
        pattern=PATTERN,
        black=BLACK,
        clipping=CLIPPING,
        gain_e_per_count=FIELD_BODY.gain_e_per_count[ISO],
        read_noise_e=FIELD_BODY.read_noise_e[ISO],
        hot_pixels=40,
        hot_seed=SEED,
    )


def render_flats(shot: FlatShot) -> tuple[Counts, float]:
    """Return the counts of a frame, (rows, columns) uint16, and its marked exposure [s]."""
    if shot.place is None:
        return _screen(shot), shot.exposure_s
    rng = shot.random(0)
    percent = PLACES_PERCENT[shot.place]
    aim = rng.uniform(-AIM_SPREAD_PX, AIM_SPREAD_PX, 2)
    x = FIELD_BODY.width_px * percent[0] / 100 + float(aim[0])
    y = FIELD_BODY.height_px * percent[1] / 100 + float(aim[1])
    dx, dy = x - (FIELD_BODY.width_px - 1) / 2, y - (FIELD_BODY.height_px - 1) / 2
    corner = math.hypot(FIELD_BODY.width_px, FIELD_BODY.height_px) / 2
    where = FieldPoint(math.hypot(dx, dy) / corner, math.degrees(math.atan2(dy, dx)))
    error = float(rng.normal(0.0, FOCUS_SPREAD_UM))
    source = source_image_um(PINHOLE_MM, FOCAL_MM, DISTANCE_M)
    star = Star(pupil(shot.club, FOCAL_MM, shot.f_number, where, error), x, y, source_um=source)
    return drawn_star(_sensor(), star, PEAK_SHARE, shot.random(1))


def _screen(shot: FlatShot) -> Counts:
    """The white screen behind the lens; its lamp is not quite the same in each frame."""
    chip, rng = _sensor(), shot.random(2)
    x, y = _half_diagonals(chip)
    square = x**2 + y**2
    mm = np.sqrt(square) * math.hypot(FIELD_BODY.width_mm, FIELD_BODY.height_mm) / 2
    radii = np.linspace(0, 1, 60)
    shares = [pupil_share(shot.club, shot.f_number, radius) for radius in radii]
    # A pixel off the axis of a rectilinear lens sees cos^3 of the solid angle.
    even = np.interp(np.sqrt(square), radii, shares) * np.cos(np.arctan(mm / FOCAL_MM)) ** 3
    side = -1.0 if shot.turned else 1.0
    uneven = np.exp(side * SLOPE * x + BEND * (x**2 - y**2))
    passed = PASSED[shot.club.lens.name] / exact_f_number(shot.f_number) ** 2
    level = SCREEN_E_PER_S * passed * true_time_s(shot.exposure_s)
    level *= 1 + FLICKER * float(rng.standard_normal())
    green = (level * even * uneven).astype(np.float32)
    by_colour: dict[int, Floats32] = {
        k: green * np.float32(share) for k, share in enumerate(SCREEN_COLOUR)
    }
    return expose(chip, [in_mosaic(chip, by_colour, 0, 0)], Background(), rng)


def _half_diagonals(chip: Sensor) -> tuple[Floats, Floats]:
    """Places of all pixels from the frame's centre in half diagonals: columns and rows."""
    half = math.hypot(chip.width_px, chip.height_px) / 2
    x = np.asarray((np.arange(chip.width_px) - (chip.width_px - 1) / 2) / half, dtype=np.float64)
    y = np.asarray((np.arange(chip.height_px) - (chip.height_px - 1) / 2) / half, dtype=np.float64)
    return x[None, :], y[:, None]


def flats_metadata(shot: FlatShot, exposure_s: float) -> Metadata:
    """Return what the camera writes: marks of dials, names and time, nothing of the truth."""
    return Metadata(
        exposure_marked_s=exposure_s,
        exposure_true_s=true_time_s(exposure_s),
        f_number=shot.f_number,
        focal_mm=FOCAL_MM,
        iso=ISO,
        taken_at=STARTED_AT + timedelta(seconds=SECONDS_A_FRAME * shot.number),
        zone_known=True,
        body=FIELD_BODY.name,
        body_serial=FIELD_BODY.serial,
        lens=shot.club.lens.name,
        lens_serial=shot.club.lens.serial,
        firmware=FIELD_BODY.firmware,
        exposure_mode="manual",
    )
