"""The ranking in charts, maps and tables."""
