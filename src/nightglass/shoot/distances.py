"""How far the source must stand, and what focus has to do with it. Thin lens, flat plane of focus.

That a lens may be better or worse at 10 m than at infinity (its correction changes with the
distance of focus) no arithmetic can tell: it takes frames at two distances.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from nightglass.gear.benchfile import BenchFile, Place
from nightglass.gear.dial import exact_f_number
from nightglass.gear.lens import Lens
from nightglass.optics.defocus import (
    hyperfocal_m,
    largest_source_mm,
    off_axis_distance_m,
    source_blur_um,
    source_image_um,
    star_blur_um,
)
from nightglass.shoot.aims import aim_at, aims, percent_of_height, source_stretch
from nightglass.shoot.codes import DistanceFrom, DistanceProblem
from nightglass.shoot.records import Aim, Distance

ASSUMED_M = 10.0
"""Distance where neither it nor the room is known; common practice for a room or a garden."""


def distance(
    bench: BenchFile, lens: Lens, focal_mm: float, f_number: float, places: Sequence[Place]
) -> Distance:
    """Return the distance of the source for a lens at one focal length, its aims included.

    f_number: marked, the widest that is planned. A lens whose source can't be made small enough in
    the room has distance_m None and needs_room_m.
    """
    body, source = bench.body, bench.bench.source_diameter_mm
    aimed = aims(body, lens, focal_mm, places)
    stretch = max((source_stretch(aim, lens.projection) for aim in aimed), default=1.0)
    least = None
    if source is not None:
        # The source's image is s f / L on the axis: within half a pixel from L = 2 s f / p.
        least = source * focal_mm / (body.pitch_um / 2) * stretch
    chosen, why = _chosen_m(bench, least, aimed)
    problem, needs = _problem(bench, chosen, least, aimed, why)
    room_too_short = problem is DistanceProblem.ROOM_TOO_SHORT
    exact, pixel_mm = exact_f_number(f_number), body.pitch_um / 1000
    base = Distance(
        lens=lens.name,
        focal_mm=focal_mm,
        f_number=f_number,
        distance_m=None,
        distance_from=why,
        least_m=least,
        largest_source_mm=largest_source_mm(body.pitch_um, focal_mm, chosen) / stretch,
        source_image_px=None,
        source_image_um=None,
        left_at_infinity_um=None,
        left_at_infinity_percent=None,
        star_um=None,
        star_percent=None,
        star_sharp_m=hyperfocal_m(focal_mm, exact, pixel_mm),
        room_m=None,
        aims=aimed,
        problem=problem,
        needs_room_m=needs,
    )
    return base if room_too_short else _at(base, bench, chosen, stretch)


def _at(base: Distance, bench: BenchFile, distance_m: float, stretch: float) -> Distance:
    """The distance filled in with what it makes of focus, source and places."""
    body, source = bench.body, bench.bench.source_diameter_mm
    focal, exact = base.focal_mm, exact_f_number(base.f_number)
    aimed = tuple(aim_at(aim, body, focal, exact, distance_m) for aim in base.aims)
    image = None if source is None else source_image_um(source, focal, distance_m)
    infinity = float(source_blur_um(focal, exact, distance_m))
    star = float(star_blur_um(focal, exact, distance_m))
    return replace(
        base,
        distance_m=distance_m,
        source_image_um=image,
        source_image_px=None if image is None else image * stretch / body.pitch_um,
        left_at_infinity_um=infinity,
        left_at_infinity_percent=percent_of_height(infinity, body),
        star_um=star,
        star_percent=percent_of_height(star, body),
        room_m=max((aim.stand_m for aim in aimed if aim.stand_m is not None), default=distance_m),
        aims=aimed,
    )


def _chosen_m(
    bench: BenchFile, least: float | None, aimed: Sequence[Aim]
) -> tuple[float, DistanceFrom]:
    """As stated; else the farthest for which every place finds room; else the assumed one."""
    if bench.bench.distance_m is not None:
        return bench.bench.distance_m, DistanceFrom.STATED
    if bench.plan.room_m is not None:
        farther = _stand_back(1.0, aimed)
        return bench.plan.room_m / farther, DistanceFrom.ROOM
    return max(ASSUMED_M, least or 0.0), DistanceFrom.ASSUMED


def _problem(
    bench: BenchFile,
    chosen: float,
    least: float | None,
    aimed: Sequence[Aim],
    why: DistanceFrom,
) -> tuple[DistanceProblem | None, float | None]:
    """What is wrong, and the room that would mend it [m]."""
    room = bench.plan.room_m
    needs = _stand_back(max(least or 0.0, chosen if why is DistanceFrom.STATED else 0.0), aimed)
    if least is not None and room is not None and _stand_back(least, aimed) > room * (1 + 1e-9):
        return DistanceProblem.ROOM_TOO_SHORT, _stand_back(least, aimed)
    if least is not None and chosen < least * (1 - 1e-9):
        return DistanceProblem.SOURCE_TOO_LARGE, needs
    if room is not None and _stand_back(chosen, aimed) > room * (1 + 1e-9):
        return DistanceProblem.NO_STAND_BACK, needs
    return None, None


def _stand_back(distance_m: float, aimed: Sequence[Aim]) -> float:
    """The longest distance that the places ask for, from that on the axis [m]."""
    if distance_m <= 0:
        return 0.0
    off_axis = [
        a.off_axis_degrees for a in aimed if a.off_axis_degrees is not None and not a.problem
    ]
    return float(max(off_axis_distance_m(distance_m, off_axis), default=distance_m))
