"""Benches for the tests of the bench plan: an invented bag on a full-size sensor."""

from dataclasses import replace

from nightglass.gear.benchfile import BenchFile, BenchNotes, Place, SessionChoice
from nightglass.gear.body import Body
from nightglass.gear.lens import Lens

BODY = Body("Loan body", 6.0, 6000, 4000)
"""36 x 24 mm."""
WREN = Lens("Wren 12 mm f/2", 12, 12, 2.0, 2.0)
PLOVER = Lens("Plover 24 mm f/1.4", 24, 24, 1.4, 1.4)
DIPPER = Lens("Dipper 14-28 mm f/2.8-4", 14, 28, 2.8, 4.0)
CORNERS = (
    Place("centre", 50, 50),
    Place("top left", 0, 0),
    Place("top right", 100, 0),
    Place("bottom left", 0, 100),
    Place("bottom right", 100, 100),
)


def bench(*lenses, source_mm=None, distance_m=None, places=CORNERS, **session):
    """Return a bench of some lenses, the Wren and the Dipper without any."""
    return BenchFile(
        BODY,
        lenses or (WREN, DIPPER),
        places,
        bench=BenchNotes(source_diameter_mm=source_mm, distance_m=distance_m),
        plan=SessionChoice(**session),
    )


def many_lenses(number):
    """Return that many zooms, each with a name of its own."""
    return tuple(replace(DIPPER, name=f"Dipper {k} 14-28 mm") for k in range(number))
