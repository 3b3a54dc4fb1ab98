"""Single cells: dates against the calendar of the standard library, counts, words."""

import datetime as dt

import hypothesis.strategies as st
import pytest
from hypothesis import given, settings

from cohort.audit.cells import Count, Problem, count, date, number, word
from cohort.terms import SHEETS

QUEENS = SHEETS["foundings"].column("queens")
ALIVE = SHEETS["checks"].column("queens_alive")
OFF = SHEETS["checks"].column("give_or_take")
LOW = SHEETS["temperatures"].column("min_c")

DAYS = st.dates(dt.date(1990, 1, 1), dt.date(2099, 12, 31))


@pytest.mark.parametrize(
    "form",
    [
        "%Y-%m-%d",
        "%Y%m%d",
        "%Y/%m/%d",
        "%Y.%m.%d",
        "%d %b %Y",
        "%d %B %Y",
        "%B %d, %Y",
        "%Y-%m-%d 00:00:00",
    ],
)
@given(DAYS)
def test_dates_that_can_be_one_day(form, day):
    # Calendar dates of ISO 8601 (extended and basic form) and months by name, written by strftime.
    assert date(day.strftime(form), "") == day


@given(DAYS, st.sampled_from("./-"))
def test_short_dates_by_the_order_agreed(day, sign):
    for order, form in (
        ("dmy", "%d{0}%m{0}%Y"),
        ("mdy", "%m{0}%d{0}%Y"),
        ("dmy", "%d{0}%m{0}%y"),
        ("mdy", "%m{0}%d{0}%y"),
        ("ymd", "%y{0}%m{0}%d"),
    ):
        text = day.strftime(form.format(sign))
        wanted = (
            day
            if "%Y" in form or day.year >= 2000
            else day.replace(year=day.year + 100)
            if (day.month, day.day) != (2, 29)
            else None
        )
        if wanted is not None:
            assert date(text, order) == wanted


@given(DAYS)
def test_without_an_order_a_short_date_is_read_only_if_it_can_be_one_day(day):
    got = date(f"{day.day:02d}/{day.month:02d}/{day.year}", "")
    two = day.day <= 12 and day.day != day.month
    assert isinstance(got, Problem) == two
    assert got == day or (two and got.rule == "date-ambiguous")


@pytest.mark.parametrize(
    ("text", "rule"),
    [
        ("03/04/2026", "date-ambiguous"),
        ("3.4.26", "date-ambiguous"),
        ("31/07/26", "date-ambiguous"),
        ("2026-02-29", "not-a-date"),
        ("29/02/2026", "not-a-date"),
        ("2026-13-01", "not-a-date"),
        ("4.7.", "not-a-date"),
        ("July 2026", "not-a-date"),
        ("45847", "date-as-number"),
        ("0206-07-04", "not-a-date"),
        ("4 Foo 2026", "not-a-date"),
        ("2026-07-04 to 2026-07-08", "not-a-date"),
    ],
)
def test_what_is_no_day_is_a_problem(text, rule):
    got = date(text, "")
    assert isinstance(got, Problem)
    assert got.rule == rule


def test_leap_day():
    assert date("2028-02-29", "") == dt.date(2028, 2, 29)


@pytest.mark.parametrize(
    ("text", "want"),
    [
        ("0", Count(0, False)),
        ("12", Count(12, False)),
        ("5+", Count(5, True)),
        ("5 +", Count(5, True)),
        ("3.0", Count(3, False)),
        ("3,0", Count(3, False)),
    ],
)
def test_counts(text, want):
    assert count(text, ALIVE) == want


@pytest.mark.parametrize("text", ["-1", "2.5", "~5", "3-4", "many", "5++", "+5", "٣", "1e3", "x"])
def test_what_is_no_count(text):
    assert isinstance(count(text, ALIVE), Problem)


def test_at_least_is_taken_only_where_it_means_something():
    assert count("5+", QUEENS).rule == "not-exact"


def test_numbers_with_point_or_comma():
    assert number("19,5", LOW) == number("19.5", LOW) == 19.5
    assert number("-3", LOW) == -3
    assert number("-3", OFF).rule == "below-zero"
    assert number("19.5C", LOW).rule == "not-a-number"


@pytest.mark.parametrize(
    "column",
    [c for sheet in SHEETS.values() for c in sheet.columns if c.kind in ("word", "yes-no")],
    ids=lambda c: c.name,
)
def test_every_fixed_word_is_read_in_any_case(column):
    for text in column.allowed:
        got = word(text.upper().replace("-", " "), column)
        assert got in column.allowed
    assert isinstance(word("qqqq", column), Problem)


def test_two_ways_of_feeding_are_read_as_what_they_are():
    feeding = SHEETS["foundings"].column("feeding")
    assert word("claustral", feeding) == "none"
    assert word("Semi-claustral", feeding) == "fed"
    assert word("semi claustral", feeding) == "fed"


@settings(max_examples=300)
@given(st.text(max_size=12), st.sampled_from(["", "dmy", "mdy", "ymd"]))
def test_no_text_breaks_a_reader(text, order):
    assert isinstance(date(text, order), dt.date | Problem)
    assert isinstance(count(text, ALIVE), Count | Problem)
    assert isinstance(number(text, LOW), float | Problem)
