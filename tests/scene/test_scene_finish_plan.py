"""The demo's developed pictures: what was planted is found, and nothing in the untouched one."""

import imagecodecs
import numpy as np
import pytest
from PIL import Image

from nightglass.finish.codes import FindingCode as F
from nightglass.finish.codes import NoteCode
from nightglass.finish.profiles import profile_of
from nightglass.finish.run import finished
from nightglass.scene.finish_plan import (
    BLOTCH_PX,
    CLEAN,
    DONE,
    FRAME,
    SMALL,
    SMALL_SHARE,
    SMOOTH,
    in_wide_space,
    stage_finish,
)


@pytest.fixture(scope="module")
def folder(tmp_path_factory):
    made = tmp_path_factory.mktemp("finish")
    paths, number = stage_finish(made)
    assert [path.name for path in paths] == [FRAME, CLEAN, SMOOTH, SMALL]
    assert number == 4
    assert set(DONE) == {CLEAN, SMOOTH, SMALL}
    return made


def held(folder, reference, *names):
    unread = []
    found = finished(str(folder / reference), [str(folder / name) for name in names], unread.append)
    assert not unread
    assert [one.reason for one in found.audits] == [None] * len(names)
    return [{f.code: f.values for f in one.findings} for one in found.audits], found


def test_what_was_planted_is_found_against_the_clean_picture(folder):
    (smooth, small), found = held(folder, CLEAN, SMOOTH, SMALL)
    assert set(smooth) >= {
        F.STARS_LOST, F.GRAIN_SMOOTHED, F.COLOUR_SMOOTHED, F.STARS_SHARPENED, F.DARK_RINGS,
    }  # fmt: skip
    assert F.WRONG_PROFILE not in smooth
    assert F.BLOTCHES not in smooth
    assert set(small) >= {F.BLOTCHES, F.JPEG_BLOCKS, F.WRONG_PROFILE}
    assert small[F.WRONG_PROFILE]["space"] == "ROMM RGB"
    assert 2 * BLOTCH_PX <= small[F.BLOTCHES]["scale_px"] <= 8 * BLOTCH_PX
    assert F.STARS_LOST not in small
    other = found.audits[1]
    assert other.facts.subsampling == "4:2:0"
    assert NoteCode.NO_PROFILE in other.notes
    assert 1 / other.placement.similarity.scale == pytest.approx(SMALL_SHARE, abs=1e-3)


def test_nothing_is_found_in_the_untouched_picture(folder):
    (clean, smooth, small), _ = held(folder, FRAME, CLEAN, SMOOTH, SMALL)
    assert clean == {}
    assert F.STARS_LOST in smooth
    assert set(small) >= {F.BLOTCHES, F.JPEG_BLOCKS}


def test_faint_stars_are_lost_first(folder):
    _, found = held(folder, CLEAN, SMOOTH)
    left = [row.left / row.stars for row in found.audits[0].stars if row.stars > 20]
    assert left[0] == 1
    assert left[-1] < 0.85


def test_what_is_there_is_kept(folder):
    before = {path: path.stat().st_mtime_ns for path in folder.iterdir()}
    assert stage_finish(folder)[1] == 0
    assert {path: path.stat().st_mtime_ns for path in folder.iterdir()} == before


def test_the_wide_space_is_that_of_the_reference_library():
    """Other means: the profile of ROMM RGB that a general library makes and applies."""
    light = np.random.default_rng(4).uniform(0.02, 0.9, (6, 9, 3)).astype(np.float32)
    truth = imagecodecs.cms_transform(
        light, profile_of("linear sRGB"), profile_of("ROMM RGB"),
        colorspace="rgb", outcolorspace="rgb", outdtype=np.float32, intent=1,
    )  # fmt: skip
    assert in_wide_space(light) == pytest.approx(truth, abs=0.003)


def test_the_small_picture_is_a_jpeg_without_a_profile(folder):
    with Image.open(folder / SMALL) as image:
        assert image.format == "JPEG"
        assert "icc_profile" not in image.info
