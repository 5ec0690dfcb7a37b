"""Photons: apertures, sky and star light in electrons, noise, exposure values, ISO."""
