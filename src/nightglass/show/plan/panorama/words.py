"""Words for a panorama: what it covers, what to mind, how it stands against wide frames."""

from __future__ import annotations

from nightglass.plan.codes import AgainstCode, AreaKind, PanoramaRemark
from nightglass.plan.panorama.area import Area
from nightglass.plan.panorama.compare import AgainstWide
from nightglass.plan.panorama.panorama import LONG_S, Panorama

ORDER = "rows from the land up, each left to right"


def area_words(area: Area) -> str:
    """Return what a panorama covers."""
    v = area.values
    match area.kind:
        case AreaKind.BOX:
            return (
                f"{v['width_degrees']:.0f}° of azimuth about {v['middle_degrees']:.0f}°, heights "
                f"{v['low_degrees']:.0f}° to {v['high_degrees']:.0f}°"
            )
        case AreaKind.LIKE_FRAME:
            return (
                f"what {v['focal_mm']:g} mm shows at {v['altitude_degrees']:.0f}° "
                f"({v['width_mm']:.0f} x {v['height_mm']:.0f} mm)"
            )
        case AreaKind.ARCH:
            return (
                f"the Milky Way's arch, up to {v['top_degrees']:.0f}° high, "
                f"{v['width_degrees']:.0f}° wide"
            )


def remark_words(remark: PanoramaRemark, plan: Panorama) -> str:
    """Return what to mind with a panorama."""
    match remark:
        case PanoramaRemark.LONG:
            return (
                f"{plan.total_s / 60:.0f} minutes is long: common practice keeps the sky rows "
                f"under {LONG_S / 60:.0f}; take a wider lens, less overlap or a shorter time."
            )
        case PanoramaRemark.DARK_FRAME:
            return "The in-camera dark frame doubles the time; take dark frames afterwards."
        case PanoramaRemark.JOIN_APART:
            return (
                "Between the first frame of a row and the last of the next the sky turns up to "
                f"{plan.row_drift_degrees:.1f}°: join the sky by its stars, the land by itself."
            )
        case PanoramaRemark.LEVEL_BASE:
            return (
                "Level the base, keep focus, exposure and white balance fixed, and turn about the "
                "lens's entrance pupil if land is near."
            )


def against_words(against: AgainstWide) -> str:
    """Return whether a stack of wide frames is as deep in the same time."""
    wide, minutes = against.wide, f"{against.total_s / 60:.0f} min"
    frames = f"{against.frames_as_deep} stacked frames of {wide.focal_mm:g} mm f/{wide.f_number:g}"
    detail = f"{against.detail_times:.1f} times the detail"
    if against.code is AgainstCode.STACK_AS_DEEP:
        return (
            f"{frames} are as deep, and {against.frames_in_same_time} fit into the same {minutes}: "
            f"for depth alone the stack does as well. The panorama keeps {detail}."
        )
    return (
        f"{frames} would be as deep, but only {against.frames_in_same_time} fit into the same "
        f"{minutes}: the panorama is deeper, and keeps {detail}."
    )
