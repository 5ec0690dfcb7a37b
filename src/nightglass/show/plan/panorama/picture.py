"""A panorama plan drawn on the sky: frames, numbers, land and the Milky Way."""

from __future__ import annotations

import math

import numpy as np

from nightglass.optics.arrays import Floats
from nightglass.plan.camera import seen_from
from nightglass.plan.panorama.panorama import Panorama, PanoramaFrame
from nightglass.plan.panorama.sky import SkyThen, inside_band_degrees
from nightglass.show.plan.frame_words import shot_text
from nightglass.show.plan.night.text import zone_words
from nightglass.show.plan.panorama.words import area_words
from nightglass.show.svg import (
    BAND,
    FAINT,
    INK,
    LAND,
    LAND_EDGE,
    SKY,
    STAR,
    TRAIL,
    Picture,
    columns_path,
)

MARGIN_PX, TOP_PX, FOOT_PX = 46.0, 84.0, 96.0
LONGEST_PX = 1180.0
BAND_COLUMNS, BAND_ROWS = 1181, 181
ROW_COLOURS = (TRAIL, "#7fd1c7", "#e8e4d9", "#d58ad0")
ROW_DASHES = ("", "9 5", "2.5 4", "12 4 3 4")
"""Rows differ in dash first, in colour second."""


def panorama_picture(plan: Panorama, then: SkyThen | None = None) -> str:
    """Return the SVG of a plan: azimuth across, height upward, equal scales.

    then: the sky behind the frames; without it they stand on a level horizon.
    """
    chart = _Chart(plan)
    picture = chart.picture
    picture.text(MARGIN_PX, 30, _title(plan), 19, INK, 'font-weight="bold"')
    when = (
        ""
        if then is None
        else (f"{then.place.name}, {then.at:%d %B %Y, %H:%M} ({zone_words(then.place, then.at)}). ")
    )
    picture.text(MARGIN_PX, 52, f"{when}Covers {area_words(plan.area)}.", 13)
    picture.open_clip("sky", chart.left, TOP_PX, chart.width, chart.height)
    picture.rect(chart.left, TOP_PX, chart.width, chart.height, SKY)
    if then is not None:
        chart.sky(then)
    chart.land(then)
    for frame in plan.frames:
        chart.frame(frame)
    for frame in plan.frames:
        x, y = chart.at(frame.pointing.azimuth_degrees, frame.pointing.altitude_degrees)
        picture.label(x, y + 6, str(frame.number), 16)
    picture.close()
    chart.scales()
    y = TOP_PX + chart.height + 44
    y = picture.paragraph(MARGIN_PX, y, _summary(plan), 13.5, INK, 'font-weight="bold"')
    legend = (
        "Numbers: order of shooting. Each row has its own line. Frames are drawn as they lie on "
        "the sky: tilted ones widen upward."
    )
    if then is not None:
        legend += " Band: galactic latitude -10° to 10°, at the first frame. Stars to G 4."
    picture.paragraph(MARGIN_PX, y, legend, 12, FAINT)
    return picture.svg()


