"""Kinds of study: one file each, from frames on record to results."""
