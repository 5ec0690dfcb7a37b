"""Tonight's frame as a picture: land, Milky Way, stars, trails and the longest times."""

from __future__ import annotations

import math
from pathlib import Path

import numpy as np

from nightglass.optics.arrays import Floats
from nightglass.plan.camera import seen_from
from nightglass.plan.night.tonight import PlaceTime, Tonight
from nightglass.show.outlined import write_picture
from nightglass.show.plan.frame_words import shot_text, time_text
from nightglass.show.plan.night.text import zone_words
from nightglass.show.plan.night.tonight_text import light_words
from nightglass.show.svg import (
    BAND,
    BAND_EDGE,
    FAINT,
    INK,
    LAND,
    LAND_EDGE,
    MARK,
    OUTSIDE,
    SKY,
    STAR,
    TRAIL,
    Picture,
    columns_path,
)
from nightglass.show.words import percent, seconds

LONG_SIDE_PX = 1080.0
MARGIN_PX, TOP_PX, FOOT_PX = 28.0, 92.0, 128.0
PAGE_LEAST_PX = 700.0
NUMBER_COLUMNS, NUMBER_ROWS = 5, (4, 12, 20)
"""Rows of the map between those of the strokes, so that neither covers the other."""
CLEAR_PX = (150.0, 26.0)
"""No number and no stroke stands so near to a mark: its label is there."""
DRAWN_LONGEST = 0.055
"""The longest stroke drawn, over the frame's width: trails are enlarged to be seen."""


def tonight_picture(plan: Tonight) -> str:
    """Return the SVG of a frame: what it shows, how stars trail, how long each place allows."""
    shot = plan.shot
    per_mm = LONG_SIDE_PX / max(shot.width_mm, shot.height_mm)
    if shot.portrait:
        per_mm *= 0.85
    width, height = shot.width_mm * per_mm, shot.height_mm * per_mm
    page = max(width, PAGE_LEAST_PX) + 2 * MARGIN_PX
    title = f"{shot_text(shot)}: {_aim_words(plan)}"
    picture = Picture(page, TOP_PX + height + FOOT_PX, title)
    frame = _Frame(picture, per_mm, page / 2, TOP_PX + height / 2, plan)
    _head(picture, plan, title)
    picture.open_clip("frame", (page - width) / 2, TOP_PX, width, height)
    frame.ground(width, height)
    frame.sky_lines()
    frame.trails()
    picture.close()
    frame.numbers()
    frame.mark(plan.shortest, f"shortest: {time_text(plan.shortest.longest_s)}")
    if plan.target is not None:
        frame.mark(plan.target, f"Milky Way's centre: {time_text(plan.target.longest_s)}")
    _foot(picture, plan, TOP_PX + height, frame.enlarged())
    return picture.svg()


def write_tonight(plan: Tonight, folder: Path) -> tuple[Path, ...]:
    """Write tonight.svg and .png into a folder (made if missing); return the paths."""
    return write_picture(tonight_picture(plan), folder / "tonight.svg", folder / "tonight.png")