class _Chart:
    """Maps azimuth and height to the page."""

    def __init__(self, plan: Panorama):
        self.plan = plan
        outlines = [self._outline(frame) for frame in plan.frames]
        away = np.concatenate([o[1] for o in outlines])
        self.round = bool(away.max() - away.min() > 350)
        half = 180.0 if self.round else min(180.0, float(np.abs(away).max()) + 4)
        low = max(-40.0, float(min(o[0].min() for o in outlines)) - 3)
        # A frame that holds the zenith has its centre above its outline.
        tops = [float(o[0].max()) for o in outlines]
        tops += [frame.pointing.altitude_degrees + 3 for frame in plan.frames]
        tops.append(plan.area.high_degrees)
        high = min(90.0, max(tops) + 3)
        self.half, self.low, self.high = half, low, high
        self.per_degree = min(LONGEST_PX / (2 * half), 700.0 / (high - low))
        self.width, self.height = 2 * half * self.per_degree, (high - low) * self.per_degree
        page = max(self.width, 760.0) + 2 * MARGIN_PX
        self.left = (page - self.width) / 2
        self.picture = Picture(page, TOP_PX + self.height + FOOT_PX + 30, _title(plan))

    def away(self, azimuth: Floats | float) -> Floats:
        middle = self.plan.area.middle_degrees
        return (np.asarray(azimuth, dtype=np.float64) - middle + 180.0) % 360.0 - 180.0

    def at(self, azimuth: float, altitude: float) -> tuple[float, float]:
        x = self.left + (float(self.away(azimuth)) + self.half) * self.per_degree
        return x, TOP_PX + (self.high - altitude) * self.per_degree

    def frame(self, frame: PanoramaFrame) -> None:
        altitude, away = self._outline(frame)
        kind = (frame.row - 1) % len(ROW_COLOURS)
        dash = f'stroke-dasharray="{ROW_DASHES[kind]}"' if ROW_DASHES[kind] else ""
        for points in self._pieces(altitude, away):
            self.picture.line(points, ROW_COLOURS[kind], 2.0, dash)

    def land(self, then: SkyThen | None) -> None:
        away = np.linspace(-self.half, self.half, 241)
        heights = np.zeros_like(away)
        if then is not None:
            heights = then.horizon.height_at(self.plan.area.middle_degrees + away)
        top = [self._xy(a, h) for a, h in zip(away, heights, strict=True)]
        corners = [self._xy(self.half, self.low), self._xy(-self.half, self.low)]
        self.picture.polygon([*top, *corners], LAND)
        self.picture.line(top, LAND_EDGE, 1.5, "")

    def sky(self, then: SkyThen) -> None:
        # Over a grid, since an outline has no end on a flat map when it passes near the zenith.
        across = np.linspace(-self.half, self.half, BAND_COLUMNS)
        heights = np.linspace(self.low, self.high, BAND_ROWS)
        grid = np.meshgrid(self.plan.area.middle_degrees + across, heights)
        inside = inside_band_degrees(then, grid[1], grid[0])
        x = self.left + (across + self.half) * self.per_degree
        y = TOP_PX + (self.high - heights) * self.per_degree
        self.picture.path(columns_path(x, y, inside), BAND)
        altitude, away = then.star_altitude_degrees, self.away(then.star_azimuth_degrees)
        shown = (np.abs(away) < self.half) & (altitude > self.low) & (altitude < self.high)
        for a, h, g in zip(away[shown], altitude[shown], then.star_magnitude[shown], strict=True):
            self.picture.circle(*self._xy(a, h), max(0.8, 3.0 - 0.6 * float(g)), STAR)

    def scales(self) -> None:
        step = 30 if self.half > 70 else 10
        middle = self.plan.area.middle_degrees
        first = math.ceil((middle - self.half) / step) * step
        for azimuth in range(first, int(middle + self.half) + 1, step):
            x, _ = self._xy(azimuth - middle, 0)
            label = f"{azimuth % 360}°"
            foot = TOP_PX + self.height + 17
            self.picture.text(x, foot, label, 12, INK, 'text-anchor="middle"')
        for height in range(-30, 91, 15 if self.high - self.low > 50 else 5):
            if self.low < height < self.high:
                _, y = self._xy(0, height)
                x = self.left - 6
                self.picture.text(x, y + 4, f"{height}°", 12, INK, 'text-anchor="end"')

    def _xy(self, away: float, altitude: float) -> tuple[float, float]:
        x = self.left + (float(away) + self.half) * self.per_degree
        return x, TOP_PX + (self.high - float(altitude)) * self.per_degree

    def _outline(self, frame: PanoramaFrame) -> tuple[Floats, Floats]:
        shot = self.plan.shot
        t = np.linspace(-1, 1, 41)
        one = np.ones_like(t)
        x = np.concatenate([t, one, -t, -one]) * shot.width_mm / 2
        y = np.concatenate([-one, t, one, -t]) * shot.height_mm / 2
        altitude, azimuth = seen_from(shot, frame.pointing, x, y)
        known = ~np.isnan(altitude)
        return altitude[known], self.away(azimuth[known])

    def _pieces(self, altitude: Floats, away: Floats) -> list[list[tuple[float, float]]]:
        """The outline cut where it leaves the map on one side and comes back on the other."""
        cuts = np.flatnonzero(np.abs(np.diff(away)) > 120) + 1
        pieces = zip(np.split(away, cuts), np.split(altitude, cuts), strict=True)
        return [[self._xy(a, h) for a, h in zip(x, y, strict=True)] for x, y in pieces]


def _title(plan: Panorama) -> str:
    counts = " + ".join(str(row.frames) for row in plan.rows)
    split = f" ({counts})" if len(plan.rows) > 1 else ""
    return f"Panorama of {len(plan.frames)} frames{split}, {shot_text(plan.shot)}"


def _summary(plan: Panorama) -> str:
    rows = "; ".join(
        f"Row {k}: {row.frames} at {row.altitude_degrees:.0f}°, every {row.step_degrees:.0f}°"
        for k, row in enumerate(plan.rows, start=1)
    )
    return (
        f"{rows}. {plan.pace.exposure_s:.0f} s each, {plan.total_s / 60:.0f} min in all, "
        f"{plan.megabytes / 1000:.1f} GB."
    )
