"""Measures lenses for photographs of the night sky and says which settings to use."""
