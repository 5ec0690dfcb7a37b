"""What may stand in bench.toml: keys, units and limits, each with the words for its error."""

from __future__ import annotations

from typing import Annotated

from pydantic import BeforeValidator, Field, model_validator

from nightglass.gear.benchfile import (
    DEFAULT_WITHIN_PERCENT,
)
from nightglass.gear.body import Mosaic
from nightglass.gear.kinds import (
    LARGEST_PITCH_UM,
    LONGEST_EXPOSURE_S,
    LONGEST_TEXT,
    SMALLEST_PITCH_UM,
    FNumber,
    FocalMm,
    Iso,
    Name,
    RecordedNames,
    Table,
    Text,
    one_or_two,
)
from nightglass.gear.lens import MarksToward, ProjectionName
from nightglass.gear.schema_choices import (
    PlanTable,
    PurposeTable,
    ScoreTable,
    SiteTable,
    SkyTable,
    TimeTable,
)


class BodyTable(Table):
    """[body]"""

    name: Name = Field(description='the body\'s name, such as "Loan body 10 MP"')
    pitch_um: float = Field(
        gt=SMALLEST_PITCH_UM, lt=LARGEST_PITCH_UM, description="pixel pitch in um, such as 6.05"
    )
    width_px: int = Field(ge=64, le=100_000, description="pixels across, such as 3872")
    height_px: int = Field(ge=64, le=100_000, description="pixels down, such as 2592")
    mosaic: Mosaic = Field("bayer", description='"bayer", "6x6" or "none"')
    serial: str | None = Field(None, description="a text in quotes")
    firmware: str | None = Field(None, description="a text in quotes")
    recorded_as: RecordedNames = Field(
        (), description="the name that the camera writes into its files"
    )
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


class OtherBodyTable(BodyTable):
    """[[other_body]]"""


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
    recorded_as: RecordedNames = Field((), description="names that cameras write for it, in quotes")
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
        "",
        max_length=LONGEST_TEXT,
        description="for the card, in at most 120 letters: how to focus it",
    )

    focus_marks_toward: MarksToward | None = Field(
        None, description='"near" or "infinity": the end to which higher focus marks run'
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

    match: Text = Field(description='a pattern of names below frames/, such as "wren/*.dng"')
    lens: Name | None = Field(None, description="the name of a [[lens]]")
    focal_mm: FocalMm | None = Field(None, description="mm above 0")
    f_number: FNumber | None = Field(None, description="0.5 to 64")
    place: Name | None = Field(None, description="the name of a place")
    iso: Iso | None = Field(None, description="10 or more")
    exposure_s: float | None = Field(
        None, gt=0, le=LONGEST_EXPOSURE_S, description=f"above 0, at most {LONGEST_EXPOSURE_S:g} s"
    )
    near: tuple[float, float] | None = Field(None, description="raw pixels, such as [1936, 1296]")
    body: Name | None = Field(None, description="the name of [body] or an [[other_body]]")
    session: Name | None = Field(None, description="a text in quotes")
    series: Name | None = Field(
        None, description="frames of a study, kept out of the ranking: a name in quotes"
    )
    focus_mark: float | None = Field(
        None, ge=-1e6, le=1e6, description="where the focus stood: ring mark, scale or step"
    )
    refocused: bool | None = Field(None, description="true or false: focused anew for each frame")
    distance_m: float | None = Field(
        None, gt=0, le=10_000, description="of the source for these frames, metres above 0"
    )
    source_diameter_mm: float | None = Field(
        None, gt=0, le=1000, description="of the source for these frames, mm above 0"
    )
    roll_degrees: float | None = Field(
        None, ge=-360, le=360, description="camera turned about the line of sight, such as 180"
    )
    leave_out: Text | None = Field(None, description="the reason, in quotes")


class BenchTable(Table):
    """[bench]"""

    name: Name | None = Field(None, description="a text in quotes")
    distance_m: float | None = Field(None, gt=0, le=10_000, description="metres above 0")
    source_diameter_mm: float | None = Field(None, gt=0, le=1000, description="mm above 0")
    session: Name | None = Field(None, description="a text in quotes")
    notes: str = Field("", description="a text in quotes")
    store: Text | None = Field(None, description="a database address; leave out for bench.sqlite")


class BenchToml(Table):
    """The whole file."""

    body: BodyTable = Field(description="a table [body]")
    other_body: tuple[OtherBodyTable, ...] = Field(
        (), description="one table [[other_body]] for each further body, with the keys of [body]"
    )
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
