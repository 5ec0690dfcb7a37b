"""Pupil, transmission and falloff."""

import math

import numpy as np
import pytest

from nightglass.gear.lens import Lens
from nightglass.light.aperture import (
    TransmissionSource,
    cosine_falloff,
    flat_falloff,
    lens_transmission,
    pupil_area_mm2,
    pupil_diameter_mm,
    pupil_falloff_from_flat,
    with_flat_transmission,
)
from nightglass.light.defaults import TRANSMISSION
from nightglass.optics.projection import off_axis_degrees


@pytest.mark.parametrize(
    ("focal_mm", "f_number", "diameter_mm", "area_mm2"),
    # D = f/N with N taken literally: relative aperture of ISO 517 (scope read), recomputed. Ours
    # uses the exact power behind the mark, at most 2.1 % away in D for these.
    [
        (14, 2.8, 5.000, 19.635),
        (20, 1.8, 11.111, 96.963),
        (24, 1.4, 17.143, 230.811),
        (35, 1.4, 25.000, 490.874),
    ],
)
def test_pupil_against_literal_marks(focal_mm, f_number, diameter_mm, area_mm2):
    assert pupil_diameter_mm(focal_mm, f_number) == pytest.approx(diameter_mm, rel=0.011)
    assert pupil_area_mm2(focal_mm, f_number) == pytest.approx(area_mm2, rel=0.021)
    # An exact f-number is no mark and is taken as it is.
    literal = f_number * (1 + 3e-3)
    assert pupil_diameter_mm(focal_mm, literal) == pytest.approx(diameter_mm / (1 + 3e-3), abs=6e-4)


def test_pupil_by_exact_powers():
    assert pupil_diameter_mm(14, 2.8) == pytest.approx(14 / math.sqrt(8))
    assert pupil_area_mm2(20, 2.0) == pytest.approx(math.pi / 4 * 100)
    # A third of a stop is a factor 2^(1/3) of area, exactly.
    assert pupil_area_mm2(24, 1.8) / pupil_area_mm2(24, 2.0) == pytest.approx(2 ** (1 / 3))


def test_transmission_in_the_order_of_trust():
    wren = Lens("Wren", 12, 12, 2.0, 2.0)
    # Common practice: T-stops a sixth to a third of a stop slower than f-numbers.
    unknown = lens_transmission(wren)
    assert (unknown.share, unknown.err) == (TRANSMISSION.value, 0.08)
    assert unknown.source is TransmissionSource.DEFAULT
    assert 2 ** (-1 / 3) < unknown.share < 2 ** (-1 / 6)
    by_stop = lens_transmission(Lens("Wren", 12, 12, 2.0, 2.0, t_stop=2.3))
    assert by_stop.share == pytest.approx((2 / 2.3) ** 2)
    assert by_stop.source is TransmissionSource.T_STOP
    # Rounded to a tenth: an even spread of 0.05 either way, twice as much in light.
    assert by_stop.err == pytest.approx(by_stop.share * 2 * 0.05 / math.sqrt(3) / 2.3)
    both = lens_transmission(Lens("Wren", 12, 12, 2.0, 2.0, transmission=0.8, t_stop=2.3))
    assert (both.share, both.err, both.source) == (0.8, 0.0, TransmissionSource.MEASURED)
    # 60 to 90 % are 0.7 to 0.1-0.2 stops: stated in tutorials; log2.
    assert -math.log2(0.6) == pytest.approx(0.74, abs=0.01)
    # The mark 2.8 is 2.828: T 2.8 means no loss, not a gain.
    assert lens_transmission(Lens("Heron", 20, 20, 2.8, 2.8, t_stop=2.8)).share == 1.0


def test_falloff_of_a_lens_of_which_nothing_was_measured():
    # cos^4 in the corner of 36 x 24: 0.0871, 0.2124, 0.3044, 0.7095 (-3.52 to -0.50 EV); the law of
    # an ideal lens (Kerr 2007, Derivation of the Cosine Fourth Law).
    for f, light, ev in (
        (14, 0.0871, -3.52),
        (20, 0.2124, -2.24),
        (24, 0.3044, -1.72),
        (50, 0.7095, -0.50),
    ):
        corner = off_axis_degrees(math.hypot(18, 12), f)
        found = flat_falloff(corner)
        assert found == pytest.approx(light, abs=1e-4)
        assert np.log2(found) == pytest.approx(ev, abs=5e-3)


@pytest.mark.parametrize("projection", ["rectilinear", "equidistant", "equisolid", "stereographic"])
def test_pupil_and_flat_are_inverse(projection):
    theta = np.array([0.0, 15.0, 50.0])
    pupil = np.array([1.0, 0.9, 0.4])
    flat = flat_falloff(theta, projection, pupil)
    np.testing.assert_allclose(pupil_falloff_from_flat(flat, theta, projection), pupil)
    np.testing.assert_allclose(cosine_falloff(theta), np.cos(np.radians(theta)))


def test_bad_input():
    with pytest.raises(ValueError, match="focal_mm is 0; a focal length is above 0 mm"):
        pupil_area_mm2(0, 2.8)
    with pytest.raises(ValueError, match=r"f-number is 0; it must be above 0"):
        pupil_area_mm2(20, 0)
    with pytest.raises(ValueError, match=r"transmission of Wren is 1\.2; it is a share above 0"):
        lens_transmission(Lens("Wren", 12, 12, 2.0, 2.0, transmission=1.2))
    with pytest.raises(
        ValueError, match=r"T-stop of Wren is 1\.8 at f/2; glass lets no more light"
    ):
        lens_transmission(Lens("Wren", 12, 12, 2.0, 2.0, t_stop=1.8))


def test_flats_part_lenses_and_leave_the_whole_to_what_else_is_known():
    wren, heron = Lens("Wren", 12, 12, 2.0, 2.0), Lens("Heron", 20, 20, 2.8, 2.8)
    typed = Lens("Plover", 24, 24, 2.2, 2.2, transmission=0.9, transmission_err=0.02)
    light = {"Wren": (1.0, 0.0), "Heron": (0.8, 0.01), "Plover": (1.1, 0.01)}
    told = {lens.name: lens_transmission(lens) for lens in with_flat_transmission(
        (wren, heron, typed), light)}  # fmt: skip
    assert told["Plover"] == lens_transmission(typed)
    assert told["Wren"].source is told["Heron"].source is TransmissionSource.FLATS
    assert told["Heron"].share / told["Wren"].share == pytest.approx(0.8)
    assert told["Heron"].err == pytest.approx(told["Heron"].share * 0.01 / 0.8)
    # By hand: ln(0.85), ln(0.85 / 0.8) and ln(0.9 / 1.1), each over its own variance.
    logs = np.log([0.85, 0.85 / 0.8, 0.9 / 1.1])
    squares = np.array([(0.08 / 0.85) ** 2, (0.08 / 0.85) ** 2 + 0.0125**2,
                        (0.02 / 0.9) ** 2 + (0.01 / 1.1) ** 2])  # fmt: skip
    whole = math.exp(np.average(logs, weights=1 / squares))
    assert told["Wren"].share == pytest.approx(whole)
    assert told["Wren"].common_err == pytest.approx(whole / math.sqrt(np.sum(1 / squares)))
    assert with_flat_transmission((wren, heron), {"Wren": (1.0, 0.0)}) == (wren, heron)
