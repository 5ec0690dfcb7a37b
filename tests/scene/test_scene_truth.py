"""What the demo's frames measure against what was rendered into them.

Promise of one frame (docs/glossary.md): length and width within 0.4 px from the limit to 4 px,
within the larger of 0.3 px and 5 % above, in 95 % of frames. Of nine frames one may miss, as one
in twenty may, and none by more than twice the promise. The promises for centre (0.15 px) and
angle (3 degrees) are missed on sharp spots, as docs/spot_accuracy.md says with figures; here both
are held to their own stated errors, and the centre to 0.4 px.
"""

from __future__ import annotations

import math
from pathlib import Path

import pytest

from nightglass.frame.open import open_frame
from nightglass.scene.club import BODY
from nightglass.scene.plan import plan
from nightglass.scene.shoot import star
from nightglass.scene.stage import path_of, write_frame
from nightglass.scene.star import fine_spot
from nightglass.scene.truth import Truth, colour_offset_px, truth
from nightglass.spot.measure import measure_frame
from nightglass.spot.record import Spot

AT_LIMIT_PX = 3.0
CENTRE_PX = ((BODY.width_px - 1) / 2, (BODY.height_px - 1) / 2)

CORNERS = (8, 12, 20, 26, 38, 49, 62, 66, 74)
"""Corner frames of all five lenses: coma, decentring, cat's eye, trefoil, the bad zoom mark."""
CENTRES = (6, 43)
"""Centre frames that are sharper than the mosaic can resolve."""


def tolerance_px(true_px: float) -> float:
    return 0.4 if true_px < 4 else max(0.3, 0.05 * true_px)


def measured(number: int, folder: Path) -> tuple[Spot, Truth]:
    """Return a frame's green spot as measured, and what was rendered."""
    shot = plan()[number - 1]
    write_frame(shot, folder)
    spots = {s.colour: s for s in measure_frame(open_frame(path_of(shot, folder))).spots}
    green = spots["green"]
    true = truth(fine_spot(star(shot), BODY.pitch_um, (1,)), 1, CENTRE_PX)
    assert true.length_px >= AT_LIMIT_PX
    assert not {"clipped", "lost", "not a star", "touches edge"} & set(green.flags)
    return green, true


def size_miss(green: Spot, true: Truth) -> float:
    """Return the larger error of length and width over what is promised: above 1 is a miss."""
    assert green.length_px is not None
    assert green.width_px is not None
    pairs = [(green.length_px, true.length_px), (green.width_px, true.width_px)]
    if true.length_px / true.width_px <= 1.3:
        size, true_size = (math.sqrt(a * b) for a, b in zip(*pairs, strict=True))
        pairs = [(size, true_size)]
    return max(abs(size - true_size) / tolerance_px(true_size) for size, true_size in pairs)


@pytest.fixture(scope="module")
def corners(tmp_path_factory: pytest.TempPathFactory) -> dict[int, tuple[Spot, Truth]]:
    """Return the nine corner frames."""
    folder = tmp_path_factory.mktemp("corners")
    return {number: measured(number, folder) for number in CORNERS}


def test_corner_stars_measure_what_was_rendered(corners: dict[int, tuple[Spot, Truth]]) -> None:
    worst = {number: size_miss(*pair) for number, pair in corners.items()}
    assert sum(error > 1 for error in worst.values()) <= 1, worst
    assert max(worst.values()) < 2, worst


def test_centres_and_angles_keep_their_stated_errors(
    corners: dict[int, tuple[Spot, Truth]],
) -> None:
    for number, (green, true) in corners.items():
        assert green.x_px is not None, number
        assert green.y_px is not None, number
        dx, dy = green.x_px - true.x_px, green.y_px - true.y_px
        assert abs(dx) < 3 * (green.x_px_err or 0), number
        assert abs(dy) < 3 * (green.y_px_err or 0), number
        assert math.hypot(dx, dy) < 0.4, number
        if green.angle_degrees is not None:
            turn = (green.angle_degrees - true.angle_degrees + 90) % 180 - 90
            assert abs(turn) < 3 * (green.angle_degrees_err or 0), number


@pytest.mark.parametrize("number", CENTRES)
def test_a_star_too_sharp_to_resolve_gets_an_upper_bound(number: int, tmp_path: Path) -> None:
    shot = plan()[number - 1]
    write_frame(shot, tmp_path)
    spots = {s.colour: s for s in measure_frame(open_frame(path_of(shot, tmp_path))).spots}
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
    spots = {s.colour: s for s in measure_frame(open_frame(path_of(shot, tmp_path))).spots}
    fine = fine_spot(star(shot), BODY.pitch_um)
    outward = math.atan2(shot.y_px - CENTRE_PX[1], shot.x_px - CENTRE_PX[0])
    true = {}
    for colour in (0, 2):
        dx, dy = colour_offset_px(fine, colour)
        true[colour] = dx * math.cos(outward) + dy * math.sin(outward)
    assert true[0] > 0.35
    assert true[2] < -0.4
    green = spots["green"]
    red, blue = green.colour_offset_red_radial_px, green.colour_offset_blue_radial_px
    assert red is not None
    assert blue is not None
    assert green.colour_offset_red_px_err is not None
    assert green.colour_offset_blue_px_err is not None
    assert abs(red - true[0]) < 3 * green.colour_offset_red_px_err
    assert abs(blue - true[2]) < 3 * green.colour_offset_blue_px_err
    assert red - blue > 0.1