class _Frame:
    """Draws in millimetres of the sensor."""

    def __init__(self, picture: Picture, per_mm: float, x0: float, y0: float, plan: Tonight):
        self.picture, self.per_mm, self.x0, self.y0, self.plan = picture, per_mm, x0, y0, plan

    def at(self, x_mm: float, y_mm: float) -> tuple[float, float]:
        return self.x0 + x_mm * self.per_mm, self.y0 + y_mm * self.per_mm

    def points(self, line: Floats) -> list[tuple[float, float]]:
        return [self.at(x, y) for x, y in line]

    def ground(self, width: float, height: float) -> None:
        plan, shot = self.plan, self.plan.shot
        left, top = self.x0 - width / 2, self.y0 - height / 2
        self.picture.rect(left, top, width, height, SKY)
        for outline in plan.sky.milky_way:
            dashes = f'stroke="{BAND_EDGE}" stroke-width="1.2" stroke-dasharray="7 4"'
            self.picture.polygon(self.points(outline), BAND, dashes)
        stars = plan.sky.stars
        for x, y, g in zip(stars.x_mm, stars.y_mm, stars.magnitude, strict=True):
            self.picture.circle(*self.at(x, y), max(0.7, 3.4 - 0.62 * float(g)), STAR)
        x = np.linspace(-shot.width_mm / 2, shot.width_mm / 2, 271)
        y = np.linspace(-shot.height_mm / 2, shot.height_mm / 2, 181)
        altitude, azimuth = seen_from(shot, plan.pointing, *np.meshgrid(x, y))
        depth = plan.horizon.height_at(azimuth) - altitude
        x_px, y_px = self.x0 + x * self.per_mm, self.y0 + y * self.per_mm
        self.picture.path(columns_path(x_px, y_px, depth), LAND)
        dark = np.where(np.isnan(altitude), 1.0, -1.0)
        self.picture.path(columns_path(x_px, y_px, dark), OUTSIDE)

    def sky_lines(self) -> None:
        for _, line in self.plan.sky.grid:
            dots = 'stroke-opacity="0.45" stroke-dasharray="2 5"'
            self.picture.line(self.points(line), "#ffffff", 0.9, dots)
        for line in self.plan.sky.land:
            self.picture.line(self.points(line), LAND_EDGE, 1.6, "")
        for words, line in self.plan.sky.grid:
            x, y = self.at(*line[np.argmin(line[:, 0])])
            edge = self.x0 - self.plan.shot.width_mm * self.per_mm / 2
            if x < edge + 40:
                self.picture.label(edge + 5, y - 4, words, 11, "start")

    def enlarged(self) -> float:
        longest = float(np.nanmax(self.plan.map.trail_percent)) / 100
        longest *= self.plan.shot.picture_height_mm
        wanted = DRAWN_LONGEST * self.plan.shot.width_mm / longest
        return max(1.0, 5.0 * round(wanted / 5.0))

    def trails(self) -> None:
        plan = self.plan
        grow = self.enlarged() * plan.shot.picture_height_mm / 100 * self.per_mm / 2
        step = slice(2, None, 4)
        for x, y, size, angle in zip(
            plan.map.x_mm[step, step].ravel(),
            plan.map.y_mm[step, step].ravel(),
            plan.map.trail_percent[step, step].ravel(),
            plan.map.trail_angle_degrees[step, step].ravel(),
            strict=True,
        ):
            if math.isnan(size):
                continue
            px, py = self.at(x, y)
            if self.near_mark(px, py):
                continue
            dx = grow * size * math.cos(math.radians(angle))
            dy = grow * size * math.sin(math.radians(angle))
            self.picture.line(
                [(px - dx, py - dy), (px + dx, py + dy)], TRAIL, 2.6, 'stroke-linecap="round"'
            )

    def near_mark(self, x: float, y: float) -> bool:
        """Whether a place on the page is taken by a mark or its label."""
        marks = [self.plan.shortest, *([self.plan.target] if self.plan.target else [])]
        places = [self.at(m.x_mm, m.y_mm) for m in marks]
        return any(abs(x - a) < CLEAR_PX[0] and abs(y - b) < CLEAR_PX[1] for a, b in places)

    def numbers(self) -> None:
        """The longest time in words at a few places; the map's own values."""
        longest = self.plan.map
        for i in NUMBER_ROWS:
            for j in np.linspace(3, longest.x_mm.shape[1] - 4, NUMBER_COLUMNS).round().astype(int):
                value = float(longest.longest_s[i, j])
                x, y = self.at(float(longest.x_mm[i, j]), float(longest.y_mm[i, j]))
                if not math.isnan(value) and not self.near_mark(x, y):
                    self.picture.label(x, y + 5, time_text(value), 15)

    def mark(self, where: PlaceTime, words: str) -> None:
        shot = self.plan.shot
        half, tall = shot.width_mm * self.per_mm / 2, shot.height_mm * self.per_mm / 2
        x, y = self.at(where.x_mm, where.y_mm)
        x = min(max(x, self.x0 - half + 13), self.x0 + half - 13)
        y = min(max(y, self.y0 - tall + 13), self.y0 + tall - 13)
        self.picture.circle(x, y, 9, "none", f'stroke="{MARK}" stroke-width="2.2"')
        self.picture.circle(x, y, 9, "none", f'stroke="{INK}" stroke-width="0.8"')
        self.picture.circle(x, y, 2.4, MARK)
        right = x < self.x0 + half * 0.35
        self.picture.label(x + (15 if right else -15), y + 5, words, 15, _anchor(right))


def _anchor(right: bool) -> str:
    return "start" if right else "end"


def _aim_words(plan: Tonight) -> str:
    held = f", turned {plan.pointing.roll_degrees:g}°" if plan.pointing.roll_degrees else ""
    return (
        f"azimuth {plan.pointing.azimuth_degrees:.0f}°, "
        f"{plan.pointing.altitude_degrees:.0f}° high{held}"
    )


def _head(picture: Picture, plan: Tonight, title: str) -> None:
    picture.text(MARGIN_PX, 30, title, 19, INK, 'font-weight="bold"')
    when = f"{plan.place.name}, {plan.at:%A %d %B %Y, %H:%M}. {light_words(plan)}"
    picture.text(MARGIN_PX, 51, when, 13, INK)
    picture.text(MARGIN_PX, 70, f"Local time: {zone_words(plan.place, plan.at)}", 12, FAINT)


def _foot(picture: Picture, plan: Tonight, top: float, enlarged: float) -> None:
    chosen, other = plan.times.chosen, plan.times.other
    where, elsewhere = "at the frame's centre", "if every place must hold"
    if plan.times.holds_at == "corners":
        where, elsewhere = "anywhere in the sky shown", "for the centre alone"
    line = (
        f"Longest time with remote {seconds(chosen.remote_s)}, {seconds(chosen.dial_marked_s)} on "
        f"the dial, for a trail of at most {percent(plan.limit_percent)} of picture height "
        f"{where}; {seconds(other.remote_s)} {elsewhere}."
    )
    y = picture.paragraph(MARGIN_PX, top + 26, line, 14, INK, 'font-weight="bold"')
    legend = (
        f"Numbers: longest time at that place. Strokes: trails of {plan.exposure_s:g} s, drawn "
        f"{enlarged:g} times as long. Dashed band: galactic latitude -10° to 10°. Dotted lines: "
        "equal height, 15° apart. Circles: the place with the shortest time, and the Milky "
        "Way's centre. Stars to G 4.5. The air's lift near the horizon is in."
    )
    picture.paragraph(MARGIN_PX, y + 2, legend, 12.5)
