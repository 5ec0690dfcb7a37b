"""Planted stars at off-grid places in non-square frames, every mosaic and phase, every flag."""

import math
from dataclasses import replace

import numpy as np
import pytest
from conftest_spot import Star

from nightglass.spot.measure import measure_frame
from nightglass.spot.record import FLAGS

PHASES = [("bayer", (i, j)) for i in range(2) for j in range(2)]
PHASES += [("6x6", (i, j)) for i in range(0, 6) for j in range(0, 6)]


def green(measured):
    """Return the record of green."""
    return next(s for s in measured.spots if s.colour in ("green", "grey"))


@pytest.mark.parametrize(("mosaic", "phase"), PHASES)
def test_every_phase_of_both_mosaics(make_frame, mosaic, phase):
    star = Star()
    spot = green(measure_frame(make_frame(star, mosaic=mosaic, phase=phase)))
    length, width = star.lengths
    # docs/glossary.md, "What one frame promises": the larger of 0.3 px and 5 % above 4 px.
    assert spot.length_px == pytest.approx(length, abs=max(0.3, 0.05 * length))
    assert spot.width_px == pytest.approx(width, abs=0.3)
    assert (spot.x_px, spot.y_px) == pytest.approx((star.x, star.y), abs=0.15)
    assert min(spot.angle_degrees, 180 - spot.angle_degrees) < 3


def test_colours_are_measured_each(make_frame):
    star = Star(sigma_x=3.0, sigma_y=3.0, offsets=((0.5, -0.2), (0.0, 0.0), (-0.4, 0.3)))
    measured = measure_frame(make_frame(star))
    spots = {s.colour: s for s in measured.spots}
    assert list(spots) == ["red", "green", "blue"]
    for spot in measured.spots:
        assert spot.length_px == pytest.approx(star.lengths[0], rel=0.05)
        assert spot.colour_offset_red_px == pytest.approx(math.hypot(0.5, 0.2), abs=0.12)
        assert spot.colour_offset_blue_px == pytest.approx(0.5, abs=0.12)


def test_offsets_split_into_radial_and_tangential(make_frame):
    # The star stands right of the centre: outward is +x, red lies 0.5 px outward.
    star = Star(x=200.2, y=104.5, sigma_x=2.5, sigma_y=2.5, offsets=((0.5, 0), (0, 0), (0, 0.4)))
    spot = green(measure_frame(make_frame(star)))
    assert spot.colour_offset_red_radial_px == pytest.approx(0.5, abs=0.12)
    assert spot.colour_offset_red_tangential_px == pytest.approx(0.0, abs=0.12)
    assert spot.colour_offset_blue_tangential_px == pytest.approx(0.4, abs=0.12)


def test_core_and_skirt_of_a_gaussian(make_frame):
    # Smoothed with 0.85 px: half of the peak 2.3548 s wide, 1/64 of it 2 s sqrt(2 ln 64) wide.
    star = Star(sigma_x=4.0, sigma_y=4.0)
    spot = green(measure_frame(make_frame(star)))
    s = math.sqrt(16 + 1 / 12 + 0.85**2)
    assert spot.core_length_px == pytest.approx(2.3548 * s, abs=0.5)
    assert spot.core_parts == 1
    assert spot.skirt_length_px == pytest.approx(2 * s * math.sqrt(2 * math.log(64)), abs=1.0)
    assert spot.skirt_floor_px == pytest.approx(5.18, abs=0.01)


def test_noise_area_of_a_gaussian(make_frame):
    star = Star(sigma_x=3.0, sigma_y=2.0)
    spot = green(measure_frame(make_frame(star)))
    area = 4 * math.pi * math.sqrt((9 + 1 / 12) * (4 + 1 / 12))
    assert spot.noise_area_px == pytest.approx(area, rel=0.03)


def test_lean_is_positive_when_the_tail_points_outward(make_frame):
    # A bright star with a fainter one beside it, 4 px farther from the centre of the frame.
    head, tail = Star(x=180.3, y=104.4), Star(x=185.8, y=104.4, peak=2500.0)
    outward = green(measure_frame(make_frame(head, tail)))
    inward = green(measure_frame(make_frame(replace(tail, x=174.8), head)))
    assert outward.lean > 0.1
    assert inward.lean < -0.1
    assert outward.radial_angle_degrees < 10


def test_at_limit_gives_bounds_and_no_sizes(make_frame):
    for seed, x in enumerate((120.0, 120.5, 120.27, 121.0)):
        star = Star(x=x, sigma_x=0.25, sigma_y=0.25, peak=40000.0)
        spot = green(measure_frame(make_frame(star, seed=seed)))
        assert "at limit" in spot.flags
        assert spot.length_px is None
        assert spot.width_px is None
        assert star.lengths[0] < spot.length_at_most_px <= 4.5


def test_clipped_star_has_no_sizes(make_frame):
    spot = green(measure_frame(make_frame(Star(peak=40000.0))))
    assert "clipped" in spot.flags
    assert spot.length_px is None
    assert spot.x_px == pytest.approx(121.37, abs=0.5)


def test_clipped_red_does_not_fill_greens_gaps(make_frame):
    star = Star(levels=(3.0, 1.0, 0.7), sigma_x=3.0, sigma_y=3.0, peak=8000.0)
    measured = measure_frame(make_frame(star))
    red = measured.spots[0]
    assert "clipped" in red.flags
    assert red.length_px is None
    assert green(measured).length_px == pytest.approx(star.lengths[0], rel=0.05)


