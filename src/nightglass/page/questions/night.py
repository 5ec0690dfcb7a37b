"""Night: where, when, what to set, how many frames."""

from __future__ import annotations

from nightglass.gear.benchfile import BenchFile
from nightglass.page.asks import RELEASE, Ask, AskedStep, Field, Settings, Typed, told
from nightglass.page.jobs import Tell, Told
from nightglass.plan.night.wished import wished_nights, wished_season
from nightglass.plan.night.wished_tonight import wished_tonight
from nightglass.plan.panorama.wished import wished_panorama
from nightglass.plan.wished_stack import wished_stack
from nightglass.plan.wishes import (
    AreaWish,
    FrameTimeWish,
    GearWish,
    LookWish,
    NightsWish,
    PanoramaWish,
    PlaceWish,
    SeasonWish,
    StackGoalWish,
    StackWish,
    TonightWish,
    WhenWish,
)
from nightglass.show.plan.night.text import night_parts, nights_parts
from nightglass.show.plan.night.tonight_picture import write_tonight
from nightglass.show.plan.night.tonight_text import tonight_parts
from nightglass.show.plan.panorama.files import write_panorama
from nightglass.show.plan.panorama.stack import stack_parts
from nightglass.show.plan.panorama.text import panorama_parts
from nightglass.show.plan.season.files import write_season
from nightglass.show.plan.season.text import season_parts


def _place(bench: BenchFile) -> tuple[Field, ...]:
    known = bench.site.name or bench.site.place or ""
    return (
        Field("at", "Place", hint=known or "52.1 N 4.4 E"),
        Field("zone", "Time zone", hint=bench.site.zone or "Europe/Amsterdam or UTC+2"),
        Field("horizon", "Height of the land, degrees", hint="10, or 0:5, 60:12"),
    )


def _gear(bench: BenchFile) -> tuple[Field, ...]:
    lenses = (("", "choose a lens"), *((lens.name, lens.name) for lens in bench.lenses))
    return (
        Field("lens", "Lens", "choice", value=bench.lenses[0].name, choices=lenses),
        Field("focal", "Focal length, mm", "number", hint="of its best setting"),
        Field("f", "F-number", "number", hint="of its best setting"),
    )


def _when() -> tuple[Field, ...]:
    return (
        Field("date", "Evening", "date"),
        Field("time", "Local time", hint="the best time of the night"),
    )


def _night_fields(bench: BenchFile, settings: Settings) -> tuple[Field, ...]:
    return (
        *_place(bench),
        Field("date", "When", hint="the coming night; or 2027-05-06, 2027-05"),
    )


def _season_fields(bench: BenchFile, settings: Settings) -> tuple[Field, ...]:
    return (
        *_place(bench),
        Field("date", "From", "date"),
        Field("nights", "Nights", "number", value="365"),
    )


def _tonight_fields(bench: BenchFile, settings: Settings) -> tuple[Field, ...]:
    aim = Field("aim", "Aim", value=LookWish().aim, hint='or azimuth and height: "180 25"')
    return (*_gear(bench), aim, *_when(), *_place(bench))


def _panorama_fields(bench: BenchFile, settings: Settings) -> tuple[Field, ...]:
    return (
        *_gear(bench),
        Field("width", "Degrees across", "number", value="180"),
        Field("heights", "Lowest and greatest height", value=AreaWish().heights),
        Field("middle", "Azimuth of the middle", "number", value="180"),
        RELEASE,
        *_when(),
        *_place(bench),
    )


def _stack_fields(bench: BenchFile, settings: Settings) -> tuple[Field, ...]:
    return (
        *_gear(bench),
        Field("aim", "Aim: azimuth and height", value=StackGoalWish().aim),
        Field("frames", "Frames", "number", value="16"),
        RELEASE,
        *_place(bench),
    )


def _placed(typed: Typed) -> PlaceWish:
    return PlaceWish(typed.text("at"), typed.text("zone"), None, typed.text("horizon"))


def _geared(typed: Typed) -> GearWish:
    return GearWish(typed.text("lens"), typed.number("focal", "20"), typed.number("f", "2.8"))


def _night(bench: BenchFile, typed: Typed, tell: Tell) -> Told:
    plans = wished_nights(NightsWish(typed.text("date"), place=_placed(typed)), bench.folder)
    return told(night_parts(plans[0]) if len(plans) == 1 else nights_parts(plans))


def _season(bench: BenchFile, typed: Typed, tell: Tell) -> Told:
    nights = typed.count("nights", "365") or 365
    wish = SeasonWish(typed.text("date"), nights, place=_placed(typed))
    plan = wished_season(wish, bench.folder)
    return told(season_parts(plan), write_season(plan, bench.folder / "out"))


def _tonight(bench: BenchFile, typed: Typed, tell: Tell) -> Told:
    when = WhenWish(typed.text("date"), typed.text("time"))
    look = LookWish(typed.text("aim") or LookWish().aim)
    plan = wished_tonight(TonightWish(look, _geared(typed), _placed(typed), when), bench.folder)
    return told(tonight_parts(plan), write_tonight(plan.settings, bench.folder / "out"))


def _panorama(bench: BenchFile, typed: Typed, tell: Tell) -> Told:
    area = AreaWish(
        typed.number("width", "180"),
        typed.text("heights") or AreaWish().heights,
        typed.number("middle", "180") or 0.0,
    )
    wish = PanoramaWish(
        area,
        time=FrameTimeWish(remote=typed.remote()),
        gear=_geared(typed),
        place=_placed(typed),
        when=WhenWish(typed.text("date"), typed.text("time")),
    )
    plan = wished_panorama(wish, bench.folder)
    return told(panorama_parts(plan), write_panorama(plan, bench.folder / "out"))


def _stack(bench: BenchFile, typed: Typed, tell: Tell) -> Told:
    goal = StackGoalWish(typed.text("aim") or StackGoalWish().aim, typed.count("frames", "16"))
    time = FrameTimeWish(remote=typed.remote())
    wish = StackWish(goal, time, gear=_geared(typed), place=_placed(typed))
    return told(stack_parts(wished_stack(wish, bench.folder)))


NIGHT = AskedStep(
    "night",
    "Night",
    "When it is dark, what to set, and how many frames.",
    (
        Ask(
            "night",
            "One night",
            "When it is dark, where the moon is, and when the Milky Way's centre is up.",
            "Show the night",
            _night_fields,
            _night,
        ),
        Ask(
            "season",
            "The season",
            "A year of nights at one place, the best of each moonless run, as a calendar too.",
            "Draw the season",
            _season_fields,
            _season,
        ),
        Ask(
            "tonight",
            "What to set",
            "The longest times for one frame of that night's sky, and its trails.",
            "Work it out",
            _tonight_fields,
            _tonight,
        ),
        Ask(
            "panorama",
            "Panorama",
            "Rows and columns of frames, their order and their time.",
            "Plan the panorama",
            _panorama_fields,
            _panorama,
        ),
        Ask(
            "stack",
            "Stack",
            "How many frames, and when more of them stop helping.",
            "Plan the stack",
            _stack_fields,
            _stack,
        ),
    ),
)
