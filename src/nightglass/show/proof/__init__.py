"""Bench against sky: words, tables, chart, page."""
