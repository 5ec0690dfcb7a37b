"""An observed frame as plain data and in plain words."""

from __future__ import annotations

from typing import Any

import numpy as np

from nightglass.sky.observe import Observation
from nightglass.sky.refine import Solution


def as_data(seen: Observation, file: str) -> dict[str, Any]:
    """Return what a frame gave as plain values; what is not known is None."""
    stars = seen.found.stars
    data: dict[str, Any] = {
        "file": file,
        "solved": isinstance(seen.solution, Solution),
        "stars_found": len(stars),
        "hot_pixels": seen.found.hot_pixels,
        "filter_sigma_px": seen.found.filter_sigma_px,
        "notes": list(seen.notes),
    }
    if not isinstance(seen.solution, Solution):
        failed = seen.solution
        data |= {"reason": failed.reason, "advice": failed.advice, "tried": list(failed.tried)}
        return data
    solved = seen.solution
    camera, errors = solved.camera, solved.fit.errors
    data |= {
        "ra_degrees": solved.ra_degrees,
        "dec_degrees": solved.dec_degrees,
        "roll_degrees": solved.roll_degrees,
        "aim_err_degrees": solved.fit.aim_err_degrees,
        "width_degrees": solved.width_degrees,
        "projection": camera.projection,
        "projection_known": solved.projection_known,
        "focal_px": camera.focal_px,
        "focal_px_err": float(errors[0]),
        "centre_x_px": camera.centre_x_px,
        "centre_x_px_err": float(errors[1]),
        "centre_y_px": camera.centre_y_px,
        "centre_y_px_err": float(errors[2]),
        "k1": camera.k1,
        "k1_err": float(errors[3]),
        "k2": camera.k2,
        "k2_err": float(errors[4]),
        "stars_matched": len(solved.match.found),
        "rms_px": solved.rms_px,
        "chance_log10": solved.chance_log10,
    }
    return data


def in_words(seen: Observation, file: str) -> list[str]:
    """Return the lines that a person reads."""
    lines = [f"{file}: {len(seen.found.stars)} stars, {seen.found.hot_pixels} hot pixels left out"]
    lines += [f"  note: {note}" for note in seen.notes]
    if not isinstance(seen.solution, Solution):
        failed = seen.solution
        lines.append(f"  not solved: {failed.reason}")
        if failed.tried:
            lines.append(f"  tried: {len(failed.tried)} cameras, {failed.tried[0]} and onward")
        lines.append(f"  what would help: {failed.advice}")
        return lines
    solved = seen.solution
    camera, errors = solved.camera, solved.fit.errors
    kind = camera.projection if solved.projection_known else f"{camera.projection} (others fit too)"
    corner = 100 * (camera.k1 + camera.k2)
    lines += [
        f"  aim: RA {solved.ra_degrees:.3f}, Dec {solved.dec_degrees:+.3f} degrees (ICRS), "
        f"{solved.width_degrees:.2f} degrees wide; {len(solved.match.found)} stars matched, "
        f"rms {solved.rms_px:.2f} px",
        f"  camera: {kind}, focal length {camera.focal_px:.1f} +- {errors[0]:.1f} px, optical "
        f"centre {camera.centre_x_px:.0f} +- {errors[1]:.0f}, {camera.centre_y_px:.0f} +- "
        f"{errors[2]:.0f} px, distortion {corner:+.2f} % at the corner "
        f"(+- {100 * float(np.hypot(errors[3], errors[4])):.2f})",
        f"  chance of a false match: 1 in 1e{-solved.chance_log10:.0f}"
        + (" or less" if solved.chance_log10 <= -300 else ""),
    ]
    return lines
