"""What a person may choose in bench.toml: purpose, time, score, sky, site, the session's plan."""

from __future__ import annotations

from pydantic import Field, model_validator

from nightglass.gear.benchfile import (
    HoldsAt,
    LimitAt,
    LimitOn,
    ReleaseName,
    RuleName,
)
from nightglass.gear.kinds import (
    FNumber,
    FocalMm,
    Name,
    Table,
)
from nightglass.gear.purpose_words import PURPOSE_WORDS, purpose_of


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
