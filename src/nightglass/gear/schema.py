"""What may stand in bench.toml: keys, units and limits, each with the words for its error."""

from __future__ import annotations

from typing import Annotated

from pydantic import BeforeValidator, Field, model_validator

from nightglass.gear.benchfile import (
    DEFAULT_WITHIN_PERCENT,
    HoldsAt,
    LimitAt,
    LimitOn,
    ReleaseName,
    RuleName,
)
from nightglass.gear.body import Mosaic
from nightglass.gear.lens import ProjectionName
from nightglass.gear.purpose_words import PURPOSE_WORDS, purpose_of
from nightglass.gear.schema_values import (
    LONGEST_EXPOSURE_S,
    FNumber,
    FocalMm,
    Iso,
    Name,
    Names,
    Table,
    one_or_two,
)


class BodyTable(Table):
    """[body]"""

    name: Name = Field(description='the body\'s name, such as "Loan body 10 MP"')
    pitch_um: float = Field(gt=0.5, lt=30, description="pixel pitch in um, such as 6.05")
    width_px: int = Field(ge=64, le=100_000, description="pixels across, such as 3872")
    height_px: int = Field(ge=64, le=100_000, description="pixels down, such as 2592")
    mosaic: Mosaic = Field("bayer", description='"bayer", "6x6" or "none"')
    serial: str | None = Field(None, description="a text in quotes")
    firmware: str | None = Field(None, description="a text in quotes")
    recorded_as: Names = Field((), description="the name that the camera writes into its files")
    dial_end_s: float = Field(30.0, gt=0, le=3600, description="longest marked time, such as 30")
    iso_steps: tuple[Iso, ...] = Field((), description="a list such as [400, 800, 1600, 3200]")
    second_gain_iso: Iso | None = Field(None, description="an ISO step, such as 640")
    read_noise_e: dict[Iso, Annotated[float, Field(gt=0, le=200)]] = Field(
        default_factory=dict, description="electrons by ISO, such as { 800 = 3.1, 1600 = 2.6 }"
    )
    gain_e_per_count: dict[Iso, Annotated[float, Field(gt=0, le=200)]] = Field(
        default_factory=dict, description="electrons per count by ISO, such as { 800 = 0.9 }"
    )
    efficiency: float | None = Field(None, gt=0, le=1, description="a share from 0 to 1")


class LensTable(Table):
    """[[lens]]"""

    name: Name = Field(description='the lens\'s name, such as "Wren 12 mm f/2"')
    focal_mm: Annotated[tuple[FocalMm, FocalMm], BeforeValidator(one_or_two)] = Field(
        description="mm above 0: 20, or [11, 18] for a zoom"
    )
    f_number: Annotated[tuple[FNumber, FNumber], BeforeValidator(one_or_two)] = Field(
        description="wide open, 0.5 to 64: 1.8, or [2.5, 4.5] for the short and long end of a zoom"
    )
    serial: str | None = Field(None, description="a text in quotes")
    recorded_as: Names = Field((), description="names that cameras write for it, in quotes")
    projection: ProjectionName = Field(
        "rectilinear", description='"rectilinear", "equidistant", "equisolid" or "stereographic"'
    )
    transmission: float | None = Field(None, gt=0, le=1, description="a share from 0 to 1")
    transmission_err: float | None = Field(
        None, gt=0, lt=1, description="its error (1 sigma), such as 0.02; needs transmission"
    )
    t_stop: float | None = Field(None, ge=0.5, le=64, description="a number such as 2.2")
    notes: str = Field("", description="a text in quotes")
    focus: str = Field(
        "", max_length=120, description="for the card, in at most 120 letters: how to focus it"
    )

    zoom_marks_mm: tuple[FocalMm, ...] = Field(
        (), description="zoom marks to test, such as [11, 14, 18]"
    )

    @model_validator(mode="after")
    def _short_end_first(self) -> LensTable:
        if self.focal_mm[0] > self.focal_mm[1]:
            raise ValueError("focal_mm: the short end of a zoom comes first, such as [11, 18]")
        if self.transmission_err is not None and self.transmission is None:
            raise ValueError("transmission_err is the error of transmission: give both")
        low, high = self.focal_mm
        if any(not low <= mark <= high for mark in self.zoom_marks_mm):
            raise ValueError(f"zoom_marks_mm: marks of this lens lie from {low:g} to {high:g} mm")
        return self


