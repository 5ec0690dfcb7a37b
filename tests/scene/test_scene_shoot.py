"""The room around the star: a standby lamp and a reflection."""

from __future__ import annotations

from nightglass.scene import shoot
from nightglass.scene.plan import plan
from nightglass.scene.star import fine_spot


def test_the_second_light_is_dimmer_than_the_star_and_the_ghost_lies_opposite() -> None:
    for shot in (plan()[2], plan()[0]):
        chip = shoot.sensor()
        fine = fine_spot(shoot.star(shot), chip.pitch_um)
        light_e = 0.5 * chip.full_scale_e / float(shoot.star_window(chip, fine).light_e.max())
        lamp = shoot.second_light(chip, shot, light_e)
        assert lamp.light_e.max() < 0.25 * 0.5 * chip.full_scale_e
        ghosts = shoot.ghost(chip, shot, light_e)
        # In the middle of the frame the ghost would fall on the star: none is drawn.
        assert len(ghosts) == (0 if shot.place == "centre" else 1)
        for ghost in ghosts:
            x = ghost.left_px + ghost.light_e.shape[1] / 2
            assert abs(x - (chip.width_px - shot.x_px)) < 2
            assert ghost.light_e.max() < 0.02 * 0.5 * chip.full_scale_e
