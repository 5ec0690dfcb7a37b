"""bench.toml of the invented club, as its members would have written it."""

from __future__ import annotations

from collections.abc import Mapping

from nightglass.gear.body import Body
from nightglass.gear.lens import Lens
from nightglass.scene.club import BODY, CLUB, DISTANCE_M, HERON, PINHOLE_MM
from nightglass.scene.flats_plan import FIELD_BODY, LINNET, SISKIN
from nightglass.scene.flats_plan import PLACES_PERCENT as FLATS_PLACES
from nightglass.scene.focus_plan import FOCUS_BODY, FOCUS_SERIES, LIGHT_SERIES, MARKS
from nightglass.scene.focus_plan import PLACES_PERCENT as FOCUS_PLACES
from nightglass.scene.plan import PLACES_PERCENT
from nightglass.scene.sensor_plan import SECOND_BODY
from nightglass.scene.sky.plan import SITE_NAME, SITE_PLACE, SITE_ZONE


def bench_toml() -> str:
    """Return the text of bench.toml: gear, places, how the star was set up, what for."""
    return "\n".join(
        [_HEAD, _body(), *(_lens(c.lens) for c in CLUB), *_places(PLACES_PERCENT), _bench()]
    )


def sensor_bench_toml() -> str:
    """Return bench.toml of the club's second body, whose noise nobody has measured yet."""
    body = SECOND_BODY
    head = f"""\
# The Harbour Lane Camera Club's second body (invented, as all its gear): what its sensor does is
# measured from the frames in sensor/ and kept in sensor.json.

[body]
name = "{body.name}"
serial = "{body.serial}"
pitch_um = {body.pitch_um}
width_px = {body.width_px}
height_px = {body.height_px}
iso_steps = {list(body.iso_steps)}
efficiency = {body.efficiency}
"""
    return "\n".join([head, *(_lens(c.lens) for c in CLUB), _SITE])


def focus_bench_toml() -> str:
    """Return bench.toml of the club's small body: series through focus and of varied light."""
    head = """\
# The Harbour Lane Camera Club's small body (invented, as all its gear): one lens turned through
# focus, then with more and less light.
"""
    series = [
        f'[[frames]]\nmatch = "{name}/*"\nseries = "{name}"\n'
        for name in (FOCUS_SERIES, LIGHT_SERIES)
    ]
    marks = [
        f'[[frames]]\nmatch = "{FOCUS_SERIES}/mark {mark}/*"\nfocus_mark = {mark}\n'
        for mark in MARKS
    ]
    bench = f"""\
[bench]
distance_m = {DISTANCE_M:g}
source_diameter_mm = {PINHOLE_MM:g}
session = "club room, 14 March"

[plan]
hours = 2
"""
    body, places = _noisy_body(FOCUS_BODY), _places(FOCUS_PLACES)
    return "\n".join([head, body, _lens(HERON.lens), *places, *series, *marks, bench])


def flats_bench_toml() -> str:
    """Return bench.toml of the club's field body, whose lenses' glass nobody has measured."""
    head = """\
# The Harbour Lane Camera Club's field body (invented, as all its gear): two lenses before the LED
# and before a white screen. What their glass passes is measured from the frames in flats/.
"""
    lenses = [_lens(club.lens) for club in (SISKIN, LINNET)]
    bench = f"""\
[bench]
distance_m = {DISTANCE_M:g}
source_diameter_mm = {PINHOLE_MM:g}
session = "club room, 21 March"

{_SITE}"""
    return "\n".join([head, _noisy_body(FIELD_BODY), *lenses, *_places(FLATS_PLACES), bench])


_HEAD = """\
# Bench of the Harbour Lane Camera Club, an invented club with invented gear.
# Everything that the camera writes into its files (lens, f-number, time, ISO) is read there.
"""


def _table(values: dict[int, float]) -> str:
    return "{ " + ", ".join(f"{iso} = {value:g}" for iso, value in values.items()) + " }"


def _noisy_body(body: Body) -> str:
    """A body whose noise and gain the club knows."""
    return f"""\
[body]
name = "{body.name}"
serial = "{body.serial}"
pitch_um = {body.pitch_um}
width_px = {body.width_px}
height_px = {body.height_px}
iso_steps = {list(body.iso_steps)}
read_noise_e = {_table(dict(body.read_noise_e))}
gain_e_per_count = {_table(dict(body.gain_e_per_count))}
efficiency = {body.efficiency}
"""


def _body() -> str:
    return f"""\
[body]
name = "{BODY.name}"
serial = "{BODY.serial}"
firmware = "{BODY.firmware}"
pitch_um = {BODY.pitch_um}
width_px = {BODY.width_px}
height_px = {BODY.height_px}
mosaic = "{BODY.mosaic}"
dial_end_s = {BODY.dial_end_s:g}
iso_steps = {list(BODY.iso_steps)}
read_noise_e = {_table(dict(BODY.read_noise_e))}
gain_e_per_count = {_table(dict(BODY.gain_e_per_count))}
efficiency = {BODY.efficiency}
"""


def _pair(low: float, high: float) -> str:
    return f"{low:g}" if low == high else f"[{low:g}, {high:g}]"


def _glass(lens: Lens) -> str:
    """What the club knows of the light that the glass passes: nothing, where it tells nothing."""
    if lens.t_stop is None and lens.transmission is None:
        return ""
    if lens.t_stop is not None:
        return f"t_stop = {lens.t_stop:g}\n"
    return f"transmission = {lens.transmission}\ntransmission_err = {lens.transmission_err}\n"


def _lens(lens: Lens) -> str:
    return f"""\
[[lens]]
name = "{lens.name}"
focal_mm = {_pair(lens.focal_mm_min, lens.focal_mm_max)}
f_number = {_pair(lens.f_number_min_wide, lens.f_number_min_long)}
serial = "{lens.serial}"
projection = "{lens.projection}"
{_glass(lens)}"""


def _places(percent: Mapping[str, tuple[float, float]]) -> list[str]:
    return [
        f'[[place]]\nname = "{name}"\nx_percent = {x}\ny_percent = {y}\n'
        for name, (x, y) in percent.items()
    ]


def _bench() -> str:
    return f"""\
[bench]
name = "Harbour Lane Camera Club, spring test"
distance_m = {DISTANCE_M:g}
source_diameter_mm = {PINHOLE_MM:g}
session = "club room, 7 March"
notes = "LED behind a pinhole; camera aimed afresh and focused afresh for every frame"

[purpose]
words = "screen"         # how our pictures are looked at

[time]
rule = "trail"           # no star drawn longer than 0.17 % of the picture's height
holds_at = "centre"
release = "dial"

{_SITE}"""


_SITE = f"""\
[site]
name = "{SITE_NAME}"
place = "{SITE_PLACE}"
zone = "{SITE_ZONE}"
"""
