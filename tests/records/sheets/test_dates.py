"""Dates as written in a sheet: one order of day and month for a column, or one question."""

import datetime as dt

import pytest
from hypothesis import given
from hypothesis import strategies as st

from benchwalk.records.sheets.dates import (
    ORDERS,
    Day,
    Habit,
    Parts,
    day,
    habit,
    median_year,
    order_of,
    parts,
    serial,
)
from tests.in_turn import each_of
from tests.records.sheets.small_sheet import on

MAY_7 = dt.date(2024, 5, 7)
DAYS = st.dates(dt.date(1980, 1, 1), dt.date(2068, 12, 31))


def taken(sheet):
    return [r["date"] for r in sheet["records"]]


def refused(sheet):
    return [(r["raw"], r["reason"]) for r in sheet["reject"]]


@each_of(
    "raw",
    [
        # ISO 8601-1:2019, calendar date, and the same with other signs
        "2024-05-07",
        "2024-5-7",
        "2024/05/07",
        "2024.05.07",
        "2024-05-07T10:00",
        "2024-05-07T10:00:00.5Z",
        "2024-05-07T10:00:00+02:00",
        "2024-05-07 10:00:00",
        # dotted dates are day first
        "7.5.2024",
        "07.05.2024",
        "7. 5. 2024",
        "7.5.24",
        # named months
        "7 May 2024",
        "7-May-24",
        "May 7, 2024",
        "May 7th, 2024",
        "7th of May 2024",
        "7 de mayo de 2024",
        "7. Mai 2024",
        "7 MAYO 2024",
        # spaces and full-width signs
        " 2024-05-07 ",
        "\u00a02024-05-07\u00a0",
        "２０２４-05-07",
    ],
)
def test_a_date_that_can_only_be_one_day_is_that_day_in_any_order(raw):
    assert parts(raw) == MAY_7
    assert [day(raw, order) for order in (None, *ORDERS)] == [Day(MAY_7)] * 3


@pytest.mark.parametrize(
    "raw", ["5/7/24", "05/07/2024", "5-7-24", "5 / 7 / 24", "5/7/24 9:30 AM", "5/7/2024 00:00"]
)
def test_a_date_of_numbers_is_a_day_only_in_an_order(raw):
    assert parts(raw) == Parts(5, 7, 2024)
    assert day(raw, None) == Day(None, "ambiguous_date")
    assert day(raw, "month first") == Day(MAY_7)
    assert day(raw, "day first") == Day(dt.date(2024, 7, 5))


def test_a_date_that_is_one_day_in_both_orders_needs_none():
    assert day("5/5/24", None) == Day(dt.date(2024, 5, 5))
    assert not habit(["5/5/24"]).doubtful


def test_a_date_that_is_a_day_in_one_order_is_that_day_whatever_the_column_does():
    for order in (None, *ORDERS):
        assert day("13/5/24", order) == Day(dt.date(2024, 5, 13))
        assert day("5/13/24", order) == Day(dt.date(2024, 5, 13))


@pytest.mark.parametrize(
    ("raw", "year"),
    # POSIX.1-2017, strptime, %y: 69 to 99 are 1969 to 1999, 00 to 68 are 2000 to 2068
    [("00", 2000), ("24", 2024), ("68", 2068), ("69", 1969), ("99", 1999), ("1999", 1999)],
)
def test_two_digits_of_a_year_are_read_as_posix_reads_them(raw, year):
    assert parts(f"1.2.{raw}") == dt.date(year, 2, 1)
    assert parts(f"1/2/{raw}") == Parts(1, 2, year)
    assert parts(f"1 feb {raw}") == dt.date(year, 2, 1)


