"""How to shoot the bench: the two formulas of its geometry, and the sheet that says it in words."""

from __future__ import annotations

import math

from nightglass.gear.body import Body
from nightglass.gear.lens import Lens

BENCH_DISTANCE_M = 10.0
"""Distance of the sheet's examples; common practice for a room or a garden."""


def largest_source_mm(pitch_um: float, distance_m: float, focal_mm: float) -> float:
    """Return the largest source [mm] whose image stays within half a pixel.

    Its image is source x focal length / distance (thin lens, far source). Raises ValueError for
    values that are not above 0.
    """
    for name, value in (("pitch_um", pitch_um), ("distance_m", distance_m), ("focal_mm", focal_mm)):
        if not value > 0:
            raise ValueError(f"{name} is {value}; it must be above 0")
    return (pitch_um / 1000 / 2) * (distance_m * 1000) / focal_mm


def stand_back_m(distance_m: float, off_axis_degrees: float) -> float:
    """Return the distance camera to source [m] that keeps an off-axis source in the focused plane.

    A camera that only turns brings the source nearer than the plane it was focused on; at
    distance / cos(angle) the distance along the axis stays the same. Raises ValueError outside
    0 to under 90 degrees.
    """
    if not 0 <= off_axis_degrees < 90:
        raise ValueError(f"off_axis_degrees is {off_axis_degrees}; allowed: 0 to under 90")
    return distance_m / math.cos(math.radians(off_axis_degrees))


def corner_angle_degrees(body: Body, focal_mm: float) -> float:
    """Return the angle of the frame's corner off the axis [degrees], rectilinear lens."""
    return math.degrees(math.atan2(math.hypot(body.width_mm, body.height_mm) / 2, focal_mm))


def how_to_shoot(body: Body, lenses: tuple[Lens, ...]) -> str:
    """Return the sheet HOW-TO-SHOOT.txt: protocol, sizes for this gear, cautions."""
    focal_lengths = sorted({f for lens in lenses for f in (lens.focal_mm_min, lens.focal_mm_max)})
    rows = "\n".join(
        f"  {focal:6g} mm   {largest_source_mm(body.pitch_um, BENCH_DISTANCE_M, focal):10.2f} mm"
        f"   {corner_angle_degrees(body, focal):9.0f} degrees"
        f"   {stand_back_m(BENCH_DISTANCE_M, corner_angle_degrees(body, focal)):10.1f} m"
        for focal in focal_lengths
    )
    return _SHEET.format(body=body.name, pitch=body.pitch_um, distance=BENCH_DISTANCE_M, rows=rows)


_SHEET = """HOW TO SHOOT THE BENCH

Local rules come first: of the house, the land, the road and the law. This sheet advises on
photographs, not on safety.

CAUTIONS
- Use a small LED of the exempt group of IEC 62471, dimmed, behind a pinhole. Do not stare at the
  bare LED, and never look into it through a lens or a finder.
- Prefer an LED to a laser. If it must be a laser: Class 1 of IEC 60825-1 only, never into the
  beam, never through a lens towards an eye, never outdoors towards people, roads or aircraft.
- Never aim a lens or an optical finder at the sun. Cap the lenses that lie outside by day.
- Night work outside: not alone; mind terrain, water and tides, weather, traffic and cold; tell
  someone where you are; ask who owns the land. Indoors: no cables or tripod legs in the dark way.

THE STAR
- A steady LED (battery or direct current, no dimmer that flickers) behind a pinhole, at lens
  height, before a black background. Dark room, no heater near the line of sight.
- The pinhole is at most (pixel pitch / 2) x distance / focal length, so that its image stays
  within half a pixel. For {body} ({pitch:g} um) at {distance:g} m:

  focal length   pinhole at most   corner off axis   stand back to
{rows}

- Off axis the star must stay in the plane you focused on: stand back to L / cos(angle), L being
  the distance on the axis (last column: for the corner). Or work at 40 m and more.
- Farther is better: some lenses change with focus distance.

THE CAMERA
- Raw, lossless, no long-exposure noise reduction, no lens corrections, no front filter,
  stabiliser and autofocus off. The same shutter mode as on the night.
- Heavy tripod, delayed or remote release, electronic first curtain if there is one.
- Expose so that the brightest raw sample stands at 40-70 % of full scale: the star must not clip.
  Any ISO; write it down if the camera does not.

THE FRAMES
- At each setting (lens, zoom mark, f-number, place in the frame) at least 3 frames, better 5.
- Refocus before EACH of them: only that gives the real scatter. Nudge the camera a little, so
  that the star falls on other pixels.
- Places: the centre and all four corners show whether one side is bad; the star stays a tenth of
  the picture height away from the edges.
- Focus at the working f-number, with the star where you would focus under the sky, then turn
  the camera: refocusing in the corners hides what the sky will show.
- Shoot one reference lens first, in the middle and last: it shows drift.
- Manual lenses write no f-number and no focal length: keep such frames in folders of their own
  below frames/ and say what they are under [[frames]] in bench.toml.

THE SENSOR (once per body; which ISO to set comes from it)
- At each ISO of the night: two frames with the cap on at 1/4000 s, and pairs of a white screen out
  of focus at six to ten shutter times; at one ISO two frames with the cap on at the night's time,
  and one overexposed frame. Copy them into sensor/ and run  nightglass sensor FOLDER

THEN
- Copy the raw files as they are into frames/ (folders below it are fine).
- nightglass measure FOLDER
"""
