"""The report's files and the calendar from the browser, read back with other libraries."""

from __future__ import annotations

import datetime as dt
import io
import re

import httpx
import icalendar
import openpyxl
import pypdf
import pytest

from benchwalk.records.database import session
from benchwalk.report.icalendar import OCTETS, Event, calendar
from benchwalk.summarise import summarise
from benchwalk.summarise.checks import every_check
from benchwalk.summarise.rows import due_walks

STAMP = dt.datetime(2026, 5, 7, 12, tzinfo=dt.UTC)


def test_the_pdf_of_the_week_can_be_read_and_names_its_units(signed_in):
    answer = signed_in("advisor").get("/report/week-a4.pdf?lang=en", timeout=60)
    assert answer.headers["content-type"] == "application/pdf"
    assert "attachment" in answer.headers["content-disposition"]
    text = "".join(p.extract_text() for p in pypdf.PdfReader(io.BytesIO(answer.content)).pages)
    assert "Demo nursery" in text


def test_the_workbook_and_the_page_of_its_own_are_those_of_the_week(signed_in):
    answer = signed_in("grower").get("/report/week.xlsx?lang=es", timeout=60)
    book = openpyxl.load_workbook(io.BytesIO(answer.content))
    assert "Unidades" in book.sheetnames
    assert "Glass House / Bench 4" in signed_in("grower").get("/report/week.html", timeout=60).text


@pytest.mark.parametrize("name", ["week.exe", "week-a4.pdf.bak", "..%2fweek.xlsx"])
def test_a_file_that_there_is_none_of_is_no_page(signed_in, name):
    assert signed_in("grower").get(f"/report/{name}").status_code == 404


def test_the_calendar_has_the_walks_that_are_due_as_icalendar_reads_it(signed_in, demo_operation):
    """Read by the library icalendar; days from the plan: seven after the last walk."""
    page = signed_in("scout").post("/calendar")
    address = re.search(r"<code>(\S+)</code>", page.text)[1]
    feed = signed_in("scout").get(address)
    assert feed.headers["content-type"] == "text/calendar; charset=utf-8"
    read = icalendar.Calendar.from_ical(feed.content)
    events = {str(e["summary"]): e["dtstart"].dt for e in read.walk("VEVENT")}
    with session(*demo_operation) as s:
        week = summarise(s)
        due, checks = due_walks(week), every_check(s, week.known)
    assert events == {f"Walk: {one.place.full_name}": one.on for one in due} | {
        f"Check: {one.place.full_name}, {one.put.what}": one.due_on for one in checks
    }
    assert len(due) == 16
    assert checks


def test_a_new_address_ends_the_one_before_and_a_guessed_one_is_no_page(signed_in):
    grower = signed_in("grower")
    first, second = (
        re.search(r"<code>(\S+)</code>", grower.post("/calendar").text)[1] for _ in range(2)
    )
    assert first != second
    assert grower.get(second).status_code == 200
    assert grower.get(first).status_code == 404
    assert grower.get("/calendar/guessed.ics").status_code == 404


def test_the_feed_needs_no_sign_in_and_opens_nothing_else(signed_in, demo_address):
    address = re.search(r"<code>(\S+)</code>", signed_in("grower").post("/calendar").text)[1]
    with httpx.Client(trust_env=False) as stranger:
        assert stranger.get(address).status_code == 200
        assert stranger.get(f"{demo_address}/").status_code == 303


def test_long_and_hostile_names_stay_text_in_lines_of_75_octets():
    """RFC 5545, 3.1 and 3.3.11: folded lines, escaped commas, semicolons and backslashes."""
    name = "Invernadero ñandú, número 3; \\ junto\r\nBEGIN:VEVENT al camino " * 3
    on = dt.date(2026, 5, 7)
    text = calendar(name, [Event("a", on, on, name, "http://localhost/units/1")], STAMP)
    assert all(len(line.encode("utf-8")) <= OCTETS for line in text.split("\r\n"))
    (event,) = icalendar.Calendar.from_ical(text).walk("VEVENT")
    assert str(event["summary"]) == " ".join(name.splitlines())
    assert event["dtend"].dt - event["dtstart"].dt == dt.timedelta(days=1)
