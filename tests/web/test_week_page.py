"""The week over the demo: rows by need, filters, absences, the numbers of the command line."""

from __future__ import annotations

import datetime as dt
import re

import pytest

from benchwalk.catalogue import LOCALES, say
from benchwalk.records.database import session
from benchwalk.report.as_json import week_json
from benchwalk.report.figures import figure, times_figure
from benchwalk.summarise import summarise
from benchwalk.summarise.rows import Wanted, due_walks, week_rows
from tests.report.a_summary import a_summary
from tests.web.test_reading_the_week import Text

NUMBER = re.compile(r'data-key="([^"]+)"[^>]*>([^<]*)<')
ROW = re.compile(r'<tr role="row" class="unit-row">(.*?)</tr>', re.DOTALL)
FIRST_FIGURE = re.compile(r"[0-9][0-9.]*")


def numbers_of(source: str) -> dict[str, str]:
    """Text of every number of a page by its key."""
    return dict(NUMBER.findall(source))


def first_figure(text: str) -> float:
    return float(FIRST_FIGURE.search(text)[0])


def said_by_the_command_line(s, day: dt.date | None) -> dict[str, float]:
    """What `benchwalk summary --json` says, by the keys that pages use, as it would be shown."""
    held = {}
    for unit in week_json(summarise(s, day))["units"]:
        for line in unit["lines"]:
            parts = ("unit", unit["unit_id"], line["taxon"], line["stage"], line["method"])
            key = ".".join(parts)
            times, density = line["times_threshold"], line["density"]["mean"]
            if times is not None and times["value"] is not None:
                held[f"{key}.times"] = float(times_figure(times["value"]))
            if density is not None:
                held[f"{key}.density"] = float(figure(density))
            if line["counted"]["how"] in ("counted", "at_least"):
                held[f"{key}.counted"] = float(line["counted"]["total"])
    return held


def test_five_hundred_numbers_are_those_of_the_command_line(signed_in, demo_operation):
    """Thirteen weeks and every unit's page of the last: no number differs, none is made up."""
    compared = 0
    with session(*demo_operation) as s, session(*demo_operation) as other:
        last = summarise(s).day
        grower = signed_in("grower")
        pages = [(f"/?day={(d := last - dt.timedelta(weeks=w))}", d) for w in range(0, 26, 2)]
        units = [unit.unit.id for unit in summarise(s).units]
        pages += [(f"/units/{unit}", None) for unit in units]
        for path, day in pages:
            shown = numbers_of(grower.get(path).text)
            said = said_by_the_command_line(other, day)
            of_week = {key: text for key, text in shown.items() if key in said}
            assert of_week, path
            assert {k: first_figure(text) for k, text in of_week.items()} == {
                k: said[k] for k in of_week
            }
            compared += len(of_week)
            undated = [k for k in shown if k.endswith((".times", ".density"))]
            assert [k for k in undated if k not in said] == []
    assert compared >= 500


def test_the_rows_stand_in_order_of_need_and_add_up_to_the_units(signed_in, demo_operation):
    source = signed_in("scout").get("/").text
    with session(*demo_operation) as s:
        summary = summarise(s)
    groups = re.findall(r'class="group is-(\w+)"', source)
    assert groups == ["over", "near", "not_looked", "no_threshold"]
    linked = set(re.findall(r'href="/units/([^"]+)"', source))
    shown = {u.unit.id for u in summary.units} | {m.unit.id for m in summary.not_looked}
    assert linked == {str(unit) for unit in shown}
    head = re.search(r'<p class="sum" id="sum">(.*?)</p>', source, re.DOTALL)[1]
    assert sum(int(n) for n in re.findall(r">[^<]*?(\d+)</a>", head)) == len(shown)


# own regression values: the largest row of the demo has 39 elements
ELEMENTS_MOST, BYTES_MOST = 42, 3600


def test_a_row_is_small_since_hundreds_of_them_are_read_on_a_slow_machine(signed_in):
    """The ground of a strip and the threshold of ten weeks are the stylesheet's, in no row."""
    rows = ROW.findall(signed_in("grower").get("/?lang=en").text)
    assert len(rows) > 15
    assert max(len(re.findall(r"<[a-z]", row)) for row in rows) <= ELEMENTS_MOST
    assert max(len(row.encode()) for row in rows) <= BYTES_MOST
    assert not [row for row in rows if re.search(r'class="(?:tint|grid|one)"', row)]


