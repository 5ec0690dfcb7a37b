"""Where a picture lies on its reference: planted shift, turn, mirror, crop, bend, other scenes."""

import numpy as np
import pytest
from finished_skies import encoded, sky_light
from scipy.ndimage import map_coordinates, rotate

from nightglass.finish.audit import stars_of
from nightglass.finish.codes import NoteCode, UncomparedCode
from nightglass.finish.picture import read_picture
from nightglass.finish.placing.patterns import matched


def moved(light, x, y):
    """Light at other places of the reference, by splines."""
    return np.stack([map_coordinates(light[..., k], [y, x], order=3) for k in range(3)], axis=-1)


def test_a_crop_lies_on_whole_pixels(audited, light):
    found = audited("crop", encoded(light[40:381, 60:603]))
    place = found.placement
    assert place(np.array([0j]))[0] == pytest.approx(60 + 40j, abs=0.05)
    assert place.similarity.scale == pytest.approx(1, abs=2e-4)
    assert found.findings == ()
    assert NoteCode.RESAMPLED not in found.notes


def test_a_shift_of_parts_of_a_pixel_is_found(audited, light):
    y, x = np.mgrid[0:400, 0:600].astype(float)
    found = audited("shift", encoded(moved(light, x + 7.37, y + 4.81)))
    assert found.placement(np.array([300 + 200j]))[0] == pytest.approx(307.37 + 204.81j, abs=0.03)
    assert NoteCode.RESAMPLED in found.notes
    assert found.findings == ()


@pytest.mark.parametrize(("quarters", "degrees"), [(1, 90), (2, 180)])
def test_a_turned_picture_is_named_and_measured(audited, light, quarters, degrees):
    found = audited("turned", encoded(np.rot90(light, quarters)))
    assert NoteCode.TURNED in found.notes
    off = found.placement.similarity.angle_degrees - degrees
    assert (off + 180) % 360 - 180 == pytest.approx(0, abs=0.05)
    assert found.findings == ()


def test_a_mirrored_picture_is_named_and_measured(audited, light):
    found = audited("mirrored", encoded(light[:, ::-1]))
    assert NoteCode.MIRRORED in found.notes
    assert NoteCode.TURNED not in found.notes
    assert found.findings == ()


def test_a_picture_turned_a_little_is_found(audited, light):
    turned = rotate(light, 11.0, reshape=False, order=3)[60:360, 90:540]
    found = audited("tilted", encoded(turned))
    assert abs(found.placement.similarity.angle_degrees) == pytest.approx(11, abs=0.05)


def test_a_bent_picture_is_named(audited, light):
    y, x = np.mgrid[0:420, 0:630].astype(float)
    u, v = (x - 314.5) / 378, (y - 209.5) / 378
    # A barrel of 1.5 % at the corner, as a lens correction undoes.
    factor = 1 - 0.015 * (u**2 + v**2)
    bent = moved(light, 314.5 + 378 * u * factor, 209.5 + 378 * v * factor)
    found = audited("bent", encoded(bent))
    assert NoteCode.BENT in found.notes
    assert found.placement.scatter_px < 0.2
    here = found.placement(np.array([600 + 400j]))[0]
    r = (285.5**2 + 190.5**2) / 378**2
    truth = 314.5 + 285.5 * (1 - 0.015 * r) + 1j * (209.5 + 190.5 * (1 - 0.015 * r))
    assert abs(here - truth) < 0.25


def test_a_wider_picture_reaches_beyond_the_reference(audited, light):
    wide = np.full((420, 1000, 3), 0.05)
    wide += np.random.default_rng(2).normal(0, 0.003, wide.shape)
    wide[:, 185:815] = light
    found = audited("wide", encoded(wide))
    assert NoteCode.BEYOND_REFERENCE in found.notes
    assert found.placement.covered_share == pytest.approx(0.63, abs=0.02)
    assert found.findings == ()


@pytest.mark.parametrize("seed", range(31, 34))
def test_another_scene_is_named(audited, seed):
    found = audited("other", encoded(sky_light(seed=seed)))
    assert found.reason is UncomparedCode.OTHER_SCENE
    assert found.findings == ()


def test_an_empty_sky_and_a_thumbnail_have_their_reasons(audited, light):
    empty = np.full((300, 400, 3), 0.05) + np.random.default_rng(3).normal(0, 0.003, (300, 400, 3))
    assert audited("empty", encoded(empty)).reason in (
        UncomparedCode.TOO_FEW_STARS, UncomparedCode.OTHER_SCENE,
    )  # fmt: skip
    assert audited("thumbnail", encoded(light[::4, ::4])).reason is UncomparedCode.TOO_SMALL


def test_patterns_of_chance_do_not_match(save_tiff, light):
    stars = stars_of(read_picture(save_tiff("own", encoded(light))))
    z = stars.x_px + 1j * stars.y_px
    rng = np.random.default_rng(4)
    for _ in range(5):
        chance = rng.uniform(0, 630, 200) + 1j * rng.uniform(0, 420, 200)
        assert matched(chance, z, (630, 420)) is None
