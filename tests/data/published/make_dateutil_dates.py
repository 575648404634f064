"""Writes dateutil_dates.csv: dates typed in unambiguous styles, with what python-dateutil makes of them.

    python3 make_dateutil_dates.py > dateutil_dates.csv

Each text is parsed twice with defaults that differ in every part; a part that follows the default was not in the text.
"""

import csv
import datetime
import random
import sys

import dateutil
from dateutil.parser import parse

SHORT = "JAN FEB MAR APR MAY JUN JUL AUG SEP OCT NOV DEC".split()
LONG = (
    "JANUARY FEBRUARY MARCH APRIL MAY JUNE JULY AUGUST SEPTEMBER OCTOBER NOVEMBER DECEMBER".split()
)
STYLES = [
    "{d} {M} {y}",
    "{d:02} {M} {y}",
    "{d}-{M}-{y}",
    "{d}{M}{y}",
    "{d} {M}. {y}",
    "{M} {d}, {y}",
    "{M}. {d}, {y}",
    "{M} {d} {y}",
    "{L} {d}, {y}",
    "{L} {d}{th}, {y}",
    "{d}{th} {L} {y}",
    "{d}{th} OF {L} {y}",
    "{d} {L} {y}",
    "{y} {M} {d}",
    "{y}-{M}-{d:02}",
    "{y}-{m:02}-{d:02}",
    "{y}/{m:02}/{d:02}",
    "{y}.{m:02}.{d:02}",
    "{a}/{b}/{y}",
    "{a:02}/{b:02}/{y}",
    "{a}-{b}-{y}",
    "{a}.{b}.{y}",
    "{M} {y}",
    "{M}. {y}",
    "{L} {y}",
    "{L}, {y}",
    "{M}-{y}",
    "{y} {L}",
    "{m:02}/{y}",
    "{m}/{y}",
    "{y}",
]
TEXTS_A_STYLE = 12


def ordinal(day):
    return "TH" if 10 < day < 20 else {1: "ST", 2: "ND", 3: "RD"}.get(day % 10, "TH")


def value(text, dayfirst):
    """The date as EDTF, to the smallest unit that the text names."""
    one = parse(text, dayfirst=dayfirst, default=datetime.datetime(1804, 1, 1))
    two = parse(text, dayfirst=dayfirst, default=datetime.datetime(1808, 10, 10))
    parts = ["%04d" % one.year]
    assert one.year == two.year, text
    if one.month == two.month:
        parts.append("%02d" % one.month)
        if one.day == two.day:
            parts.append("%02d" % one.day)
    return "-".join(parts)


def main():
    draw = random.Random(1952)
    out = csv.writer(sys.stdout, lineterminator="\n")
    out.writerow(["text", "order", "dateutil_" + dateutil.__version__])
    for style in STYLES:
        for _ in range(TEXTS_A_STYLE):
            year, month = draw.randint(1800, 2020), draw.randint(1, 12)
            # With a year in front and the day preferred, dateutil puts the day before the month, which nobody types.
            day, dayfirst = draw.randint(1, 28), not style.startswith("{y}") and draw.random() < 0.5
            first, second = (day, month) if dayfirst else (month, day)
            text = style.format(
                y=year, m=month, d=day, a=first, b=second, M=SHORT[month - 1], L=LONG[month - 1], th=ordinal(day)
            )
            order = "day-month" if dayfirst else "month-day"
            out.writerow([text, order, value(text, dayfirst)])


main()