@pytest.mark.parametrize("locale", LOCALES)
def test_a_unit_nobody_looked_at_has_a_reason_and_no_number(signed_in, locale):
    source = signed_in("grower").get(f"/?lang={locale}").text
    group = re.search(r'class="group is-not_looked".*?</tbody>', source, re.DOTALL)[0]
    rows = ROW.findall(group)
    assert len(rows) == 3
    for row in rows:
        text = Text(row).text
        keys = numbers_of(row)
        assert all(key.endswith(".over") for key in keys), "only what is ahead has a number"
        assert say("week.no_count", locale) in text
        assert say("reason.no_word", locale).lower() in text.lower()
        cell = re.search(r'class="c-now".*?</td>', row, re.DOTALL)[0]
        assert not re.search(r"(?<![\d.])0(?![\d.])", Text(cell).text)


def test_looked_none_is_a_zero_with_its_upper_bound_and_not_an_absence(client):
    source = client.get("/?lang=en").text
    group = re.search(r'class="group is-none".*?</tbody>', source, re.DOTALL)[0]
    times = [t for k, t in numbers_of(group).items() if k.endswith(".times")]
    assert times
    assert set(times) == {"0"}
    assert "0 to " in Text(group).text
    assert say("week.no_count", "en") not in group


@pytest.mark.parametrize(
    ("asked", "units"),
    [
        ("house=Long+House", 6),
        ("house=Glass+House", 6),
        ("person=scout+2", 2),
        ("house=Nowhere", 0),
    ],
)
def test_a_filter_keeps_to_a_house_or_who_walked_there_and_says_so(signed_in, asked, units):
    source = signed_in("grower").get(f"/?{asked}").text
    linked = set(re.findall(r'href="/units/([^"]+)"', source))
    assert len(linked) >= units if "person" in asked else len(linked) == units
    assert f"Shown: {len(linked)} of 16." in source
    # the head speaks of those units, and of no others
    assert (f" of {len(linked)}." in head(source)) == bool(linked)
    assert "Minutes walked" not in head(source)


def head(source: str) -> str:
    """What the week's head says under its first sentence."""
    return source.partition('<div id="stands">')[2].partition("</div>")[0]


def test_a_filter_by_pest_shows_that_pest_and_units_not_looked_at(signed_in):
    source = signed_in("grower").get("/?pest=fungus_gnat").text
    keys = numbers_of(source)
    assert keys
    assert {key.split(".")[2] for key in keys} == {"fungus_gnat"}
    assert 'class="group is-not_looked"' in source


def test_a_filter_changes_which_rows_there_are_and_no_number(signed_in):
    everything = numbers_of(signed_in("grower").get("/").text)
    part = numbers_of(signed_in("grower").get("/?house=Glass+House").text)
    assert part
    assert {key: everything[key] for key in part} == part


def test_a_row_has_ten_weeks_and_weeks_without_a_count_are_none_of_them_zero():
    """Invented week: not a single day of it may become a count that nobody made."""
    rows = week_rows(a_summary()).rows
    assert all(weeks == () or len(weeks) == 10 for weeks in (row.weeks for row in rows))
    assert all(row.weeks.count(None) == 10 for row in rows if row.weeks and not row.unit)


def test_ten_weeks_of_the_demo_are_those_of_ten_summaries(demo_operation):
    """Each point is the density over the threshold now in force, hand-worked from the series."""
    with session(*demo_operation) as s:
        summary = summarise(s)
        row = next(r for r in week_rows(summary).rows if r.line is not None and r.weeks)
        value = row.line.rule.threshold.value
        for back, times in enumerate(reversed(row.weeks)):
            then = summarise(s, summary.day - dt.timedelta(weeks=back))
            lines = [x for u in then.units for x in u.lines if x.series.key == row.line.series.key]
            if times is None:
                assert lines == [] or lines[0].series.counts is None
            else:
                total, _, effort = lines[0].series.counts
                assert times == pytest.approx(total / effort / value)


def test_what_is_due_counts_from_the_last_walk_by_the_plan(demo_operation):
    with session(*demo_operation) as s:
        summary = summarise(s)
    due = {one.place.id: one.on for one in due_walks(summary)}
    for unit in summary.units:
        assert due[unit.unit.id] == unit.on + dt.timedelta(days=7)  # the demo's plan: weekly


def test_other_lines_over_their_threshold_are_rows_of_the_same_unit(demo_operation):
    with session(*demo_operation) as s:
        summary = summarise(s)
    rows = week_rows(summary, Wanted())
    over = sum(x.state == "over" for u in summary.units for x in u.lines)
    shown = sum(1 + len(row.others) for row in rows.rows if row.state == "over")
    assert shown == over


def test_an_address_with_a_day_that_is_none_is_refused_in_words(signed_in):
    answer = signed_in("grower").get("/?day=yesterday")
    assert answer.status_code == 422
    assert "day" in answer.text
