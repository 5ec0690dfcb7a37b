"""A panorama plan as text, as plain data, as a line for the field card, and as a phone list."""

from __future__ import annotations

from datetime import UTC
from typing import Any

from nightglass.plan.panorama.compare import AgainstWide
from nightglass.plan.panorama.panorama import Panorama
from nightglass.plan.panorama.rows import Row
from nightglass.plan.panorama.wished import PanoramaPlan
from nightglass.show.card.record import PanoramaLine
from nightglass.show.columns import Facts, Heading, Part, Table, lines_of
from nightglass.show.page import render
from nightglass.show.plan.caution_words import KNOWS_NOT, caution_data, short_cautions
from nightglass.show.plan.frame_words import gear_note_words, shot_text
from nightglass.show.plan.night.data import moment_data, place_data
from nightglass.show.plan.night.text import zone_line
from nightglass.show.plan.night.words import (
    look_again_lines,
    place_text,
)
from nightglass.show.plan.panorama.words import ORDER, against_words, area_words, remark_words
from nightglass.show.words import signed_percent

START_LIST = (
    "Autofocus off",
    "Stabiliser off",
    "Raw, filter off",
    "White balance fixed",
    "In-camera dark frame off",
    "Base level",
    "Focus on a star, tape the ring",
    "Check all corners at full zoom",
    "Check the glass for dew",
)


def panorama_lines(planned: PanoramaPlan, width: int | None = None) -> list[str]:
    """Return the plan as lines; width: of the terminal, None for a file."""
    return list(lines_of(panorama_parts(planned), width))


def panorama_parts(planned: PanoramaPlan) -> list[Part]:
    """Return where and when, rows, order, time, drift, space, and the gain."""
    plan = planned.panorama
    lines: list[Part] = [
        f"{shot_text(plan.shot)}: {len(plan.frames)} frames for {area_words(plan.area)}"
    ]
    lines += [*_when_lines(planned), *_rows_parts(plan), "", _pace_facts(plan)]
    lines += [f"  {remark_words(remark, plan)}" for remark in plan.remarks]
    if planned.against is not None:
        lines += ["", *_against_parts(planned.against)]
    if planned.notes:
        lines += ["", *(f"  {gear_note_words(note)}" for note in planned.notes)]
    return [*lines, "", *short_cautions()]


def _when_lines(planned: PanoramaPlan) -> list[str]:
    """Place, date and hour of the first frame, where they were asked for or needed."""
    if planned.there is None or planned.moment is None:
        return []
    place, at = planned.there.place, planned.moment
    return [
        f"First frame: {at:%A %d %B %Y, %H:%M}, at {place.name} ({place_text(place)})",
        zone_line(place, at).replace("; UTC in brackets", ""),
        *look_again_lines(place),
    ]


def _rows_parts(plan: Panorama) -> list[Part]:
    rows = tuple(
        (
            str(number),
            f"{row.altitude_degrees:.0f}°",
            str(row.frames),
            f"{row.step_degrees:.0f}°",
            " ".join(_azimuths(plan, number)),
        )
        for number, row in enumerate(plan.rows, start=1)
    )
    return [
        f"Overlap {100 * plan.overlap:.0f} %"
        + (
            f"; seams use only the middle {100 * plan.usable_share:.0f} % of each side"
            if plan.usable_share < 1
            else ""
        ),
        "",
        Table(("row", "height", "frames", "step", "azimuths"), rows, ("height", "frames", "step")),
    ]


def _pace_facts(plan: Panorama) -> Facts:
    pace = plan.pace
    dark = ", and the in-camera dark frame" if pace.dark_frame else ""
    between = "between neighbouring rows" if len(plan.rows) > 1 else "from first to last frame"
    return Facts(
        (
            ("order", ORDER),
            (
                "each frame",
                f"{pace.exposure_s:.1f} s true, {pace.saving_s:g} s saving, {pace.moving_s:g} s to "
                f"turn{dark}",
            ),
            ("in all", f"{plan.total_s / 60:.1f} min"),
            ("sky drift", f"{plan.row_drift_degrees:.1f}° at most {between}"),
            ("disk space", f"{plan.megabytes / 1000:.1f} GB (about 1.3 MB per megapixel)"),
        )
    )


def panorama_data(planned: PanoramaPlan) -> dict[str, Any]:
    """Return the plan as dictionaries; place and time are None where neither was needed."""
    return {
        **_when_data(planned),
        **_rows_data(planned.panorama),
        "against_wide": None if planned.against is None else _against_data(planned.against),
        "gear": [{"code": note.code, **note.values} for note in planned.notes],
        "cautions": caution_data(),
    }


def _when_data(planned: PanoramaPlan) -> dict[str, Any]:
    if planned.there is None or planned.moment is None:
        return {"place": None, "at": None}
    place, at = planned.there.place, planned.moment.astimezone(UTC)
    return {"place": place_data(place), "at": moment_data(at, place)}


