"""A star's light and the Milky Comparison's glow in a frame, by lens and body, and as found."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np

from nightglass.light.aperture import cosine_falloff, lens_transmission, pupil_area_mm2
from nightglass.light.atmosphere import airmass_kasten_young1989, extinction_mag
from nightglass.light.defaults import AIRMASS, EXTINCTION, MILKY_WAY_BRIGHTNESS, V_MINUS_G
from nightglass.light.iso import read_noise_at
from nightglass.light.noise import glow_snr, mosaic_mix, pixels_per_square_degree
from nightglass.light.photons import SQUARE_ARCSEC_PER_SR, LightPath, surface_e_per_s_px
from nightglass.optics.arrays import Floats
from nightglass.optics.projection import off_axis_degrees
from nightglass.proof.codes import PredictionReasonCode
from nightglass.proof.prediction.cells import Cells, NightCase
from nightglass.proof.prediction.ratio import times
from nightglass.proof.reasons import PredictionReason
from nightglass.proof.records import (
    Prediction,
)

EXTINCTION_ERR = 0.08
"""Magnitudes per airmass by which clear nights differ: 0.12 on mountains, 0.28 in haze."""


def _air_mag(case: NightCase) -> tuple[float, float]:
    """Extinction toward the aim and its error [mag]."""
    sky = case.bench.sky
    altitude = case.aim_altitude_degrees
    airmass = AIRMASS.value if sky.airmass is None else sky.airmass
    if altitude is not None and altitude > 5:
        airmass = float(airmass_kasten_young1989(altitude))
    per_airmass = EXTINCTION.value if sky.extinction_mag is None else sky.extinction_mag
    return float(extinction_mag(airmass, per_airmass)), EXTINCTION_ERR * airmass


def _gain(case: NightCase) -> tuple[float, float] | None:
    """Electrons per count and their relative error: as typed (0) or measured, else from the
    frame's own noise."""
    body = case.bench.body
    given = body.gain_e_per_count.get(case.iso) if case.iso is not None else None
    if given and case.iso is not None:
        return given, body.gain_err_e_per_count.get(case.iso, 0.0) / given
    own, err = case.night.gain_e_per_count, case.night.gain_e_per_count_err
    return None if own is None or err is None else (own, err / own)


def _path(case: NightCase) -> LightPath | None:
    lens, body = case.bench.lens(case.setting.lens), case.bench.body
    if lens is None or body.efficiency is None:
        return None
    area = pupil_area_mm2(case.setting.focal_mm, case.setting.f_number)
    return LightPath(area, lens_transmission(lens).share, body.efficiency)


NO_ZERO_POINT = PredictionReason(PredictionReasonCode.NO_ZERO_POINT)
NO_EFFICIENCY = PredictionReason(PredictionReasonCode.NO_EFFICIENCY)
"""A default would say nothing of this body."""
NO_GAIN = PredictionReason(PredictionReasonCode.NO_GAIN)


def light(case: NightCase) -> Prediction:
    """Return the light of a star through the lens: zero points that bench.toml gives, and found."""
    path, gain, found = _path(case), _gain(case), case.night.zero_point_mag
    if found is None:
        return Prediction(reason=NO_ZERO_POINT)
    if path is None:
        return Prediction(found=found, reason=NO_EFFICIENCY)
    if gain is None:
        return Prediction(found=found, reason=NO_GAIN)
    air, air_err = _air_mag(case)
    per_count, gain_err = gain
    predicted = 2.5 * math.log10(path.zero_magnitude_e_per_s / per_count) - V_MINUS_G.value - air
    err = math.hypot(0.921 * math.hypot(case.night.zero_point_err or 0.0, air_err), gain_err)
    answer = times(1.0, 10 ** (0.4 * (found - predicted)), [(err**2, math.inf)])
    return replace(answer, predicted=predicted, found=found)


def glow(case: NightCase, cells: Cells, parts: tuple[Floats, Floats]) -> Prediction:
    """Return the glow predicted and found, both with the sky as bright as it was found to be.

    parts: share of the samples and light over green's, by colour.
    """
    path, gain, sky_mag = _path(case), _gain(case), case.night.sky_mag_arcsec2
    lens = case.bench.lens(case.setting.lens)
    if cells.zero_mag is None or sky_mag is None or not np.any(cells.open):
        return Prediction(reason=PredictionReason(PredictionReasonCode.SKY_BRIGHTNESS_UNKNOWN))
    if path is None or lens is None:
        return Prediction(reason=NO_EFFICIENCY)
    if gain is None:
        return Prediction(reason=NO_GAIN)
    camera, body, seconds = case.sight.solution.camera, case.bench.body, case.sight.exposure_s
    air, air_err = _air_mag(case)
    radius_mm = np.hypot(cells.x_px - camera.centre_x_px, cells.y_px - camera.centre_y_px)
    radius_mm = radius_mm * body.pitch_um / 1000
    theta = off_axis_degrees(radius_mm, case.setting.focal_mm, lens.projection)
    solid = cells.solid_angle_arcsec2 / SQUARE_ARCSEC_PER_SR
    half_mm = math.hypot(body.width_mm, body.height_mm) / 2
    falloff = case.falloff
    pupil = cosine_falloff(theta) if falloff is None else falloff.share(radius_mm / half_mm)
    # The sky's magnitude is that of stars above the air; the formula takes it from the ground.
    sky_e = seconds * surface_e_per_s_px(sky_mag + V_MINUS_G.value + air, path, solid, pupil)
    glow_e = seconds * surface_e_per_s_px(MILKY_WAY_BRIGHTNESS.value, path, solid, pupil)
    count = pixels_per_square_degree(solid)
    read = read_noise_at(body, case.iso).electrons
    ours = glow_snr(glow_e, sky_e, read, count, mosaic_mix(body.mosaic))
    above_air = MILKY_WAY_BRIGHTNESS.value - V_MINUS_G.value - air
    counts = 10 ** (-0.4 * (above_air - cells.zero_mag)) * cells.solid_angle_arcsec2
    shares, colours = parts
    known = shares > 0
    signal = counts[:, None] * colours[known]
    noise = cells.noise_counts[:, known] ** 2 + signal / gain[0]
    seen = np.sqrt(count * np.sum(shares[known] * signal**2 / noise, axis=1))
    predicted, found = (
        float(np.average(v[cells.open], weights=solid[cells.open])) for v in (ours, seen)
    )
    err = 0.921 * math.hypot(case.night.zero_point_err or 0.0, air_err)
    return times(predicted, found, [(err**2, math.inf)])
