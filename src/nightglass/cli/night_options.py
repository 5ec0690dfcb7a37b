"""Options of the night planner's commands: names and help, once for all of them."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from nightglass.plan import wishes

FolderArgument = Annotated[
    Path, typer.Argument(help="Bench folder whose bench.toml keeps site and gear.")
]
JsonOption = Annotated[bool, typer.Option("--json", help="Print plain data instead of text.")]

_AT = typer.Option(
    "--at",
    help='Place: "52.1 N 4.4 E", or the name of the site of bench.toml; without it that site.',
)
_ZONE = typer.Option("--zone", help="Time zone, like Europe/Paris or UTC+2.")
AtOption = Annotated[str | None, _AT]
ZoneOption = Annotated[str | None, _ZONE]

_TARGET = typer.Option("--target", help='Name, or right ascension and declination: "266.4 -29.0".')
_SKY = typer.Option("--sky", help="Your sky without moon (magnitudes per square arcsecond).")

OPTIONS = {
    wishes.PlaceWish: {
        "at": _AT,
        "zone": _ZONE,
        "height_m": typer.Option("--height", help="Height of the place above the sea (m)."),
        "horizon": typer.Option(
            "--horizon",
            help='Height of the land (degrees): "10", "0:5, 60:12, ..." or a file of it.',
        ),
    },
    wishes.WhenWish: {
        "date": typer.Option("--date", help="Evening of the night; without it the coming one."),
        "time": typer.Option("--time", help="Local clock, 23:15; without it the best time."),
    },
    wishes.GearWish: {
        "lens": typer.Option("--lens", help="Lens of the bench: its name or a part of it."),
        "focal_mm": typer.Option("--focal", help="Focal length (mm)."),
        "f_number": typer.Option("--f", help="Marked f-number."),
        "sensor": typer.Option("--sensor", help='Without a bench: "36x24" mm, long side first.'),
        "pixels": typer.Option("--pixels", help='Without a bench: "6000x4000", long side first.'),
        "portrait": typer.Option(
            "--portrait/--landscape",
            help="How the camera is held; without it upright for panoramas, else level.",
        ),
        "trail_percent": typer.Option(
            "--trail", help="Longest trail, % of picture height; without it as bench.toml says."
        ),
        "body": typer.Option(
            "--body", help="Body of the bench, or a part of its name; without it the main body."
        ),
    },
    wishes.FrameTimeWish: {
        "exposure_s": typer.Option(
            "--exposure", help="True time of a frame (s); without it the longest allowed."
        ),
        "remote": typer.Option(
            "--remote/--dial",
            help="How the shutter is released; without it as bench.toml says, else a remote.",
        ),
    },
    wishes.AreaWish: {
        "width_degrees": typer.Option("--width", help="Azimuth to cover (degrees)."),
        "heights": typer.Option(
            "--heights", help="Lowest and greatest height (degrees), like -5..60."
        ),
        "middle_degrees": typer.Option("--middle", help="Azimuth of the middle (degrees)."),
        "like_mm": typer.Option("--like", help="Cover what this focal length shows (mm)."),
        "like_height_degrees": typer.Option(
            "--like-height", help="How high that frame is aimed (degrees)."
        ),
        "arch": typer.Option("--arch", help="Cover the Milky Way's arch."),
    },
    wishes.WideWish: {
        "wide_focal_mm": typer.Option(
            "--wide", help="Hold against one frame of this focal length (mm)."
        ),
        "wide_f_number": typer.Option("--wide-f", help="Its f-number."),
    },
    wishes.OverlapWish: {
        "overlap_percent": typer.Option("--overlap", help="Overlap (%)."),
        "usable_percent": typer.Option(
            "--usable", help="Good middle part of the frame's sides (%)."
        ),
    },
    wishes.PaceWish: {
        "saving_s": typer.Option("--saving", help="Saving time (s)."),
        "turning_s": typer.Option("--turning", help="Time to turn and settle (s)."),
        "dark_frame": typer.Option("--dark", help="In-camera dark frame is on."),
    },
    wishes.DepthWish: {
        "noise_area_px": typer.Option("--noise-area", help="Noise area of a star's spot (px).")
    },
    wishes.StackGoalWish: {
        "aim": typer.Option("--aim", help='Azimuth and height: "180 30".'),
        "frames": typer.Option("--frames", help="How many frames; without any wish sixteen."),
        "noise_percent": typer.Option("--noise", help="Wanted noise, % of one frame's."),
        "depth_mag": typer.Option("--depth", help="Wanted depth: V magnitude at SNR 5."),
        "gap_s": typer.Option("--gap", help="Between frames (s)."),
        "sky_mag": _SKY,
    },
    wishes.LookWish: {
        "aim": typer.Option(
            "--aim",
            help='Azimuth and height, "180 25", or "centre of the Milky Way in the left third".',
        ),
        "roll_degrees": typer.Option("--roll", help="Camera turned clockwise (degrees)."),
    },
    wishes.NightsWish: {
        "date": typer.Option("--date", help="2027-05-06, 2027-05-06..2027-05-12, 2027-05 or 2027."),
        "target": _TARGET,
        "sky_mag": _SKY,
    },
    wishes.SeasonWish: {
        "first": typer.Option("--from", help="First night; without it tonight."),
        "nights": typer.Option("--nights", help="How many nights."),
        "target": _TARGET,
    },
}
"""What the command line calls the fields of the planner's wishes."""