def test_colours_of_different_size_are_not_mixed(make_frame):
    # Green in focus, red and blue far out: green's size must stay its own, with a wider error.
    sharp = Star(sigma_x=2.6, sigma_y=2.6, levels=(0.0, 1.0, 0.0))
    soft = Star(sigma_x=6.0, sigma_y=6.0, levels=(0.5, 0.0, 0.5))
    spot = green(measure_frame(make_frame(sharp, soft)))
    plain = green(measure_frame(make_frame(replace(sharp, levels=(0.5, 1.0, 0.5)))))
    assert "colours disagree" in spot.flags
    assert spot.length_px == pytest.approx(sharp.lengths[0], rel=0.05)
    assert spot.length_px_err > plain.length_px_err
    assert "colours disagree" not in plain.flags


def test_no_star_is_lost(make_frame):
    for spot in measure_frame(make_frame()).spots:
        assert spot.flags == ("lost",)
        assert spot.x_px is None


def test_lone_hot_pixels_are_no_star(make_frame):
    def hot(counts):
        counts[50, 61] = counts[120, 30] = 14000

    for spot in measure_frame(make_frame(spoil=hot)).spots:
        assert spot.flags == ("not a star",)


def test_star_found_among_everything_else(make_frame):
    star, dimmer = Star(), Star(x=40.2, y=150.7, peak=3000.0)
    ghost = Star(x=190.0, y=60.0, sigma_x=9.0, sigma_y=9.0, peak=700.0)

    def spoil(counts):
        rng = np.random.default_rng(4)
        rows, columns = np.indices(counts.shape)
        counts += 0.5 * rows + 0.3 * columns + 900 * (rows > 180)
        counts[rng.integers(0, 210, 40), rng.integers(0, 240, 40)] += rng.uniform(500, 15000, 40)

    spot = green(measure_frame(make_frame(star, dimmer, ghost, spoil=spoil)))
    assert (spot.x_px, spot.y_px) == pytest.approx((star.x, star.y), abs=0.3)
    near = green(measure_frame(make_frame(star, dimmer, ghost), near=(42.0, 148.0)))
    assert (near.x_px, near.y_px) == pytest.approx((dimmer.x, dimmer.y), abs=0.3)


def test_hot_pixel_inside_is_left_out(make_frame):
    def hot(counts):
        counts[93, 124] = 16000

    spot = green(measure_frame(make_frame(Star(), spoil=hot)))
    assert "hot pixel inside" in spot.flags
    assert spot.length_px == pytest.approx(Star().lengths[0], abs=0.35)


def test_star_at_the_edge_is_flagged_and_not_sized(make_frame):
    spot = green(measure_frame(make_frame(Star(x=236.5))))
    assert "touches edge" in spot.flags
    assert spot.length_px is None


def test_second_light_in_the_ring_is_said(make_frame):
    spot = green(measure_frame(make_frame(Star(), Star(x=137.0, peak=4000.0))))
    assert "crowded" in spot.flags


def test_faint_star_says_so(make_frame):
    spot = green(measure_frame(make_frame(Star(peak=60.0, sigma_x=3.0, sigma_y=3.0))))
    assert "faint" in spot.flags
    assert spot.skirt_length_px is None


def test_planes_are_measured_and_called_demosaiced(make_frame):
    grey = make_frame(Star(), mosaic="grey")
    planes = replace(
        grey,
        samples=np.repeat(grey.samples[:, :, None], 3, axis=2),
        pattern=np.zeros((1, 1), dtype=np.uint8),
        black=np.full((1, 3), 512.0),
        clipping=np.full((1, 3), 16383.0),
        kind="demosaiced",
    )
    for spot in measure_frame(planes).spots:
        assert "already demosaiced" in spot.flags
        assert spot.length_px == pytest.approx(Star().lengths[0], abs=0.3)


def test_grey_sizes_agree_with_photutils_and_sep(make_frame):
    # Fair because the spot is well sampled (sigma 3 px), the background is removed and the
    # moments are taken unwindowed over the same circle; sep: filter_kernel=None, else its shapes
    # come from the smoothed image.
    photutils_morphology = pytest.importorskip("photutils.morphology")
    sep = pytest.importorskip("sep")
    star = Star(sigma_x=3.2, sigma_y=2.4, peak=12000.0)
    frame = make_frame(star, mosaic="grey")
    spot = green(measure_frame(frame))
    net = frame.samples.astype(np.float64) - 532.0
    rows, columns = np.indices(net.shape)
    outside = np.hypot(columns - spot.x_px, rows - spot.y_px) > spot.aperture_px
    theirs = photutils_morphology.data_properties(net, mask=outside)
    assert spot.length_px == pytest.approx(3.289707 * theirs.semimajor_axis.value, rel=0.02)
    assert spot.width_px == pytest.approx(3.289707 * theirs.semiminor_axis.value, rel=0.02)
    # sep cuts at its threshold, so it reads a few per cent less.
    found = sep.extract(np.ascontiguousarray(net, dtype=np.float32), 15.0, filter_kernel=None)
    assert spot.length_px == pytest.approx(3.289707 * found["a"].max(), rel=0.06)


def test_frame_is_unchanged_and_flags_are_known(make_frame):
    frame = make_frame(Star())
    before = frame.samples.copy()
    measured = measure_frame(frame)
    np.testing.assert_array_equal(frame.samples, before)
    assert all(flag in FLAGS for spot in measured.spots for flag in spot.flags)


def test_a_place_outside_the_frame_is_refused(make_frame):
    with pytest.raises(ValueError, match=r"place \(500, 20\) lies outside the frame of 240 x 210"):
        measure_frame(make_frame(Star()), near=(500.0, 20.0))


def test_same_frame_same_answer(make_frame):
    assert measure_frame(make_frame(Star())).spots == measure_frame(make_frame(Star())).spots
