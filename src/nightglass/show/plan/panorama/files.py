"""Writes a panorama plan: picture (SVG, PNG) and the list for the phone."""

from __future__ import annotations

from pathlib import Path

from nightglass.plan.panorama.sky import sky_then
from nightglass.plan.panorama.wished import PanoramaPlan
from nightglass.show.outlined import write_picture
from nightglass.show.plan.panorama.picture import panorama_picture
from nightglass.show.plan.panorama.text import phone_list
from nightglass.show.whole_file import write_whole


def write_panorama(planned: PanoramaPlan, folder: Path) -> list[Path]:
    """Write panorama.svg, .png and .html into a folder (made if missing); return the paths."""
    plan, there, moment = planned.panorama, planned.there, planned.moment
    then = None
    title = f"Panorama, {plan.shot.focal_mm:g} mm"
    if there is not None and moment is not None:
        then = sky_then(there.place, moment, there.horizon)
        title += f", {there.place.name}, {moment:%d %b %Y}"
    picture = panorama_picture(plan, then)
    written = list(write_picture(picture, folder / "panorama.svg", folder / "panorama.png"))
    page = write_whole(folder / "panorama.html", phone_list(plan, title).encode())
    return [*written, page]