@each_of(
    "raw",
    [
        "2024-02-30",
        "2023-02-29",
        "1900-02-29",
        "2024-13-01",
        "2024-00-10",
        "0000-01-01",
        "31.04.2024",
        "0.5.2024",
        "29.2.23",
        "30 feb 2024",
        "Feb 30, 2024",
        "31 de abril de 2024",
        "2/29/23",
        "13/13/24",
        "0/5/24",
        "31/4/24",
    ],
)
def test_a_day_that_is_not_in_the_calendar_is_impossible(raw):
    assert [day(raw, order) for order in (None, *ORDERS)] == [Day(None, "impossible_date")] * 3


def test_the_29th_of_february_is_a_day_in_leap_years_alone():
    assert day("2024-02-29", None).on == dt.date(2024, 2, 29)
    assert day("2000-02-29", None).on == dt.date(2000, 2, 29)
    assert day("2100-02-29", None).reason == "impossible_date"


@each_of(
    "raw",
    [
        "May 2024",
        "12",
        "5/7/024",
        "x",
        "5–7–24",
        "5/7/24²",
        "2024-05-07 x",
        "٥/7/24",
        "May May 2024",
        "7 7 2024",
        "10:00",
        "7 May x",
        "x May 2024",
        "7 May 024",
        "Foo 7, 2024",
        "100 May 2024",
    ],
)
def test_text_that_is_no_date_is_no_day(raw):
    assert parts(raw) is None
    assert day(raw, "day first") == Day(None, "impossible_date")


@pytest.mark.parametrize("raw", ["5/7", "7 May", "May 7", "5.7.", "week 19", "KW 19", "W19"])
def test_a_day_or_week_without_its_year_has_no_date_until_the_file_tells_the_year(raw):
    assert parts(raw) is None
    assert day(raw, "day first") == Day(None, "missing_date")
    assert day(raw, "day first", year=2024).on.year == 2024


def test_a_day_without_its_year_is_read_in_the_order_of_the_file():
    assert day("5/7", "month first", year=2024).on == dt.date(2024, 5, 7)
    assert day("5/7", "day first", year=2024).on == dt.date(2024, 7, 5)
    assert day("5/7", None, year=2024).reason == "ambiguous_date"
    assert day("29-Feb", None, year=2023).reason == "impossible_date"


def test_a_week_without_a_day_is_its_monday_by_iso_8601():
    # ISO 8601: 2024-W19 begins on Monday 6 May; 2026 has a week 53, 2024 has none
    assert day("2024-W19", None).on == dt.date(2024, 5, 6)
    assert day("Wk 19", None, year=2024).on == dt.date(2024, 5, 6)
    assert day("2026-W53", None).on == dt.date(2026, 12, 28)
    assert day("2024-W53", None).reason == "impossible_date"


@pytest.mark.parametrize(
    "raw",
    ["Tuesday, May 7, 2024", "Tue 5/7/24", "Di 7.5.2024", "martes 07/05/2024", "20240507"],
)
def test_a_weekday_before_a_date_is_read_and_can_settle_which_is_the_month(raw):
    assert day(raw, None).on == dt.date(2024, 5, 7)


def test_a_weekday_that_is_not_that_of_its_date_is_refused():
    assert day("Mon 2024-05-07", None).reason == "date_contradicts_week"
    assert day("Mon 5/7/24", None).reason == "date_contradicts_week"


@pytest.mark.parametrize("raw", ["n/a", "not checked"])
def test_a_word_for_not_looked_is_no_date(raw):
    assert day(raw, None) == Day(None, "missing_date")


def test_a_number_of_days_is_the_day_that_a_spreadsheet_shows_of_it():
    # ECMA-376 part 1, 18.17.4.1: 45418 is 2024-05-06 counted from 1900; from 1904 it is 1,462 less
    assert day("45418", None).on == dt.date(2024, 5, 6)
    assert day("45418.5", None).on == dt.date(2024, 5, 6)
    assert day("43956", None, from_1904=True).on == dt.date(2024, 5, 6)
    assert day("20240", None).reason == "impossible_date"
    assert day("73051", None).reason == "impossible_date"


