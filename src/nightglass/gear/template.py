"""The commented bench.toml that a new bench starts from."""

from __future__ import annotations

import json

from nightglass.gear.body import Body
from nightglass.gear.lens import Lens

EXAMPLE_BODY = Body(
    name="Loan body 10 MP",
    pitch_um=6.05,
    width_px=3872,
    height_px=2592,
    dial_end_s=30.0,
    iso_steps=(100, 200, 400, 800, 1600),
)
EXAMPLE_LENSES = (
    Lens("Wren 12 mm f/2", 12.0, 12.0, 2.0, 2.0),
    Lens("Dipper 11-18 mm f/3.2", 11.0, 18.0, 3.2, 3.2),
)


def bench_template(
    body: Body = EXAMPLE_BODY, lenses: tuple[Lens, ...] = EXAMPLE_LENSES, name: str = ""
) -> str:
    """Return a commented bench.toml for this gear; it reads back without an error."""
    return "\n".join(
        (
            _HEAD,
            _body(body),
            *(_lens(lens) for lens in lenses),
            _PLACES,
            _BENCH.format(name=f"name = {_text(name)}" if name else '# name = "Our bench"'),
            _FRAMES,
            _CHOICES,
        )
    )


def _text(words: str) -> str:
    """A TOML basic string: JSON's escapes are a subset of TOML's, DEL apart."""
    return json.dumps(words, ensure_ascii=False).replace("\x7f", "\\u007f")


def _list(words: tuple[str, ...]) -> str:
    return "[" + ", ".join(_text(word) for word in words) + "]"


def _numbers(values: object) -> str:
    return json.dumps(values)


def _optional(key: str, value: str | None, example: str, comment: str = "") -> str:
    note = f"   # {comment}" if comment else ""
    return f"{key} = {value}{note}" if value is not None else f"# {key} = {example}{note}"


def _body(body: Body) -> str:
    by_iso = {
        key: "{ " + ", ".join(f"{iso} = {value:g}" for iso, value in sorted(table.items())) + " }"
        for key, table in (("noise", body.read_noise_e), ("gain", body.gain_e_per_count))
        if table
    }
    lines = (
        "[body]",
        f"name = {_text(body.name)}",
        _optional(
            "recorded_as",
            _list(body.recorded_as) if body.recorded_as else None,
            '["the name in the files"]',
            "if the camera writes another name",
        ),
        _optional("serial", _text(body.serial) if body.serial else None, '"0000000"'),
        _optional("firmware", _text(body.firmware) if body.firmware else None, '"1.00"'),
        f"pitch_um = {body.pitch_um:g}   # pixel pitch; sensor width in mm x 1000 / pixels across",
        f"width_px = {body.width_px}   # of the raw frame, camera held level",
        f"height_px = {body.height_px}",
        f"mosaic = {_text(body.mosaic)}   # bayer, 6x6 or none",
        f"dial_end_s = {body.dial_end_s:g}   # longest marked time on the dial",
        f"iso_steps = {_numbers(list(body.iso_steps))}",
        _optional(
            "second_gain_iso",
            str(body.second_gain_iso) if body.second_gain_iso else None,
            "640",
            "lowest step of the second gain of a dual-gain sensor",
        ),
        _optional(
            "read_noise_e",
            by_iso.get("noise"),
            "{ 800 = 3.1, 1600 = 2.6 }",
            "electrons by ISO, if known",
        ),
        _optional(
            "gain_e_per_count",
            by_iso.get("gain"),
            "{ 800 = 0.9, 1600 = 0.45 }",
            "electrons per count by ISO, if known",
        ),
        _optional(
            "efficiency",
            f"{body.efficiency:g}" if body.efficiency else None,
            "0.4",
            "electrons per photon in green, if known",
        ),
        "# Another body on which the lenses are measured too: [[other_body]] with the same keys.",
    )
    return "\n".join(lines) + "\n"


def _span(low: float, high: float) -> str:
    return f"{low:g}" if low == high else f"[{low:g}, {high:g}]"


def _lens(lens: Lens) -> str:
    lines = (
        "[[lens]]",
        f"name = {_text(lens.name)}",
        f"focal_mm = {_span(lens.focal_mm_min, lens.focal_mm_max)}",
        f"f_number = {_span(lens.f_number_min_wide, lens.f_number_min_long)}   # wide open",
        _optional(
            "recorded_as",
            _list(lens.recorded_as) if lens.recorded_as else None,
            '["the name in the files"]',
            "if the camera writes another name",
        ),
        _optional(
            "serial",
            _text(lens.serial) if lens.serial else None,
            '"0000"',
            "tells two copies apart",
        ),
        f"projection = {_text(lens.projection)}   # or equidistant, equisolid, stereographic",
        _optional(
            "transmission",
            f"{lens.transmission:g}" if lens.transmission else None,
            "0.9",
            "measured share of the light that passes; or t_stop",
        ),
        _optional(
            "transmission_err",
            f"{lens.transmission_err:g}" if lens.transmission_err else None,
            "0.02",
            "its error (1 sigma)",
        ),
        _optional("t_stop", f"{lens.t_stop:g}" if lens.t_stop else None, "2.2"),
        _optional("notes", _text(lens.notes) if lens.notes else None, '"borrowed until Monday"'),
        *_focusing(lens),
        *([_zoom_marks(lens)] if lens.is_zoom else []),
    )
    return "\n".join(lines) + "\n"


