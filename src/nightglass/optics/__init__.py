"""Formulas of lenses and of the light that they focus; no gear, no files."""