@pytest.mark.parametrize("raw", ["", " ", "\u00a0"])
def test_an_empty_date_is_missing(raw):
    assert day(raw, None) == Day(None, "missing_date")


def test_a_year_that_no_sheet_has_is_out_of_range():
    for raw in ("1979-12-31", "2100-01-01", "2204-05-07", "5/13/1869"):
        assert day(raw, "month first") == Day(None, "date_out_of_range")
    assert day("1980-01-01", None).on == dt.date(1980, 1, 1)
    assert day("2099-12-31", None).on == dt.date(2099, 12, 31)


def test_a_day_more_than_five_years_from_the_rest_of_the_file_is_out_of_range():
    assert day("2029-12-31", None, 2024).on == dt.date(2029, 12, 31)
    assert day("2019-01-01", None, 2024).on == dt.date(2019, 1, 1)
    assert day("2030-01-01", None, 2024) == Day(None, "date_out_of_range")
    assert day("2018-12-31", None, 2024) == Day(None, "date_out_of_range")


def test_the_median_year_is_that_of_the_dates_and_the_lower_of_two():
    assert median_year(["2024-05-07", "5/7/24", "7.5.2204", "x", "", "2024-02-30"]) == 2024
    assert median_year(["2024-05-07", "2204-05-07"]) == 2024
    assert median_year(["", "x"]) is None


@pytest.mark.parametrize(
    ("cells", "expected"),
    [
        ([], Habit(None, contradicted=False, doubtful=False)),
        (["2024-05-07", "7.5.2024"], Habit(None, contradicted=False, doubtful=False)),
        (["5/7/24"], Habit(None, contradicted=False, doubtful=True)),
        (["5/7/24", "5/13/24"], Habit("month first", contradicted=False, doubtful=True)),
        (["5/7/24", "13/5/24"], Habit("day first", contradicted=False, doubtful=True)),
        (["13/5/24", "5/13/24"], Habit(None, contradicted=True, doubtful=False)),
        (["31/2/24", "2/29/23"], Habit(None, contradicted=False, doubtful=False)),
    ],
)
def test_the_habit_of_a_column_is_what_its_dates_settle(cells, expected):
    assert habit(cells) == expected


@each_of(
    ("answer", "order"),
    [
        ("month_first", "month first"),
        ("Month first", "month first"),
        ("m/d/yy", "month first"),
        ("MM/DD/YYYY", "month first"),
        ("day_first", "day first"),
        (" d/m ", "day first"),
        ("dd/mm/yyyy", "day first"),
        ("dmy", "day first"),
        ("d.m.yyyy", "day first"),
        ("day", "day first"),
        ("month", "month first"),
        ("mdy", "month first"),
        ("monthly", None),
        ("y/m/d", None),
        ("yes", None),
        ("", None),
        ("first", None),
    ],
)
def test_an_answer_names_an_order_or_none(answer, order):
    assert order_of(answer) == order


@given(DAYS, st.sampled_from(ORDERS))
def test_every_day_reads_back_from_every_way_of_writing_it(date, order):
    slashed = "%m/%d/%Y" if order == "month first" else "%d/%m/%Y"
    for form in ("%Y-%m-%d", "%d.%m.%Y", "%d.%m.%y", "%d %B %Y", "%b %d, %Y", slashed):
        written = date.strftime(form)
        expected = date if "%y" not in form else dt.datetime.strptime(written, form).date()
        assert day(written, order).on == expected or expected.year < 1980


@given(DAYS)
def test_no_order_is_needed_exactly_where_both_give_one_day(date):
    found = day(f"{date.month}/{date.day}/{date.year}", None)
    swapped = date.day <= 12 and date.day != date.month
    assert found == (Day(None, "ambiguous_date") if swapped else Day(date))


@given(st.text(max_size=20))
def test_any_text_is_a_day_or_has_a_reason(raw):
    found = day(raw, None)
    assert (found.on is None) == (found.reason is not None)


