"""A run of nights: chart, calendar, table."""