def _rows_data(plan: Panorama) -> dict[str, Any]:
    return {
        "area": {"kind": plan.area.kind, **plan.area.values},
        "overlap": plan.overlap,
        "usable_share": plan.usable_share,
        "rows": [
            {
                "altitude_degrees": round(row.altitude_degrees, 2),
                "frames": row.frames,
                "step_degrees": round(row.step_degrees, 2),
                "azimuth_spanned_degrees": round(row.azimuth_spanned_degrees, 2),
            }
            for row in plan.rows
        ],
        "frames": [
            {
                "number": frame.number,
                "row": frame.row,
                "column": frame.column,
                "altitude_degrees": round(frame.pointing.altitude_degrees, 2),
                "azimuth_degrees": round(frame.pointing.azimuth_degrees, 2),
                "start_s": round(frame.start_s, 1),
            }
            for frame in plan.frames
        ],
        "exposure_s": plan.pace.exposure_s,
        "total_s": round(plan.total_s, 1),
        "row_drift_degrees": round(plan.row_drift_degrees, 3),
        "megabytes": round(plan.megabytes),
        "remarks": list(plan.remarks),
    }


def _against_data(against: AgainstWide) -> dict[str, Any]:
    return {
        "wide_focal_mm": against.wide.focal_mm,
        "wide_f_number": against.wide.f_number,
        "wide_exposure_s": against.wide_exposure_s,
        "light_stops": round(against.light_stops, 2),
        "stars_gain_percent": round(against.stars_gain_percent, 1),
        "detail_times": round(against.detail_times, 2),
        "frames_as_deep": against.frames_as_deep,
        "frames_in_same_time": against.frames_in_same_time,
        "code": against.code,
    }


def panorama_line(plan: Panorama) -> PanoramaLine:
    """Return the plan's line for the field card: every row with its frames and its step."""
    longest = max(plan.rows, key=lambda row: row.frames)
    return PanoramaLine(
        frames_per_row=longest.frames,
        rows=len(plan.rows),
        step_degrees=longest.step_degrees,
        overlap_percent=100 * plan.overlap,
        total_minutes=plan.total_s / 60,
        row_order=ORDER,
        rows_in_turn=tuple((r.frames, r.altitude_degrees, r.step_degrees) for r in plan.rows),
        held=f"{plan.area.width_degrees:.0f}\N{DEGREE SIGN} wide, "
        + ("portrait" if plan.shot.portrait else "landscape"),
    )


def phone_list(plan: Panorama, title: str) -> str:
    """Return one self-contained page for the phone: dim red on black, no script, no touch.

    The background is black from the first paint; digits are large; nothing is loaded.
    """
    return render(
        "phone_list.html",
        title=title,
        time=f"{plan.pace.exposure_s:.0f} s",
        f_number=f"f/{plan.shot.f_number:g}",
        shot=shot_text(plan.shot),
        frames=len(plan.frames),
        minutes=f"{plan.total_s / 60:.0f}",
        order=ORDER,
        rows=[_phone_row(plan, k, row) for k, row in enumerate(plan.rows, start=1)],
        start_list=START_LIST,
        knows_not=KNOWS_NOT,
    )


def _phone_row(plan: Panorama, number: int, row: Row) -> dict[str, object]:
    first = next(f.number for f in plan.frames if f.row == number)
    numbers = f"frame {first}" if row.frames == 1 else f"frames {first} to {first + row.frames - 1}"
    step = f", every {row.step_degrees:.0f}°" if row.frames > 1 else ""
    return {
        "number": number,
        "altitude": f"{row.altitude_degrees:.0f}",
        "frames": f"{numbers}{step}",
        "azimuths": _azimuths(plan, number),
    }


def _azimuths(plan: Panorama, row: int) -> list[str]:
    return [f"{round(f.pointing.azimuth_degrees) % 360}°" for f in plan.frames if f.row == row]


def _against_parts(against: AgainstWide) -> list[Part]:
    wide = against.wide
    stops = f"{'+' if against.light_stops >= 0 else '−'}{abs(against.light_stops):.1f}"
    gain = signed_percent(against.stars_gain_percent)
    return [
        Heading(
            f"  Against one frame of {wide.focal_mm:g} mm f/{wide.f_number:g}, "
            f"{against.wide_exposure_s:.0f} s"
        ),
        Facts(
            (
                ("light", f"{stops} stops per patch of sky"),
                (
                    "stars",
                    f"{gain} on the same sky (to V {against.limiting_mag:.1f} instead of "
                    f"{against.wide_limiting_mag:.1f})",
                ),
                ("detail", f"{against.detail_times:.1f} times the pixels per degree"),
            )
        ),
        f"  {against_words(against)}",
        "  (Same sky, noise area and transmission for both; spots not measured here.)",
    ]
