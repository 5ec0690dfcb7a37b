"""What the planner's codes mean, as docs/glossary.md lists them."""

from __future__ import annotations

from nightglass.almanac.codes import (
    MoonCode,
    MoonPhase,
    PlaceCautionCode,
    SunCode,
    TargetCode,
    ZoneSource,
)
from nightglass.plan.codes import (
    AgainstCode,
    AreaKind,
    BlueHourCode,
    CautionCode,
    FramePlace,
    GearNoteCode,
    LandLightSource,
    LightCode,
    PanoramaRemark,
    SeasonCode,
    StackRemark,
)
from nightglass.show.plan.caution_words import CAUTIONS
from nightglass.show.plan.frame_words import PLACE_WORDS
from nightglass.show.plan.night.words import PHASE_WORDS

SUN: dict[SunCode, str] = {
    SunCode.STAYS_UP: "the sun does not set: there is no night",
    SunCode.NO_FULL_DARKNESS: "the sun goes no lower than `lowest_degrees`, which is above -18",
    SunCode.DARK_ALL_DAY: "the sun stays below -18 degrees",
    SunCode.STAYS_DOWN: "the sun does not rise; it gets light at noon",
}
MOON: dict[MoonCode, str] = {
    MoonCode.DOWN_ALL_DAY: "no dark time, and the moon does not rise",
    MoonCode.UP_ALL_DAY: "no dark time, and the moon does not set",
    MoonCode.UP_ALL_NIGHT: "the moon is up through all dark hours",
    MoonCode.DOWN_ALL_NIGHT: "the moon is down through all dark hours",
}
TARGET: dict[TargetCode, str] = {
    TargetCode.NEVER_RISES: "the target stays below this horizon",
    TargetCode.NO_MOONLESS_DARK: "the night has no time that is dark and moonless",
    TargetCode.NOT_UP_THEN: "the target is up in daylight, twilight or moonlight only",
    TargetCode.NEVER_SETS: "the target stays above this horizon",
}
PHASE: dict[MoonPhase, str] = {
    phase: f"{words} (within half a day of it)" if phase.value.endswith(("moon", "quarter"))
    else words
    for phase, words in PHASE_WORDS.items()
}  # fmt: skip
ZONE: dict[ZoneSource, str] = {
    ZoneSource.GIVEN: "as typed or kept in bench.toml",
    ZoneSource.NEAREST_TOWN: "that of the nearest town in the zone table",
    ZoneSource.LONGITUDE: "the whole hour nearest to the longitude",
}
PLACE_CAUTION: dict[PlaceCautionCode, str] = {
    PlaceCautionCode.COORDINATES_SWAPPED: "`here_km` from the zone's town; with latitude and "
    "longitude swapped `swapped_km`",
    PlaceCautionCode.EAST_WEST_SWAPPED: "`here_km` from the zone's town; with east and west "
    "swapped `swapped_km`",
    PlaceCautionCode.NORTH_SOUTH_SWAPPED: "`here_km` from the zone's town; with north and south "
    "swapped `swapped_km`",
    PlaceCautionCode.CLOCK_OFF_THE_SUN: "the zone's clock is `off_the_sun_h` hours off the sun",
}
BLUE_HOUR: dict[BlueHourCode, str] = {
    BlueHourCode.SUN_DOES_NOT_PASS: "the sun does not pass from -4 to -8 degrees this night",
}
SEASON: dict[SeasonCode, str] = {
    SeasonCode.TARGET_NEVER_IN_THE_DARK: "the target is never up for half an hour of dark, "
    "moonless time: nights are chosen by dark and moonless hours",
    SeasonCode.NO_MOONLESS_DARK: "no night has half an hour that is dark and moonless",
}
LIGHT: dict[LightCode, str] = {
    LightCode.SUN_UP: "the sun is up",
    LightCode.TWILIGHT: "the sun is down, above -18 degrees",
    LightCode.DARK: "the sun is below -18 degrees",
}
LAND_LIGHT: dict[LandLightSource, str] = {
    LandLightSource.MOONLIGHT: "the moon gives more than twice what the stars give",
    LandLightSource.STARLIGHT: "stars and airglow, the moon low, thin or down",
}
PLACE: dict[FramePlace, str] = {
    place: f"{words} of the frame" if place is FramePlace.CENTRE else words
    for place, words in PLACE_WORDS.items()
}
AREA: dict[AreaKind, str] = {
    AreaKind.BOX: "an azimuth and two heights, in `width_degrees`, `middle_degrees`, "
    "`low_degrees`, `high_degrees`",
    AreaKind.LIKE_FRAME: "what another lens shows: `focal_mm`, `altitude_degrees`",
    AreaKind.ARCH: "the Milky Way from horizon to horizon: `top_degrees`, `width_degrees`",
}
PANORAMA: dict[PanoramaRemark, str] = {
    PanoramaRemark.LONG: "takes longer than common practice keeps the sky rows",
    PanoramaRemark.DARK_FRAME: "the in-camera dark frame doubles the time",
    PanoramaRemark.JOIN_APART: "the sky turns by `row_drift_degrees` between rows: join the sky by "
    "its stars, the land by itself",
    PanoramaRemark.LEVEL_BASE: "level the base, keep focus, exposure and white balance",
}
AGAINST: dict[AgainstCode, str] = {
    AgainstCode.STACK_AS_DEEP: "in the same time a stack of wide frames is as deep",
    AgainstCode.PANORAMA_DEEPER: "in the same time the panorama is deeper",
}
STACK: dict[StackRemark, str] = {
    StackRemark.MORE_LIGHT: "`stops` more light than one frame, noise `noise_share` of its noise",
    StackRemark.WILL_DRIFT: "stars will leave the common field after `useful_frames`",
    StackRemark.HAS_DRIFTED: "stars leave the common field before the stack ends",
    StackRemark.READ_NOISE: "read noise lengthens each frame's noise by more than 5 %",
    StackRemark.LAND_SMEARS: "the land smears by `drift_percent` of picture height",
}
GEAR: dict[GearNoteCode, str] = {
    GearNoteCode.BEST_ON_BENCH: "the best setting of `lens` on the bench, at `place` in the "
    "ranking",
    GearNoteCode.ON_BODY: "the bench has several bodies: this is for `body`",
    GearNoteCode.WIDE_OPEN: "`lens` is taken wide open: nothing measured says better",
    GearNoteCode.BODY_TAKEN: "no body was named: `sensor` and `pixels` were taken",
    GearNoteCode.FALLOFF_LIMITS: "past the middle `percent` % of each side a star loses more than "
    "a stop of light, and seams leave that out; `known_from` says where it was measured",
}
CAUTION: dict[CautionCode, str] = CAUTIONS