class PlaceTable(Table):
    """[[place]]"""

    name: Name = Field(description='such as "centre" or "corner top left"')
    x_percent: float | None = Field(None, ge=0, le=100, description="0 left to 100 right")
    y_percent: float | None = Field(None, ge=0, le=100, description="0 top to 100 bottom")
    field_radius: float | None = Field(None, ge=0, le=1, description="0 centre to 1 corner")
    direction_degrees: float | None = Field(
        None, ge=-360, le=360, description="from the centre: 0 right, 90 down, 180 left, 270 up"
    )
    within_percent: float = Field(
        DEFAULT_WITHIN_PERCENT, gt=0, le=100, description="% of picture height, such as 15"
    )

    @model_validator(mode="after")
    def _one_way(self) -> PlaceTable:
        percent = (self.x_percent is not None, self.y_percent is not None)
        radius = self.field_radius is not None
        if self.name == "centre" and not any(percent) and not radius:
            return self
        if not (all(percent) ^ radius) or any(percent) != all(percent):
            raise ValueError(
                "a place needs either x_percent and y_percent, or field_radius "
                "(with direction_degrees off the centre)"
            )
        if radius and self.field_radius and self.direction_degrees is None:
            raise ValueError(
                "field_radius off the centre needs direction_degrees (0 right, 90 down)"
            )
        return self


class FramesTable(Table):
    """[[frames]]"""

    match: Name = Field(description='a pattern of names below frames/, such as "wren/*.dng"')
    lens: Name | None = Field(None, description="the name of a [[lens]]")
    focal_mm: FocalMm | None = Field(None, description="mm above 0")
    f_number: FNumber | None = Field(None, description="0.5 to 64")
    place: Name | None = Field(None, description="the name of a place")
    iso: Iso | None = Field(None, description="10 or more")
    exposure_s: float | None = Field(
        None, gt=0, le=LONGEST_EXPOSURE_S, description=f"above 0, at most {LONGEST_EXPOSURE_S:g} s"
    )
    near: tuple[float, float] | None = Field(None, description="raw pixels, such as [1936, 1296]")
    body: Name | None = Field(None, description="the name of the [body]")
    session: Name | None = Field(None, description="a text in quotes")
    leave_out: Name | None = Field(None, description="the reason, in quotes")


class BenchTable(Table):
    """[bench]"""

    name: Name | None = Field(None, description="a text in quotes")
    distance_m: float | None = Field(None, gt=0, le=10_000, description="metres above 0")
    source_diameter_mm: float | None = Field(None, gt=0, le=1000, description="mm above 0")
    session: Name | None = Field(None, description="a text in quotes")
    notes: str = Field("", description="a text in quotes")
    store: Name | None = Field(None, description="a database address; leave out for bench.sqlite")


class PurposeTable(Table):
    """[purpose]"""

    words: str | None = Field(None, description=PURPOSE_WORDS)
    limit_percent: float | None = Field(
        None, gt=0, le=10, description="% of picture height, such as 0.25"
    )
    limit_on: LimitOn = Field("lens", description='"lens" or "with trail"')
    limit_at: LimitAt = Field("worst", description='"worst" or "mean"')

    @model_validator(mode="after")
    def _known_words(self) -> PurposeTable:
        if (self.words or "").strip() and purpose_of(self.words or "") is None:
            raise ValueError(f'words = "{self.words}" is not understood; allowed: {PURPOSE_WORDS}')
        return self

    @model_validator(mode="after")
    def _limit_has_a_size(self) -> PurposeTable:
        if self.limit_percent is None and (self.limit_on, self.limit_at) != ("lens", "worst"):
            raise ValueError("limit_on and limit_at belong to a limit: give limit_percent as well")
        return self


class TimeTable(Table):
    """[time]"""

    rule: RuleName = Field(
        "trail",
        description='"trail", "360 rule", "500 rule", "300 rule", "npf simple", "npf full", '
        '"pixels" or "share of blur"',
    )
    release: ReleaseName = Field("dial", description='"dial" or "remote"')
    holds_at: HoldsAt = Field("centre", description='"centre" or "corners"')
    declination_degrees: float = Field(0.0, ge=-90, le=90, description="-90 to 90")
    trail_percent: float | None = Field(None, gt=0, le=50, description="% of picture height")
    pixels: float | None = Field(None, gt=0, le=1000, description="pixels above 0")
    share: float | None = Field(None, gt=0, le=20, description="trail over blur, such as 0.7")

    @model_validator(mode="after")
    def _amount_for_rule(self) -> TimeTable:
        needs = {"pixels": "pixels", "share of blur": "share"}
        for rule, key in needs.items():
            given = getattr(self, key) is not None
            if given != (self.rule == rule):
                raise ValueError(f'rule = "{rule}" and {key} go together: give both or neither')
        if self.trail_percent is not None and self.rule != "trail":
            raise ValueError(
                f'trail_percent belongs to rule = "trail", and the rule here is "{self.rule}": '
                "take one of the two away"
            )
        return self