def test_one_date_settles_the_order_of_a_sheet_and_that_is_said_with_its_place():
    sheet = on("5/6/24", "5/7/24", "5/13/24", "6/3/24")
    assert taken(sheet) == ["2024-05-06", "2024-05-07", "2024-05-13", "2024-06-03"]
    order = [a for a in sheet["assumed"] if a["what"] == "date_order"]
    assert order == [
        {"what": "date_order", "value": "month first", "because": {"row": 4, "col": "Date"}}
    ]
    assert sheet["asked"] == []


def test_a_sheet_whose_order_nothing_settles_asks_once_and_refuses_those_dates():
    sheet = on("5/6/24", "5/7/24", "2024-05-08", "5/5/24")
    assert taken(sheet) == ["2024-05-08", "2024-05-05"]
    assert refused(sheet) == [("5/6/24", "ambiguous_date"), ("5/7/24", "ambiguous_date")]
    assert [(q["id"], q["at"], q["choices"], q["proposed"]) for q in sheet["asked"]] == [
        ("date_order", {"row": 2, "col": "Date"}, ["month_first", "day_first"], None)
    ]
    assert sheet["accounts"] == {"asked": 2, "recorded": 2}


@pytest.mark.parametrize(
    ("answer", "dates"),
    [
        ("month_first", ["2024-05-06", "2024-05-07"]),
        ("day_first", ["2024-06-05", "2024-07-05"]),
    ],
)
def test_an_answer_settles_the_order_and_nothing_is_asked_again(answer, dates):
    sheet = on("5/6/24", "5/7/24", answers={"date_order": answer})
    assert taken(sheet) == dates
    assert sheet["asked"] == sheet["reject"] == []


def test_an_answer_that_is_no_order_leaves_the_question_open():
    sheet = on("5/6/24", answers={"date_order": "perhaps"})
    assert [q["id"] for q in sheet["asked"]] == ["date_order"]
    assert taken(sheet) == []


def test_both_habits_in_one_column_refuse_the_ambiguous_dates_and_take_the_others():
    sheet = on("5/13/24", "13/5/24", "5/6/24")
    assert taken(sheet) == ["2024-05-13", "2024-05-13"]
    assert refused(sheet) == [("5/6/24", "ambiguous_date")]
    assert "both habits" in sheet["asked"][0]["question"]


def test_bad_dates_of_a_sheet_are_refused_each_with_its_reason():
    sheet = on("2024-05-07", "2024-02-30", "2204-05-07", "", "soon")
    assert taken(sheet) == ["2024-05-07"]
    assert refused(sheet) == [
        ("2024-02-30", "impossible_date"),
        ("2204-05-07", "date_out_of_range"),
        ("", "missing_date"),
        ("soon", "impossible_date"),
    ]


# the names of months and days, long and short, as people write them: common practice, no source
MONTH_NAMES = """jan january ene enero januar jänner
feb february febrero februar
mar march marzo mär märz mrz
apr april abr abril
may mayo mai
jun june junio juni
jul july julio juli
aug august ago agosto
sep sept september septiembre
oct october octubre okt oktober
nov november noviembre
dec december dic diciembre dez dezember"""
DAY_NAMES = """monday mon mo lunes lun montag
tuesday tues tue tu martes dienstag di
wednesday wed we miércoles miercoles mié mie mittwoch mi
thursday thurs thur thu th jueves jue donnerstag do
friday fri fr viernes vie freitag
saturday sat sa sábado sabado sáb sab samstag sonnabend
sunday sun su domingo dom sonntag so"""


def each(names):
    lines = names.splitlines()
    return [(word, n) for n, line in enumerate(lines, start=1) for word in line.split()]


