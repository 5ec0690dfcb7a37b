"""Dates that a person types."""

from __future__ import annotations

import calendar
import re
from datetime import date, timedelta

MOST_NIGHTS = 800


def day(text: str) -> date:
    """Return the date of "2027-05-06".

    Raises ValueError for other forms and for days that no calendar has (30 February).
    """
    match = re.fullmatch(r"(\d{4})-(\d{1,2})-(\d{1,2})", text.strip())
    if not match:
        raise ValueError(f'"{text}" is not a date; write year-month-day, like 2027-05-06')
    year, month, number = (int(part) for part in match.groups())
    if not 1 <= month <= 12:
        raise ValueError(f'"{text}": there is no month {month}; months go from 1 to 12')
    if year < 1:
        raise ValueError(f'"{text}": there is no year {year}')
    last = calendar.monthrange(year, month)[1]
    if not 1 <= number <= last:
        raise ValueError(
            f'"{text}": {calendar.month_name[month]} {year} has {last} days; day {number} does '
            "not exist"
        )
    return date(year, month, number)


def span(text: str) -> tuple[date, int]:
    """Return the first evening and the number of nights of what a person types.

    "2027-05-06" is one night, "2027-05-06..2027-05-20" both ends included, "2027-05" a month,
    "2027" a year. Raises ValueError for ends in the wrong order and spans over 800 nights.
    """
    cleaned = text.strip()
    if re.fullmatch(r"\d{4}", cleaned):
        first = date(int(cleaned), 1, 1)
        return first, 366 if calendar.isleap(first.year) else 365
    if re.fullmatch(r"\d{4}-\d{1,2}", cleaned):
        first = day(cleaned + "-1")
        return first, calendar.monthrange(first.year, first.month)[1]
    start, dots, end = cleaned.partition("..")
    first = day(start)
    if not dots:
        return first, 1
    count = (day(end) - first) // timedelta(days=1) + 1
    if count < 1:
        raise ValueError(
            f'"{text}": the last date lies before the first; write the earlier one first'
        )
    if count > MOST_NIGHTS:
        raise ValueError(f'"{text}" is {count} nights; plan {MOST_NIGHTS} at most at a time')
    return first, count
