"""The club's focus evening: what was stated is what is drawn."""

import pytest

from nightglass.gear.bag import parse_bench
from nightglass.optics.wavefront import defocus_um
from nightglass.scene.clubfile import focus_bench_toml
from nightglass.scene.focus_plan import (
    BEST_MARK,
    CLIPPING,
    FOCUS_BODY,
    FOCUS_SERIES,
    LIGHT_SERIES,
    UM_PER_MARK,
    focus_error_um,
    focus_plan,
    render_focus,
    star_of,
)


def test_the_evening_is_small_and_its_bench_knows_its_marks():
    shots = focus_plan()
    assert len(shots) == 34
    bench = parse_bench(focus_bench_toml())
    assert {rule.series for rule in bench.frames} == {FOCUS_SERIES, LIGHT_SERIES, None}
    assert {rule.focus_mark for rule in bench.frames} == {1, 2, 3, 4, 5, 6, 7, None}
    assert bench.body.name == FOCUS_BODY.name


def test_one_mark_is_one_step_of_the_wavefront():
    near, far = focus_plan()[0], focus_plan()[6]
    assert focus_error_um(near) == pytest.approx((1 - BEST_MARK) * UM_PER_MARK)
    terms = [star_of(shot).pupil.zernikes_um[4] for shot in (near, far)]
    # Six marks; each is set by hand within 2 um.
    step = defocus_um(6 * UM_PER_MARK, 2.0)
    assert terms[1] - terms[0] == pytest.approx(step, abs=defocus_um(15.0, 2.0))


def test_frames_do_not_clip_and_come_out_alike_each_time():
    shot = focus_plan()[3]
    counts, exposure_s = render_focus(shot)
    again, _ = render_focus(shot)
    assert (counts == again).all()
    assert counts.shape == (FOCUS_BODY.height_px, FOCUS_BODY.width_px)
    assert 0.4 * CLIPPING < counts.max() < CLIPPING
    assert exposure_s > 0