def _focusing(lens: Lens) -> tuple[str, str]:
    return (
        _optional(
            "focus",
            _text(lens.focus) if lens.focus else None,
            '"bright star a third from the centre, refocus after zooming"',
            "for the card",
        ),
        _optional(
            "focus_marks_toward",
            _text(lens.focus_marks_toward) if lens.focus_marks_toward else None,
            '"infinity"',
            'the end to which higher focus marks run; or "near"',
        ),
    )


def _zoom_marks(lens: Lens) -> str:
    marks = _numbers(list(lens.zoom_marks_mm)) if lens.zoom_marks_mm else None
    ends = f"[{lens.focal_mm_min:g}, {lens.focal_mm_max:g}]"
    return _optional("zoom_marks_mm", marks, ends, "marks to test; without it ends and middle")


_HEAD = """# The bench: what was photographed, with what, and what matters to you.
# Lines that begin with # are remarks; take the # away to use one. Texts stand in quotes.
# Before the first frame: nightglass plan FOLDER. How to shoot: HOW-TO-SHOOT.txt.
# Then: nightglass measure FOLDER
"""

_PLACES = """# Where the star stood: x from the left edge, y from the top edge, % of the raw frame
# (never turned: camera held level). A star belongs to the nearest place within 15 % of picture
# height (within_percent); others are named by their position.
[[place]]
name = "centre"

[[place]]
name = "corner top left"
x_percent = 12
y_percent = 14

[[place]]
name = "corner top right"
x_percent = 88
y_percent = 14

[[place]]
name = "corner bottom left"
x_percent = 12
y_percent = 86

[[place]]
name = "corner bottom right"
x_percent = 88
y_percent = 86

# Or by field radius (0 centre, 1 corner) and direction (0 right, 90 down):
# [[place]]
# name = "edge right"
# field_radius = 0.7
# direction_degrees = 0
"""

_BENCH = """[bench]
{name}
# distance_m = 10             # from camera to star, on the axis
# source_diameter_mm = 0.5    # pinhole before the LED
# session = "first evening"
# notes = "garage, 18 degrees"
"""

_FRAMES = """# What the camera could not write down (manual lenses), or wrote wrongly.
# What stands here wins over what the files say.
# The pattern is that of names below frames/; a later table wins over an earlier one.
# [[frames]]
# match = "wren/f2.8/*"
# lens = "Wren 12 mm f/2"
# focal_mm = 12
# f_number = 2.8
# place = "centre"
# iso = 800
# exposure_s = 0.5
# near = [1936, 1296]         # raw pixels: where the star stands, if the wrong light is found
# series = "wren focus"       # frames of a study; they take no part in the ranking
# focus_mark = 3              # where the focus stood: ring mark, scale or step
# refocused = true            # focused anew for each frame
# distance_m = 10             # of the source, for these frames only
# source_diameter_mm = 0.5    # as before
# roll_degrees = 180          # camera turned about the line of sight
# leave_out = "door opened"   # keeps these frames out of the results; they stay on record
"""

_CHOICES = """[purpose]
words = "screen"              # or "phone", "print 60x40 cm", "print 60 cm wide seen from 1 m"
# limit_percent = 0.25        # largest blur that you accept, % of picture height; without
                              # it blur costs as much as a viewer can see
# limit_on = "lens"           # or "with trail"
# limit_at = "worst"          # or "mean": worst place, or mean over the frame

[time]
rule = "trail"                # no star drawn longer than 0.17 % of picture height; or
                              # 360 rule, 500 rule, 300 rule, npf simple, npf full, pixels,
                              # share of blur
holds_at = "centre"           # or "corners": where in the frame the rule must hold
release = "dial"              # or remote

[score]
a = 0.5                       # weight of the stars; the glow of the Milky Way has 1 - a
# reference = { lens = "Wren 12 mm f/2", f_number = 2.8 }   # else the best setting

[sky]
# brightness_mag_per_arcsec2 = 21.5
# extinction_mag = 0.2

[plan]
# hours = 4                   # at the bench; a shorter plan is made if the full one does not fit
# room_m = 12                 # longest distance from camera to star that you have
# tell_percent = 10           # difference of blur that you want to tell apart
# scatter_percent = 5         # your guess of how far one frame scatters about the mean
# f_numbers = [2, 2.8, 4]     # else wide open, one and two stops down
# pace = 1.0                  # 1.5 if you work slower than the plan's minutes

[site]
# name = "Dark Heath"
# place = "52.1 N 4.4 E"
# zone = "Europe/Amsterdam"
# horizon = 5                 # degrees, or [[0, 5], [60, 12], [120, 8], ...]: azimuth and height
"""