@each_of(("word", "month"), each(MONTH_NAMES))
def test_every_name_of_a_month_is_that_month_in_three_languages(word, month):
    on = dt.date(2024, month, 7)
    for written in (f"7 {word} 2024", f"{word.upper()} 7, 2024", f"7-{word}-24", f"7. {word}. 24"):
        assert day(written, None) == Day(on)


@each_of(("word", "number"), each(DAY_NAMES))
def test_every_name_of_a_weekday_is_that_day_and_no_other(word, number):
    monday = dt.date(2024, 5, 6)  # by hand: 2024-01-01 was a Monday, 18 weeks before
    for away in range(7):
        on = monday + dt.timedelta(days=away)
        right = Day(on) if away == number - 1 else Day(None, "date_contradicts_week")
        assert day(f"{word.title()}, {on:%d.%m.%Y}", None) == right
        assert day(f"{word} {on}", None) == right


@each_of("word", ["week", "Wk", "semana", "sem", "Woche", "KW", "W", "wk.", "Sem.", "kw."])
def test_a_week_by_any_of_its_names_is_its_monday(word):
    """Published: ISO 8601: week 1 holds the first Thursday of the year; 2024-W19 is from 6 May."""
    for written in (f"2024 {word} 19", f"2024-{word}19", f"{word} 19/2024", f"{word}19, 2024"):
        assert parts(written) == dt.date(2024, 5, 6)
    assert parts(f"{word} 19") is None
    assert parts(f"{word} 19", 2024) == dt.date(2024, 5, 6)
    assert parts(f"{word} 54", 2024) == "impossible_date"


@pytest.mark.parametrize(
    ("written", "year"), [("68", 2068), ("69", 1969), ("00", 2000), ("99", 1999), ("24", 2024)]
)
def test_two_digits_of_a_year_are_those_of_posix(written, year):
    """Published: POSIX.1-2017, strptime, %y: 69 to 99 are 1969 to 1999, 00 to 68 are 2000 on."""
    assert parts(f"7.5.{written}") == dt.date(year, 5, 7)
    assert parts(f"May 7, {written}") == dt.date(year, 5, 7)


@pytest.mark.parametrize(("year", "reason"), [(1979, 1), (1980, 0), (2099, 0), (2100, 1)])
def test_years_that_no_sheet_has_are_out_of_range(year, reason):
    assert day(f"{year}-05-07", None).reason == (None, "date_out_of_range")[reason]


@pytest.mark.parametrize(("away", "reason"), [(5, None), (6, "date_out_of_range")])
@pytest.mark.parametrize("side", [-1, 1])
def test_a_year_far_from_that_of_most_dates_is_out_of_range(away, reason, side):
    assert day(f"{2024 + side * away}-05-07", None, 2024).reason == reason


@pytest.mark.parametrize(
    ("text", "on"),
    [
        ("29221", dt.date(1980, 1, 1)),
        ("29220", None),
        ("73050", dt.date(2099, 12, 31)),
        ("73051", None),
        ("45418.75", dt.date(2024, 5, 6)),
        ("4541", None),
        ("045418", None),
        ("454180", None),
    ],
)
def test_a_number_is_a_day_only_from_1980_to_2099(text, on):
    """By hand: 45292 is 2024-01-01, 44 years of which 11 are leap years after 1980-01-01."""
    assert serial(text) == on


@pytest.mark.parametrize(
    "clock",
    [" 8:05", "T08:05:30", " 08:05:30.5", " 8:05 AM", " 8:05 p.m.", "T08:05Z", " 08:05+02:00"],
)
def test_a_time_behind_a_date_is_left_out(clock):
    assert day(f"2024-05-07{clock}", None) == Day(MAY_7)
    assert day(f"7.5.2024{clock}", None) == Day(MAY_7)


def test_dates_that_agree_contradict_nothing():
    assert not habit(["5/13/24", "5/20/24"]).contradicted
    assert not habit(["5/7/24"]).contradicted
    assert not habit([]).contradicted
    assert habit(["5/13/24", "13/5/24"]).contradicted
