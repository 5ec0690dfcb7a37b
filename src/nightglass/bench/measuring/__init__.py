"""Measuring the files of a bench, over all cores."""