class ReferenceTable(Table):
    """[score] reference"""

    lens: Name = Field(description="the name of a [[lens]]")
    focal_mm: FocalMm | None = Field(None, description="mm above 0")
    f_number: FNumber = Field(description="0.5 to 64")


class ScoreTable(Table):
    """[score]"""

    a: float = Field(0.5, ge=0, le=1, description="0 to 1: the weight of the stars")
    b: float | None = Field(None, ge=0, le=1, description="0 to 1: the weight of the glow, 1 - a")
    reference: ReferenceTable | None = Field(
        None, description='such as { lens = "Wren 12 mm f/2", f_number = 2.8 }'
    )

    @model_validator(mode="after")
    def _weights_share_one(self) -> ScoreTable:
        if self.b is not None and abs(self.a + self.b - 1) > 1e-9:
            raise ValueError(
                f"a = {self.a:g} and b = {self.b:g} add up to {self.a + self.b:g}; they share 1 "
                "between them: give a alone, and b is the rest"
            )
        return self


class SkyTable(Table):
    """[sky]"""

    brightness_mag_per_arcsec2: float | None = Field(
        None, ge=10, le=23, description="10 to 23, such as 21.5"
    )
    extinction_mag: float | None = Field(None, ge=0, le=3, description="mag per airmass, 0 to 3")
    airmass: float | None = Field(None, ge=1, le=40, description="1 overhead, 2 at 30 degrees")


class SiteTable(Table):
    """[site]"""

    name: Name | None = Field(None, description="what you call the place, for plans and cards")
    place: Name | None = Field(None, description='such as "52.1 N 4.4 E"')
    zone: Name | None = Field(None, description='such as "Europe/Amsterdam"')
    height_m: float | None = Field(None, ge=-500, le=9000, description="metres above the sea")
    horizon: float | tuple[tuple[float, float], ...] | None = Field(
        None,
        description="degrees, or a list such as [[0, 5], [60, 12], [120, 3], ...] of azimuth and "
        "height, at least every 60 degrees",
    )


class PlanTable(Table):
    """[plan]"""

    hours: float | None = Field(None, gt=0, le=1000, description="time at the bench, such as 4")
    room_m: float | None = Field(
        None, gt=0, le=10_000, description="longest distance that there is, metres"
    )
    tell_percent: float = Field(
        10.0, ge=0.5, le=200, description="difference of blur to tell apart, %, such as 10"
    )
    scatter_percent: float | None = Field(
        None, gt=0, le=100, description="your guess of how far one repeat scatters, %, such as 5"
    )
    repeats: int | None = Field(None, ge=1, le=100, description="frames with refocusing, such as 5")
    pace: float = Field(1.0, ge=0.2, le=10, description="times the usual minutes: 1.5 for slower")
    f_numbers: tuple[FNumber, ...] = Field((), description="marks to test, such as [2, 2.8, 4]")
    reference: Name | None = Field(None, description="the name of a [[lens]]")


class BenchToml(Table):
    """The whole file."""

    body: BodyTable = Field(description="a table [body]")
    lens: tuple[LensTable, ...] = Field(
        min_length=1, description="one table [[lens]] for each lens"
    )
    place: tuple[PlaceTable, ...] = Field((), description="tables [[place]]")
    frames: tuple[FramesTable, ...] = Field((), description="tables [[frames]]")
    bench: BenchTable = Field(default_factory=BenchTable, description="a table [bench]")
    purpose: PurposeTable = Field(default_factory=PurposeTable, description="a table [purpose]")
    time: TimeTable = Field(default_factory=TimeTable, description="a table [time]")
    score: ScoreTable = Field(default_factory=ScoreTable, description="a table [score]")
    sky: SkyTable = Field(default_factory=SkyTable, description="a table [sky]")
    site: SiteTable = Field(default_factory=SiteTable, description="a table [site]")
    plan: PlanTable = Field(default_factory=PlanTable, description="a table [plan]")
