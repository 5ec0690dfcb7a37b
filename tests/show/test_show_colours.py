"""Colours of charts: apart for the colour-blind and in grey; measured with CIEDE2000.

The difference formula is written here, for the tests only, and checked against the pairs of
Sharma, Wu & Dalal 2005, Color Research and Application 30, 21 (doi:10.1002/col.20070).
"""

import itertools
import math

import numpy as np
import pytest

from nightglass.show.chart_style import BLUR_RAMP, INK, KEPT, LIGHT_RAMP, OVER, PAPER, SOFT
from nightglass.show.ranking.map_chart import ramp_colour, relative_luminance

# Machado, Oliveira & Fernandes 2009, IEEE Trans. Vis. Comput. Graph. 15, 1291
# (doi:10.1109/TVCG.2009.113), severity 1.0, on linear RGB, as the library colour lists them.
PROTANOPIA = np.array(
    [
        [0.152286, 1.052583, -0.204868],
        [0.114503, 0.786281, 0.099216],
        [-0.003882, -0.048116, 1.051998],
    ]
)
DEUTERANOPIA = np.array(
    [
        [0.367322, 0.860646, -0.227968],
        [0.280085, 0.672501, 0.047413],
        [-0.011820, 0.042940, 0.968881],
    ]
)
EYES = {"usual": np.eye(3), "protanopia": PROTANOPIA, "deuteranopia": DEUTERANOPIA}
# IEC 61966-2-1, sRGB to XYZ (D65).
TO_XYZ = np.array([[0.4124, 0.3576, 0.1805], [0.2126, 0.7152, 0.0722], [0.0193, 0.1192, 0.9505]])
CLEARLY_APART = 20.0
"""About 1 is just noticed side by side; 20 is a different colour at a glance (our choice)."""


def linear_rgb(colour: str) -> np.ndarray:
    c = np.array([int(colour[k : k + 2], 16) for k in (1, 3, 5)]) / 255
    return np.where(c <= 0.04045, c / 12.92, ((c + 0.055) / 1.055) ** 2.4)


def lab(colour: str, eye: np.ndarray) -> tuple[float, float, float]:
    """CIE 1976 L*a*b* (ISO/CIE 11664-4) of a colour as an eye sees it, white D65."""
    xyz = TO_XYZ @ np.clip(eye @ linear_rgb(colour), 0, 1) / (TO_XYZ @ np.ones(3))
    f = np.where(xyz > (6 / 29) ** 3, np.cbrt(xyz), xyz / (3 * (6 / 29) ** 2) + 4 / 29)
    return 116 * f[1] - 16, 500 * (f[0] - f[1]), 200 * (f[1] - f[2])


def ciede2000(one: tuple[float, float, float], two: tuple[float, float, float]) -> float:
    """Colour difference of two L*a*b* values (ISO/CIE 11664-6), equation numbers of Sharma 2005."""
    l1, a1, b1 = one
    l2, a2, b2 = two
    c_mean = (math.hypot(a1, b1) + math.hypot(a2, b2)) / 2  # (2), (3)
    g = 0.5 * (1 - math.sqrt(c_mean**7 / (c_mean**7 + 25**7)))  # (4)
    a1, a2 = (1 + g) * a1, (1 + g) * a2  # (5)
    c1, c2 = math.hypot(a1, b1), math.hypot(a2, b2)  # (6)
    h1, h2 = (math.degrees(math.atan2(b, a)) % 360 for a, b in ((a1, b1), (a2, b2)))  # (7)
    dh = 0.0 if c1 * c2 == 0 else (h2 - h1 + 180) % 360 - 180  # (10)
    if dh == -180 and h2 > h1:
        dh = 180.0
    d_hue = 2 * math.sqrt(c1 * c2) * math.sin(math.radians(dh / 2))  # (11)
    l_mean, c_mean = (l1 + l2) / 2, (c1 + c2) / 2  # (12), (13)
    if c1 * c2 == 0:  # (14)
        h_mean = h1 + h2
    elif abs(h1 - h2) <= 180:
        h_mean = (h1 + h2) / 2
    else:
        h_mean = (h1 + h2 + (360 if h1 + h2 < 360 else -360)) / 2
    t = (  # (15)
        1
        - 0.17 * math.cos(math.radians(h_mean - 30))
        + 0.24 * math.cos(math.radians(2 * h_mean))
        + 0.32 * math.cos(math.radians(3 * h_mean + 6))
        - 0.20 * math.cos(math.radians(4 * h_mean - 63))
    )
    turn = 30 * math.exp(-(((h_mean - 275) / 25) ** 2))  # (16)
    r_c = 2 * math.sqrt(c_mean**7 / (c_mean**7 + 25**7))  # (17)
    s_l = 1 + 0.015 * (l_mean - 50) ** 2 / math.sqrt(20 + (l_mean - 50) ** 2)  # (18)
    s_c, s_h = 1 + 0.045 * c_mean, 1 + 0.015 * c_mean * t  # (19), (20)
    r_t = -math.sin(math.radians(2 * turn)) * r_c  # (21)
    dl, dc, dhue = (l2 - l1) / s_l, (c2 - c1) / s_c, d_hue / s_h
    return math.sqrt(dl**2 + dc**2 + dhue**2 + r_t * dc * dhue)  # (22)


