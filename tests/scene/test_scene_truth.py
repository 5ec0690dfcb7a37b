"""What the demo's frames measure against what was rendered into them.

Promise of one frame (docs/glossary.md): length and width within 0.4 px from the limit to 4 px,
within the larger of 0.3 px and 5 % above, in 95 % of frames; centre within 0.15 px from 4 px;
angle within 3 degrees where length/width > 1.3, length >= 5 px and width >= 3 px. A handful of
frames may not use up the 5 % that may miss: each must keep to it.
"""

from __future__ import annotations

import math
from pathlib import Path

import pytest

from nightglass.frame.open import open_frame
from nightglass.scene.club import BODY
from nightglass.scene.plan import plan
from nightglass.scene.shoot import star
from nightglass.scene.stage import write_frame
from nightglass.scene.star import fine_spot
from nightglass.scene.truth import colour_offset_px, truth
from nightglass.spot.measure import measure_frame

AT_LIMIT_PX = 3.0
CENTRE_PX = ((BODY.width_px - 1) / 2, (BODY.height_px - 1) / 2)

CORNERS = (3, 8, 12, 20, 26, 38, 50, 58, 66, 74)
"""Corner frames of all five lenses: coma, decentring, cat's eye, trefoil, the bad zoom mark."""
CENTRES = (6, 45)
"""Centre frames that are sharper than the mosaic can resolve."""


def tolerance_px(true_px: float) -> float:
    return 0.4 if true_px < 4 else max(0.3, 0.05 * true_px)


@pytest.mark.parametrize("number", CORNERS)
def test_a_corner_star_measures_what_was_rendered(number: int, tmp_path: Path) -> None:
    shot = plan()[number - 1]
    write_frame(shot, tmp_path)
    spots = {s.colour: s for s in measure_frame(open_frame(tmp_path / shot.file_name)).spots}
    fine = fine_spot(star(shot), BODY.pitch_um)
    green, true = spots["green"], truth(fine, 1, CENTRE_PX)
    assert true.length_px >= AT_LIMIT_PX
    assert not {"clipped", "lost", "not a star", "touches edge"} & set(green.flags)
    assert green.length_px is not None
    assert green.width_px is not None
    if true.length_px / true.width_px > 1.3:
        assert green.length_px == pytest.approx(true.length_px, abs=tolerance_px(true.length_px))
        assert green.width_px == pytest.approx(true.width_px, abs=tolerance_px(true.width_px))
    else:
        size = math.sqrt(green.length_px * green.width_px)
        true_size = math.sqrt(true.length_px * true.width_px)
        assert size == pytest.approx(true_size, abs=tolerance_px(true_size))
    if true.length_px >= 4:
        assert green.x_px == pytest.approx(true.x_px, abs=0.15)
        assert green.y_px == pytest.approx(true.y_px, abs=0.15)
    if true.length_px / true.width_px > 1.3 and true.length_px >= 5 and true.width_px >= 3:
        assert green.angle_degrees is not None
        turn = (green.angle_degrees - true.angle_degrees + 90) % 180 - 90
        assert abs(turn) < 3


@pytest.mark.parametrize("number", CENTRES)
def test_a_star_too_sharp_to_resolve_gets_an_upper_bound(number: int, tmp_path: Path) -> None:
    shot = plan()[number - 1]
    write_frame(shot, tmp_path)
    spots = {s.colour: s for s in measure_frame(open_frame(tmp_path / shot.file_name)).spots}
    true = truth(fine_spot(star(shot), BODY.pitch_um, (1,)), 1, CENTRE_PX)
    green = spots["green"]
    assert true.length_px < AT_LIMIT_PX
    assert "at limit" in green.flags
    assert green.length_px is None
    assert green.length_at_most_px is not None
    assert true.length_px <= green.length_at_most_px


def test_lateral_colour_of_the_wide_zoom_is_found(tmp_path: Path) -> None:
    shot = next(s for s in plan() if s.club.lens.name.startswith("Dipper") and "right" in s.place)
    write_frame(shot, tmp_path)
    spots = {s.colour: s for s in measure_frame(open_frame(tmp_path / shot.file_name)).spots}
    fine = fine_spot(star(shot), BODY.pitch_um)
    outward = math.atan2(shot.y_px - CENTRE_PX[1], shot.x_px - CENTRE_PX[0])
    true = {}
    for colour in (0, 2):
        dx, dy = colour_offset_px(fine, colour)
        true[colour] = dx * math.cos(outward) + dy * math.sin(outward)
    assert true[0] > 0.7
    assert true[2] < -0.8
    green = spots["green"]
    assert green.colour_offset_red_radial_px == pytest.approx(true[0], abs=0.25)
    assert green.colour_offset_blue_radial_px == pytest.approx(true[2], abs=0.25)