@pytest.mark.parametrize(
    ("one", "two", "difference"),
    [
        ((50, 2.6772, -79.7751), (50, 0, -82.7485), 2.0425),
        ((50, 0, 0), (50, -1, 2), 2.3669),
        ((50, 2.49, -0.001), (50, -2.49, 0.0009), 7.1792),
        ((50, 2.49, -0.001), (50, -2.49, 0.0011), 7.2195),
        ((50, 2.5, 0), (73, 25, -18), 27.1492),
        ((2.0776, 0.0795, -1.135), (0.9033, -0.0636, -0.5514), 0.9082),
    ],
)
def test_ciede2000_against_the_published_pairs(one, two, difference):
    assert ciede2000(one, two) == pytest.approx(difference, abs=1e-4)
    assert ciede2000(two, one) == pytest.approx(difference, abs=1e-4)


@pytest.mark.parametrize("matrix", [PROTANOPIA, DEUTERANOPIA])
def test_simulated_eyes_keep_white_white(matrix):
    assert matrix.sum(axis=1) == pytest.approx(np.ones(3), abs=2e-6)


@pytest.mark.parametrize("eye", EYES)
def test_colours_that_mean_something_are_apart_for_every_eye(eye):
    for one, two in itertools.combinations((KEPT, OVER, PAPER), 2):
        assert ciede2000(lab(one, EYES[eye]), lab(two, EYES[eye])) > CLEARLY_APART, (one, two)


@pytest.mark.parametrize("eye", EYES)
def test_marks_of_the_front_chart_are_apart_for_every_eye(eye):
    """Named settings are also filled and numbered, the others hollow: colour only helps."""
    difference = ciede2000(lab(KEPT, EYES[eye]), lab(SOFT, EYES[eye]))
    assert difference > CLEARLY_APART / 2


def test_within_and_over_the_limit_differ_in_grey():
    kept, over = (lab(colour, np.eye(3))[0] for colour in (KEPT, OVER))
    assert over - kept > 18


@pytest.mark.parametrize("ramp", [BLUR_RAMP, LIGHT_RAMP])
@pytest.mark.parametrize("eye", EYES)
def test_ramps_go_one_way_in_lightness_for_every_eye(ramp, eye):
    lightness = [lab(ramp_colour(ramp, k / 40), EYES[eye])[0] for k in range(41)]
    steps = np.diff(lightness)
    assert np.all(steps < 0) or np.all(steps > 0)
    assert abs(lightness[-1] - lightness[0]) > 60


@pytest.mark.parametrize("ramp", [BLUR_RAMP, LIGHT_RAMP])
def test_numbers_in_cells_are_readable_on_every_colour(ramp):
    """WCAG 2.2, 1.4.3: 3 to 1 for large bold letters; here the better of ink and paper."""
    for k in range(101):
        back = relative_luminance(ramp_colour(ramp, k / 100))
        ink = (back + 0.05) / (relative_luminance(INK) + 0.05)
        assert max(ink, 1.05 / (back + 0.05)) > 4.0


def test_luminance_of_known_colours():
    """WCAG 2.2: black 0, white 1, the primaries 0.2126, 0.7152, 0.0722."""
    assert relative_luminance("#000000") == 0
    assert relative_luminance("#ffffff") == pytest.approx(1)
    assert relative_luminance("#ff0000") == pytest.approx(0.2126)
    assert relative_luminance("#00ff00") == pytest.approx(0.7152)
    # The first grey that has 4.5 to 1 on white, a figure often quoted: #767676.
    assert 1.05 / (relative_luminance("#767676") + 0.05) == pytest.approx(4.54, abs=0.01)
